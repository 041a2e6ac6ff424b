"""A look: type, weights, spacing, colours and motion for film and print, read from one file.

Colours are named by role, not by hue; sizes are shares of the frame height so that one look serves any
frame and the page. A look file sets every role of the four tables of `roles` and nothing else.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from pipeline.drawing.contrast import MARKS, TEXT, contrast, over
from pipeline.drawing.picture import Colour
from pipeline.drawing.roles import COLOURS, LINES, MOTION, ON_MARKS, ON_TEXT, SIZES
from pipeline.drawing.templates import templates_folder
from pipeline.errors import Fault, Faulty, Place, did_you_mean, faulty

if TYPE_CHECKING:
    from pipeline.source import Source

TABLES = {"colours": COLOURS, "sizes": SIZES, "lines": LINES, "motion": MOTION}
MOST = {"sizes": 1.0, "lines": 0.1, "motion": 10.0}
Rows = tuple[tuple[str, Colour | float], ...]


class Measured(NamedTuple):
    """The contrast of one role on another, and the least it must be."""

    role: str
    ground: str
    ratio: float
    floor: float


@dataclass(frozen=True)
class Look:
    """One look. `palette` maps roles to colours; `sizes` maps roles to shares of the frame height."""

    name: str
    palette: tuple[tuple[str, Colour], ...]
    sizes: tuple[tuple[str, float], ...]
    lines: tuple[tuple[str, float], ...]
    """Line weights as shares of the frame height."""
    motion: tuple[tuple[str, float], ...]
    """Seconds: how early things arrive, how long they leave, the hand's glide."""

    @cached_property
    def _tables(self) -> tuple[dict[str, Colour], dict[str, float], dict[str, float], dict[str, float]]:
        return dict(self.palette), dict(self.sizes), dict(self.lines), dict(self.motion)

    @cached_property
    def _hash(self) -> int:
        return hash((self.name, self.palette, self.sizes, self.lines, self.motion))

    def __hash__(self) -> int:
        return self._hash

    def __getstate__(self) -> dict[str, object]:
        """The fields alone: strings hash otherwise in another process."""
        return {name: getattr(self, name) for name in ("name", "palette", "sizes", "lines", "motion")}

    def colour(self, role: str) -> Colour:
        """The colour of a role of `COLOURS`."""
        return self._tables[0][role]

    def size(self, role: str) -> float:
        """A share of the frame height, of a role of `SIZES`."""
        return self._tables[1][role]

    def line(self, role: str) -> float:
        """A share of the frame height, of a role of `LINES`."""
        return self._tables[2][role]

    def seconds(self, role: str) -> float:
        """Seconds, of a role of `MOTION`."""
        return self._tables[3][role]


def look_names() -> tuple[str, ...]:
    """The looks that come with the program."""
    return tuple(sorted(file.stem for file in (templates_folder() / "looks").glob("*.yaml")))


def load_look(name_or_path: str | Path, place: Place | None = None) -> Look:
    """The look of that name, or the one in that file (a path ends in `.yaml`). Raises Faulty.

    `place` is where the name was asked for.
    """
    wanted = str(name_or_path)
    if wanted.endswith(".yaml"):
        return read_look(Path(wanted))
    if wanted not in look_names():
        raise faulty(
            place or Place("look"), f"no look is called {wanted!r}", did_you_mean(wanted, look_names())
        )
    return read_look(templates_folder() / "looks" / f"{wanted}.yaml")


def read_look(path: Path) -> Look:
    """Read one look file, every fault of it at once. Raises Faulty."""
    from pipeline.source import read_yaml  # who is handed a look needs no reader of YAML

    source, faults = read_yaml(path), list[Fault]()
    if not isinstance(source.data, dict):
        raise faulty(source.place(), "this is no look", f"write the tables {', '.join(TABLES)}")
    faults += _strangers(source, (), ("about", *TABLES))
    tables = {name: _table(source, name, faults) for name in TABLES}
    if faults:
        raise Faulty(faults)
    palette = tuple((role, colour) for role, colour in tables["colours"] if isinstance(colour, Colour))
    sizes, lines, motion = (_numbers(tables[name]) for name in ("sizes", "lines", "motion"))
    return Look(path.stem, palette, sizes, lines, motion)


def _numbers(table: Rows) -> tuple[tuple[str, float], ...]:
    return tuple((role, value) for role, value in table if isinstance(value, float))


def _table(source: "Source", name: str, faults: list[Fault]) -> Rows:
    """One table in the order of its roles; what is wrong with it goes to `faults`."""
    given = source.data.get(name)
    if not isinstance(given, dict):
        faults.append(
            Fault(source.place((name,)), f"the table {name!r} is missing", "write it with its roles")
        )
        return ()
    faults += _strangers(source, (name,), TABLES[name])
    rows: list[tuple[str, Colour | float]] = []
    for role, purpose in TABLES[name].items():
        place = source.place((name, role))
        if role not in given:
            faults.append(Fault(place, f"{name} lack the role {role!r}", f"add it: {purpose}"))
            continue
        value = _colour(given[role]) if name == "colours" else _number(given[role], MOST[name])
        if isinstance(value, str):
            faults.append(Fault(place, f"{role}: {given[role]!r} {value}", f"it is {purpose}"))
        else:
            rows.append((role, value))
    return tuple(rows)


def _strangers(source: "Source", path: tuple[str, ...], known: Iterable[str]) -> list[Fault]:
    table = source.data
    for step in path:
        table = table[step]
    return [
        Fault(source.place((*path, key), key=True), f"unknown key {key!r}", did_you_mean(key, known))
        for key in table
        if key not in known
    ]


def _colour(given: Any) -> Colour | str:
    """The colour, or what is wrong with it."""
    try:
        return Colour.parse(given) if isinstance(given, str) else "is no colour such as '#20252b'"
    except ValueError:
        return "is no colour such as '#20252b'"


def _number(given: Any, most: float) -> float | str:
    if isinstance(given, bool) or not isinstance(given, int | float):
        return "is no number"
    return float(given) if 0 <= given <= most else f"is not between 0 and {most:g}"


def measure(look: Look) -> tuple[Measured, ...]:
    """The contrast of every pair of roles that meet, words first."""
    wanted = [*((pair, TEXT) for pair in ON_TEXT), *((pair, MARKS) for pair in ON_MARKS)]
    ground = look.colour("ground")
    found = []
    for (top, under), floor in wanted:
        below = over(look.colour(under), ground)
        found.append(Measured(top, under, contrast(over(look.colour(top), below), below), floor))
    return tuple(found)
