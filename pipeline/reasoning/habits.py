"""What a given player tends to do: a weight for every named cost, and the measures of the hand.

A profile is a YAML file in templates/habits/ or beside a lesson. Weights that a profile leaves out keep
their hand-set defaults (`costs.CAUSES`); so a profile says only what is special about its player.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.errors import Fault, Faulty, Place, did_you_mean
from pipeline.reasoning.costs import CAUSES, NAMES, units

if TYPE_CHECKING:
    from pipeline.source import Source

MEASURES: dict[str, tuple[float, float, str]] = {
    "home_low": (1, 24, "lowest hand position of the region the player likes best, as a fret"),
    "home_high": (1, 24, "highest hand position of that region, as a fret"),
    "hand_span": (40, 200, "widest comfortable reach from index to little finger, in mm"),
    "rest": (50, 10_000, "a pause this long, in ms, frees the hand and lets the strokes begin anew"),
}
"""Name, smallest and largest value, and meaning of every measure."""
HEAVIEST = 1000.0
PRESETS = ("alternate", "economy", "sweep")
_PRESET_WEIGHTS: dict[str, dict[str, float]] = {
    "alternate": {},
    "economy": {"economy": 0.0, "outside": 0.6, "inside": 0.05},
    "sweep": {"economy": 0.0, "outside": 1.5, "inside": 1.0},
}


@dataclass(frozen=True)
class Hand:
    """The measures of a hand that grips are judged by: frets, frets, mm."""

    home_low: float
    home_high: float
    span: float


@dataclass(frozen=True)
class Habits:
    """One player's habits. `weights` follow `costs.CAUSES`; lengths are mm, times ms, positions frets."""

    name: str = "plain"
    weights: tuple[float, ...] = field(default=tuple(cause.weight for cause in CAUSES))
    home_low: float = 3.0
    home_high: float = 7.0
    hand_span: float = 100.0
    rest: float = 900.0

    @property
    def hand(self) -> Hand:
        """The measures that grips are judged by."""
        return Hand(self.home_low, self.home_high, self.hand_span)

    def weight(self, cause: str) -> float:
        """The weight of a named cost."""
        return self.weights[NAMES.index(cause)]

    def with_weights(self, **changed: float) -> "Habits":
        """The same habits with some weights changed."""
        unknown = set(changed) - set(NAMES)
        if unknown:
            raise ValueError(f"no cost is called {sorted(unknown)[0]!r}")
        return replace(
            self, weights=tuple(changed.get(n, w) for n, w in zip(NAMES, self.weights, strict=True))
        )

    def stroking(self, preset: str) -> "Habits":
        """The same habits with the strokes of a preset: `alternate`, `economy` or `sweep`."""
        return self.with_weights(**_PRESET_WEIGHTS[preset])

    @property
    def units(self) -> tuple[int, ...]:
        """The weights as integer cost units."""
        return tuple(units(weight) for weight in self.weights)

    def as_data(self) -> dict[str, Any]:
        """Plain data that `habits_from` reads back as equal habits."""
        weights = dict(zip(NAMES, self.weights, strict=True))
        return {"name": self.name, **{n: getattr(self, n) for n in MEASURES}, "weights": weights}


def habits_text(habits: Habits) -> str:
    """A profile as the text of a YAML file that reads back as equal habits, each line with its meaning."""
    lines = [f"name: {json.dumps(habits.name)}", ""]
    lines += [f"{n}: {getattr(habits, n)!r} # {meaning}" for n, (_, _, meaning) in MEASURES.items()]
    lines += ["", "weights:"]
    pairs = zip(CAUSES, habits.weights, strict=True)
    lines += [
        f"  {cause.name}: {weight!r} # a count is one {cause.unit}: {cause.meaning}"
        for cause, weight in pairs
    ]
    return "\n".join(lines) + "\n"


def habits_from(data: Any, file: str = "habits", source: "Source | None" = None) -> Habits:
    """Habits from plain data. Raises Faulty with every mistake and its place."""
    checker = _Checker(file, source)
    habits = checker.habits(data)
    if checker.faults:
        raise Faulty(checker.faults)
    return habits


def read_habits(path: str) -> Habits:
    """Habits from a YAML file. Raises Faulty."""
    from pipeline.source import read_yaml  # who is handed habits needs no reader of YAML

    source = read_yaml(Path(path))
    return habits_from(source.data, source.file, source)


class _Checker:
    """Collects every mistake in one profile."""

    def __init__(self, file: str, source: "Source | None") -> None:
        self.file, self.source, self.faults = file, source, list[Fault]()

    def fault(self, path: tuple[str, ...], wrong: str, remedy: str, key: bool = False) -> None:
        place = self.source.place(path, key) if self.source else Place(self.file)
        self.faults.append(Fault(place, wrong, remedy))

    def number(self, path: tuple[str, ...], value: Any, low: float, high: float) -> float:
        right = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        if not right or not low <= value <= high:
            self.fault(path, f"{path[-1]} is {value!r}", f"give a number from {low:g} to {high:g}")
            return low
        return float(value)

    def habits(self, data: Any) -> Habits:
        if not isinstance(data, Mapping):
            self.fault((), "a habits profile is a mapping", "write `weights:` with one weight a line")
            return Habits()
        known = {"name", "about", "strokes", "weights", *MEASURES}
        for key in set(data) - known:
            self.fault((key,), f"unknown habit {key!r}", did_you_mean(str(key), known | set(NAMES)), key=True)
        habits = self.strokes(Habits(name=str(data.get("name", "unnamed"))), data)
        measures: dict[str, Any] = {n: self.measure(n, data[n]) for n in MEASURES if n in data}
        habits = replace(habits.with_weights(**self.weights(data.get("weights", {}))), **measures)
        if habits.home_low > habits.home_high:
            self.fault(("home_low",), "home_low is above home_high", "give the lower fret first")
        return habits

    def strokes(self, habits: Habits, data: Mapping[str, Any]) -> Habits:
        preset = data.get("strokes", PRESETS[0])
        if preset not in PRESETS:
            self.fault(("strokes",), f"unknown strokes {preset!r}", did_you_mean(str(preset), PRESETS))
            return habits
        return habits.stroking(preset)

    def measure(self, name: str, value: Any) -> float:
        low, high, _ = MEASURES[name]
        return self.number((name,), value, low, high)

    def weights(self, data: Any) -> dict[str, float]:
        if not isinstance(data, Mapping):
            self.fault(("weights",), "weights are a mapping", "write one `name: number` a line")
            return {}
        for name in set(data) - set(NAMES):
            self.fault(("weights", name), f"unknown habit {name!r}", did_you_mean(name, NAMES), key=True)
        known = (n for n in NAMES if n in data)
        return {n: self.number(("weights", n), data[n], 0.0, HEAVIEST) for n in known}
