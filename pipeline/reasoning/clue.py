"""Clues: what was heard or seen of a note, turned into limits that the search keeps.

The kinds and their signs stand in `pipeline.music.clues`. A clue of strength 1 is hard: no reading that
breaks it is given. A weaker one costs the habit `clue` times its strength.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pipeline.errors import Fault, Faulty, did_you_mean
from pipeline.music.clues import KINDS
from pipeline.music.fragment import ClueMark, Fragment
from pipeline.reasoning import chain as ch
from pipeline.reasoning.costs import HARD, units
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.lattice import link_broken
from pipeline.reasoning.limits import GripLimit, Limits, StepLimit, StrokeLimit, together
from pipeline.reasoning.moments import repeated, spoken
from pipeline.reasoning.reading import Placement
from pipeline.reasoning.spot import spot
from pipeline.reasoning.states import Grip, Held
from pipeline.reasoning.stroke_costs import STROKES

KNOWN = tuple(kind.kind for kind in KINDS)
MEANING = {kind.kind: kind.meaning for kind in KINDS}


@dataclass(frozen=True)
class _Spot:
    """Where a clue stands: its moment, the note's index in that moment, and what breaking it costs."""

    fragment: Fragment
    clue: ClueMark
    moment: int
    index: int
    penalty: int

    def grip(self, kind: str, low: int = 0, high: int = 0) -> Limits:
        limit = GripLimit(self.index, kind, low, high, self.penalty)  # type: ignore[arg-type]
        return Limits(grips=((self.moment, limit),))

    def step(self, column: int) -> Limits:
        if self.moment == 0:
            raise _Unfit("no note is before it", "move the clue to the note that it leads to")
        return Limits(steps=(StepLimit(self.moment, column, self.penalty),))

    @property
    def repeated(self) -> bool:
        """Whether the moment has the pitches of the one before."""
        return repeated(self.fragment, self.moment)


class _Unfit(Exception):
    """A clue that cannot mean anything where it stands: what is wrong and the remedy."""


def _number(spot: _Spot, most: int, what: str) -> int:
    text = spot.clue.value.strip()
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= most:
        raise _Unfit(f"its value {text!r} is no {what}", f"write a number from 1 to {most}")
    return int(text)


def _string(spot: _Spot) -> Limits:
    string = _number(spot, spot.fragment.guitar.string_count, "string")
    return spot.grip("string", string, string)


def _same_pitch(spot: _Spot) -> Limits:
    if not spot.repeated:
        raise _Unfit("the note before has another pitch", "put it on a note that repeats the pitch before it")
    other = spot.step(ch.OTHER_STRING)
    return other + _string(spot) if spot.clue.value else other


def _slip(spot: _Spot) -> Limits:
    return spot.step(ch.SLIPPED if spot.repeated else ch.MOVED)


def _noise(spot: _Spot) -> Limits:
    return _string(spot) if spot.clue.value else spot.step(ch.MOVED)


def _seen(spot: _Spot) -> Limits:
    low, dash, high = spot.clue.value.partition("-")
    try:
        bounds = int(low), int(high if dash else low)
    except ValueError:
        raise _Unfit(f"its value {spot.clue.value!r} is no fret", "write a fret, or two as in 5-8") from None
    if not 1 <= bounds[0] <= bounds[1] <= spot.fragment.guitar.highest_fret:
        raise _Unfit(
            f"its value {spot.clue.value!r} is not on the neck", "write frets of this neck, low first"
        )
    return spot.grip("position", *bounds)


def _stroke(stroke: int) -> Callable[[_Spot], Limits]:
    return lambda spot: Limits(strokes=(StrokeLimit(spot.moment, STROKES[stroke], spot.penalty),))


_COMPILED: dict[str, Callable[[_Spot], Limits]] = {
    "slurred": lambda spot: spot.step(ch.SAME_STRING),
    "slide": lambda spot: spot.step(ch.SLID),
    "slip": _slip,
    "open": lambda spot: spot.grip("open"),
    "same-pitch": _same_pitch,
    "bend": lambda spot: spot.grip("fretted"),
    "natural": lambda spot: spot.grip("open"),
    "pinched": lambda spot: Limits(),
    "down": _stroke(0),
    "up": _stroke(1),
    "noise": _noise,
    "seen": _seen,
}


def clue_limits(fragment: Fragment, habits: Habits) -> tuple[Limits, ...]:
    """The limits that each clue of a fragment means. Raises Faulty with every clue that fits nowhere."""
    where = {i: (m, group.index(i)) for m, group in enumerate(fragment.chords) for i in group}
    found, faults = list[Limits](), list[Fault]()
    for clue in fragment.clues:
        try:
            found.append(_compiled(fragment, clue, where, habits))
        except _Unfit as unfit:
            wrong, remedy = unfit.args
            faults.append(Fault(spot(fragment, clue.note), f"{described(fragment, clue)}: {wrong}", remedy))
    if faults:
        raise Faulty(faults)
    return tuple(found)


def _compiled(
    fragment: Fragment, clue: ClueMark, where: dict[int, tuple[int, int]], habits: Habits
) -> Limits:
    if clue.kind not in _COMPILED:
        raise _Unfit(f"no clue is called {clue.kind!r}", did_you_mean(clue.kind, KNOWN))
    if clue.note not in where:
        raise _Unfit("there is no such note", f"the fragment has {len(fragment.notes)} notes")
    if not 0 < clue.strength <= 1:
        raise _Unfit(f"its strength is {clue.strength:g}", "give more than 0 and at most 1 (1 is hard)")
    moment, index = where[clue.note]
    penalty = HARD if clue.strength == 1 else units(habits.weight("clue") * clue.strength)
    return _COMPILED[clue.kind](_Spot(fragment, clue, moment, index, penalty))


def described(fragment: Fragment, clue: ClueMark) -> str:
    """A clue in words: `slide on note 5 (C4)`."""
    value = f" {clue.value}" if clue.value else ""
    known = 0 <= clue.note < len(fragment.notes)
    return f"{clue.kind}{value} on {spoken(fragment, clue.note) if known else f'note {clue.note + 1}'}"


def kept(limits: Limits, fragment: Fragment, places: Sequence[Placement]) -> bool:
    """Whether placements keep every limit of a clue."""

    def grip(moment: int) -> Grip:
        spots = [places[i] for i in fragment.chords[moment]]
        return Grip(tuple(Held(p.string, p.fret, p.finger) for p in spots), spots[0].position)

    grips = all(limit.met(grip(moment)) for moment, limit in limits.grips)
    steps = all(not link_broken(grip(s.moment - 1), grip(s.moment), s.column) for s in limits.steps)
    return grips and steps and all(_stroked(s, fragment, places) for s in limits.strokes)


def _stroked(limit: StrokeLimit, fragment: Fragment, places: Sequence[Placement]) -> bool:
    return any(places[i].stroke == limit.stroke for i in fragment.chords[limit.moment])


def soft_costs(fragment: Fragment, habits: Habits, broken: Sequence[int]) -> list[tuple[int, int, str]]:
    """(note, integer cost, words) of every broken soft clue."""
    costs = []
    for index in broken:
        clue = fragment.clues[index]
        amount = units(habits.weight("clue") * clue.strength)
        costs.append((clue.note, amount, f"{described(fragment, clue)} is not met"))
    return costs


def all_limits(limits: Sequence[Limits], but: Sequence[int] = ()) -> Limits:
    """The limits of all clues, some left out."""
    return together(limit for i, limit in enumerate(limits) if i not in set(but))
