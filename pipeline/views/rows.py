"""A fragment laid out in rows: where they stand on the stage, how many at once, what may stand over each."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Protocol

from pipeline.drawing.picture import Mark
from pipeline.music.fragment import Fragment
from pipeline.timing import Moments
from pipeline.views.brush import Brush
from pipeline.views.columns import Sheet, make_sheet, pieces_of
from pipeline.views.lanes import LANE_HEIGHTS, Measures, Wants, full_height, measure_strip, wanted_lanes
from pipeline.views.stage import Stage
from pipeline.views.strip import System, broken, fill, prefix_width

COMFORT = 1.02
"""A row of several must leave at least this string gap, in small type sizes."""
MOST_ROWS = 12


class Over(Protocol):
    """What stands over each row: its marks lie above y = 0, no higher than `height`."""

    @property
    def height(self) -> float:
        """Room over a row, in pixels."""
        ...

    def prefix(self, brush: Brush, system: System) -> tuple[Mark, ...]:
        """What a row starts with."""
        ...

    def standing(self, brush: Brush, system: System, piece: int) -> tuple[Mark, ...]:
        """What stands over a piece of a row."""
        ...

    def sounding(self, brush: Brush, system: System, index: int) -> tuple[Mark, ...]:
        """How a note is lit there."""
        ...


@dataclass(frozen=True, eq=False)
class Laid:
    """A fragment laid out on a stage: its rows, where they stand, how many at once."""

    brush: Brush
    systems: tuple[System, ...]
    left: float
    top: float
    rows: int
    cursor: bool = True
    over: Over | None = None

    @property
    def stage(self) -> Stage:
        return self.brush.stage

    @property
    def head(self) -> float:
        """Height of what stands over a row."""
        return self.over.height if self.over else 0.0

    def system_at(self, beat: Fraction) -> int:
        """The row that a beat stands in."""
        return max(0, self._starts.until(beat) - 1)

    @cached_property
    def _starts(self) -> Moments:
        return Moments(tuple(system.start for system in self.systems))

    def slot_y(self, slot: int) -> float:
        """The top of the strip of the row in a slot."""
        each = self.head + self.brush.sheet.sizes.height + between(self.stage)
        return self.top + self.head + slot * each


def side(stage: Stage) -> float:
    """Free room left and right."""
    return stage.size("space") * 0.8


def edge(stage: Stage) -> float:
    """Free room at the top and bottom."""
    return stage.size("gap")


def between(stage: Stage) -> float:
    """Free room between rows."""
    return stage.size("space") * 0.5


def shown_measures(stage: Stage, fragment: Fragment) -> range:
    """The measures that some pass of the stage plays; all where nothing is played."""
    touched = [
        i
        for i, m in enumerate(fragment.measures)
        if any(one.beats.start < m.end and m.start < one.beats.end for one in stage.passes)
    ]
    return range(touched[0], touched[-1] + 1) if touched else range(len(fragment.measures))


def strip_sizes(wants: Wants, stage: Stage, fragment: Fragment, room: float) -> Measures:
    """The strip's measures in a room, at the look's sizes at most."""
    small = max(stage.size("small"), stage.smallest_text)
    return measure_strip(fragment, wants, room, small, stage.size("string-gap"), stage.size("digit"))


def least_strip(wants: Wants, stage: Stage, fragment: Fragment) -> float:
    """The least height of a view with one row: the strings at their tightest, without lanes."""
    return strip_sizes(wants, stage, fragment, 0.0).height + 2 * edge(stage)


def least_signs(wants: Wants, stage: Stage, fragment: Fragment) -> float:
    """The height of the lanes that say how each note is played: strokes, letters and bends."""
    over, _ = wanted_lanes(fragment, wants)
    small = max(stage.size("small"), stage.smallest_text)
    return small * sum(LANE_HEIGHTS[name] for lane in over for name in lane if name in ("attack", "bend"))


def full_strip(wants: Wants, stage: Stage, fragment: Fragment) -> float:
    """The height of a view with one row at its tightest that leaves no lane out."""
    return full_height(fragment, wants, stage.small_type) + 2 * edge(stage)


def rows_of(sheet: Sheet, measures: range, width: float, page: bool) -> list[System]:
    """Rows of one width; on a page that is read and not played the last one may be short."""
    pieces = pieces_of(sheet, measures, width - prefix_width(sheet))
    rows = broken(sheet, pieces, width)
    longest = [fill(sheet, row, width) for row in rows[:-1]]
    last = fill(sheet, rows[-1], width, 1.7 if page and len(rows) > 2 else 4.0)
    return [*longest, last]


def lay_rows(stage: Stage, fragment: Fragment, wants: Wants, wanted: int, cursor: bool,
             over: Over | None = None) -> Laid:  # fmt: skip
    """Lay a fragment out in rows: `wanted` at once, or as many as fit where that is 0."""
    width, room = stage.width - 2 * side(stage), stage.height - 2 * edge(stage)
    head = over.height if over else 0.0
    for rows in range(wanted or MOST_ROWS, 0, -1):
        each = (room - (rows - 1) * between(stage)) / rows - head
        sizes = strip_sizes(wants, stage, fragment, each)
        easy = sizes.gap >= COMFORT * sizes.small and not sizes.left_out
        fits = sizes.height <= each and (easy or wanted)
        if not fits and rows > 1:
            continue
        sheet = make_sheet(fragment, wants, sizes)
        systems = rows_of(sheet, shown_measures(stage, fragment), width, not stage.passes)
        if len(systems) >= rows or rows == 1:
            break
    used = rows * (head + sizes.height) + (rows - 1) * between(stage)
    top = (stage.height - used) / 2
    return Laid(Brush(sheet, stage), tuple(systems), side(stage), top, rows, cursor, over)
