"""What an inspection found, as a table of figures and as faults with their places in the script."""

import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from pipeline.drawing.contrast import MARKS, TEXT
from pipeline.drawing.flashes import MOST_CHANGES
from pipeline.drawing.picture import Box
from pipeline.drawing.roles import SMALLEST_TEXT
from pipeline.errors import Fault, Place
from pipeline.lesson.check import read_checked
from pipeline.lesson.inspection import LEAST_APART, Broken, Inspection, broken, inspect
from pipeline.lesson.proof import At
from pipeline.lesson.resolve import resolve
from pipeline.lesson.scene import Scene
from pipeline.lesson.script import Script

COLUMNS = ("scene", "smallest", "words", "marks", "flashes", "overlaps", "missing", "frame", "safe", "sight")
UNITS = (
    "",
    "of height",
    "contrast",
    "contrast",
    "a second",
    "of words",
    "letters",
    "px free",
    "px free",
    "L*a*b*",
)

LIMITS = (
    "limit",
    f"1/{1 / SMALLEST_TEXT:.0f}",
    f"{TEXT:g}",
    f"{MARKS:g}",
    f"{MOST_CHANGES / 2:g}",
    "0",
    "0",
    "0",
    "0",
    f"{LEAST_APART:.0f}",
)
"""Where flashes and what follows in words are the most that is good, other figures the least."""

Tell = Callable[[str, float], None]
"""Hears the name of the scene that is looked at, and the seconds that are probably left."""


class Inspected(NamedTuple):
    """The inspections of one script and what breaks a rule."""

    found: tuple[Inspection, ...]
    faults: tuple[Fault, ...]


def inspect_script(path: Path, tell: Tell, allow_outside: bool = False) -> Inspected:
    """Look at every picture of a script. Raises Faulty where the script itself has faults."""
    checked = read_checked(path, allow_outside)
    lesson = resolve(checked)
    total, done, began = sum(scene.frames for scene in lesson.scenes), 0, time.monotonic()
    found, faults = list[Inspection](), list[Fault]()
    for at, scene in _places(checked.script, {scene.id: scene for scene in lesson.scenes}):
        tell(scene.id, (time.monotonic() - began) / done * (total - done) if done else 0.0)
        one = inspect(scene)
        found.append(one)
        faults += (_fault(checked.script, at, scene, rule) for rule in broken(one))
        done += scene.frames
    return Inspected(tuple(found), tuple(faults))


def table(found: Sequence[Inspection]) -> Iterator[str]:
    """The worst figures of every scene, aligned under their names, units and limits."""
    rows = [COLUMNS, UNITS, LIMITS, *(_figures(one) for one in found)]
    widths = [max(len(row[place]) for row in rows) for place in range(len(COLUMNS))]
    for row in rows:
        name, *figures = (
            cell.ljust(width) if not place else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        yield "  ".join((name, *figures)).rstrip()


def _figures(one: Inspection) -> tuple[str, ...]:
    return (
        one.scene,
        f"1/{1 / one.text.value:.1f}" if one.text.label else "none",
        _ratio(one.words.value),
        _ratio(one.marks.value),
        f"{one.flashes.flashes:g}",
        f"{len(one.overlapping)}",
        one.missing or "0",
        _ratio(one.frame.value),
        _ratio(one.safe.value),
        f"{one.sight.distance:.0f}",
    )


def _ratio(value: float) -> str:
    return "none" if value == float("inf") else f"{value:.1f}"


def _places(script: Script, scenes: dict[str, Scene]) -> Iterator[tuple[At, Scene]]:
    """Every scene with its place in the script's data."""
    for number, segment in enumerate(script.episode.segments):
        for index, keys in enumerate(segment.scenes):
            yield ("segments", number, "scenes", index), scenes[keys.id]


def _fault(script: Script, at: At, scene: Scene, rule: Broken) -> Fault:
    """A broken rule as a fault of the view it is seen in, else of the scene."""
    where = _view_at(scene, rule.box) if rule.box is not None else None
    place: Place = script.source.place((*at, "id") if where is None else (*at, "views", where))
    return Fault(place, f"scene {scene.id}: {rule.wrong}", rule.remedy)


def _view_at(scene: Scene, box: Box) -> int | None:
    """The view in whose room the middle of a box lies."""
    x, y = box.centre
    for number, one in enumerate(scene.composition.placed):
        if one.box.x <= x <= one.box.right and one.box.y <= y <= one.box.bottom:
            return number
    return None
