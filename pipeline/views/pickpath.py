"""The way of the pick: over which strings each stroke goes, and how it gets to the next one.

x counts in pixels along a line of columns, one a moment, y from the top. A stroke is a straight line through
its strings; between strokes the pick travels in the air.
"""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from pipeline.drawing.outline import Pen, line
from pipeline.drawing.picture import Outline
from pipeline.music.note import Note
from pipeline.reasoning.stroke_costs import STROKES, crossing
from pipeline.views.glide import Glide, eased, glide_through
from pipeline.views.sounding import Line

REACH = 0.24
"""Half the width of a stroke, as a share of the distance of two columns."""
BEYOND = 0.48
"""How far a stroke goes past its strings, in string gaps."""


@dataclass(frozen=True)
class Stop:
    """A column: its notes, and from which to which y its stroke goes (None where it takes no stroke)."""

    beat: Fraction
    notes: tuple[int, ...]
    x: float
    stroke: str | None
    from_y: float
    to_y: float
    change: str = ""
    """What the change of string from the stroke before is: `inside`, `outside`, `onward` or nothing."""
    since: float = 0.0
    """The x of the column before: the pick rests until there, and then goes over to this stroke."""


@dataclass(frozen=True)
class Way:
    """All stops of a line."""

    stops: tuple[Stop, ...]
    step: float

    @cached_property
    def strokes(self) -> tuple[Stop, ...]:
        return tuple(stop for stop in self.stops if stop.stroke)

    @cached_property
    def glide(self) -> Glide:
        """From beats to x."""
        last = self.stops[-1]
        points = [(float(stop.beat), stop.x) for stop in self.stops]
        return glide_through([*points, (float(last.beat) + 1.0, last.x + self.step * 0.5)])

    def y_at(self, x: float) -> float:
        """Where the pick is over x."""
        strokes, half = self.strokes, self.step * REACH
        if not strokes:
            return 0.0
        place = bisect_right([stop.x - half for stop in strokes], x) - 1
        if place < 0:
            return strokes[0].from_y
        now = strokes[place]
        if x <= now.x + half:
            return now.from_y + (now.to_y - now.from_y) * (x - now.x + half) / (2 * half)
        if place + 1 == len(strokes):
            return now.to_y
        after = strokes[place + 1]
        x0, x1 = self._going(after)
        return now.to_y + (after.from_y - now.to_y) * eased((x - x0) / (x1 - x0))

    def stroke_line(self, stop: Stop) -> Outline:
        half = self.step * REACH
        return line(stop.x - half, stop.from_y, stop.x + half, stop.to_y)

    def travel(self, before: Stop, after: Stop) -> Outline:
        """The way in the air from one stroke to the next: level past notes that take none, over at the last.

        A level way lies between two strings, so it crosses no number.
        """
        x0, x1 = self._going(after)
        third = (x1 - x0) / 3
        pen = Pen().move(before.x + self.step * REACH, before.to_y).line(x0, before.to_y)
        return pen.cubic(x0 + third, before.to_y, x1 - third, after.from_y, x1, after.from_y).outline

    def _going(self, after: Stop) -> tuple[float, float]:
        """From where to where the pick goes over to a stroke: within the step that leads to it."""
        half = self.step * REACH
        return after.since + half, after.x - half


def change_of(before: Note, after: Note) -> str:
    """What a change between two stroked notes is called; nothing where the string stays."""
    if before.string == after.string or not (before.stroke and after.stroke):
        return ""
    turn = 1 if (after.string or 0) < (before.string or 0) else 2
    strokes = STROKES.index(before.stroke), STROKES.index(after.stroke)
    label = crossing(turn, *strokes)
    if label:
        return label
    onward = (turn == 1) == (after.stroke == "down")
    return "onward" if onward else ""


def changes_of(notes: tuple[Note, ...], columns: list[tuple[int, ...]]) -> list[str]:
    """What the change of string to each column's stroke is called; nothing where there is none."""
    found: list[str] = []
    before: Note | None = None
    for column in columns:
        stroked = stroked_of(notes, column)
        found.append(change_of(before, stroked) if before and stroked else "")
        before = stroked or before
    return found


def stroked_of(notes: tuple[Note, ...], column: tuple[int, ...]) -> Note | None:
    """The note of a column that says how it is stroked."""
    return next((notes[i] for i in column if notes[i].stroke and notes[i].picked), None)


def way_of(notes: tuple[Note, ...], line_: Line, columns: list[tuple[int, ...]], step: float,
           ys: dict[int, float], gap: float) -> Way:  # fmt: skip
    """The way over columns of notes. `ys` are the strings' places; a down-stroke goes to thinner strings."""
    stops: list[Stop] = []
    for place, (column, change) in enumerate(zip(columns, changes_of(notes, columns), strict=True)):
        x, stroked = place * step, stroked_of(notes, column)
        stroke = stroked.stroke if stroked else None
        reach = sorted(ys[notes[i].string or 1] for i in column)
        thin_first = ys[min(ys)] < ys[max(ys)]
        up = (stroke == "up") != thin_first
        from_y, to_y = (reach[-1] + gap * BEYOND, reach[0] - gap * BEYOND) if up else (
            reach[0] - gap * BEYOND, reach[-1] + gap * BEYOND)  # fmt: skip
        since = max(0.0, x - step)
        stops.append(Stop(line_.starts[column[0]], column, x, stroke, from_y, to_y, change, since))
    return Way(tuple(stops), step)
