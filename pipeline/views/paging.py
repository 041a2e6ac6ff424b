"""Rows of a strip in step with the music: where they stand, what each shows, how a page turns.

A row that has been played gives its place to the row that is due there, so that what comes next is always in
sight and nothing moves but the cursor. Something (a staff) may stand over each row.
"""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Protocol

from pipeline.drawing.outline import rounded
from pipeline.drawing.picture import Box, Group, Mark, Path, translate
from pipeline.music.fragment import Fragment
from pipeline.views.bars import piece_group, prefix_group
from pipeline.views.brush import Brush
from pipeline.views.columns import Sheet, make_sheet, pieces_of
from pipeline.views.digits import State, digit_group
from pipeline.views.glide import eased
from pipeline.views.lanes import Measures, Wants, measure_strip
from pipeline.views.sounding import Moment, moment_at
from pipeline.views.stage import Stage
from pipeline.views.strip import System, broken, fill, prefix_width
from pipeline.views.techniques import piece_notes

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
        starts = [system.start for system in self.systems]
        return max(0, bisect_right(starts, beat) - 1)

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
        fits = sizes.height <= each and (sizes.gap >= COMFORT * sizes.small or wanted)
        if not fits and rows > 1:
            continue
        sheet = make_sheet(fragment, wants, sizes)
        systems = rows_of(sheet, shown_measures(stage, fragment), width, not stage.passes)
        if len(systems) >= rows or rows == 1:
            break
    used = rows * (head + sizes.height) + (rows - 1) * between(stage)
    top = (stage.height - used) / 2
    return Laid(Brush(sheet, stage), tuple(systems), side(stage), top, rows, cursor, over)


# what stands -------------------------------------------------------------------------------------------


@lru_cache(maxsize=512)
def standing(laid: Laid, system: int, piece: int) -> Group:
    """What never changes of a piece."""
    row = laid.systems[system]
    group = piece_group(laid.brush, row, row.placed[piece])
    if laid.over is None:
        return group
    return Group((*laid.over.standing(laid.brush, row, piece), *group.marks), name=group.name)


@lru_cache(maxsize=64)
def prefix(laid: Laid, system: int) -> Group:
    """What a row starts with."""
    group = prefix_group(laid.brush, laid.systems[system])
    if laid.over is None:
        return group
    return Group((*laid.over.prefix(laid.brush, laid.systems[system]), *group.marks), name=group.name)


@lru_cache(maxsize=8192)
def digit(laid: Laid, system: int, index: int, state: State) -> Group:
    """A note in a state."""
    group = digit_group(laid.brush, laid.systems[system], index, state)
    if laid.over is None or state != "sounding":
        return group
    return Group(
        (*laid.over.sounding(laid.brush, laid.systems[system], index), *group.marks), name=group.name
    )


def state_of(laid: Laid, moment: Moment, index: int) -> State:
    """The state of a note at a moment."""
    if index in moment.sounding:
        return "sounding"
    if index in moment.coming:
        return "next"
    return "past" if moment.past(laid.brush.line, index) else "rest"


# paged -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Shown:
    """Pieces `first` to `last` of a system in a slot, at an opacity."""

    system: int
    slot: int
    first: int
    last: int
    opacity: float


@lru_cache(maxsize=4096)
def at_place(group: Group, x: float, y: float, opacity: float) -> Group:
    """A group moved to its place."""
    return Group((group,), (1.0, 0.0, 0.0, 1.0, x, y), opacity, name=group.name)


def paged(laid: Laid, t: Fraction) -> list[Mark]:
    """The rows at scene second t."""
    moment = moment_at(laid.stage, t)
    back: list[Mark] = []
    front: list[Mark] = []
    for shown in _on_page(laid, moment, t):
        system, y = laid.systems[shown.system], laid.slot_y(shown.slot)
        back.append(at_place(prefix(laid, shown.system), laid.left, y, 1.0))
        for piece in range(shown.first, shown.last + 1):
            back.append(at_place(standing(laid, shown.system, piece), laid.left, y, shown.opacity))
            for index in piece_notes(system.placed[piece]):
                state = state_of(laid, moment, index)
                label = digit(laid, shown.system, index, state)
                opacity = 1.0 if state == "sounding" else shown.opacity
                front.append(at_place(label, laid.left, y, opacity))
    cursor = _paged_cursor(laid, moment, t) if laid.cursor else []
    lit = [mark for mark in front if isinstance(mark, Group) and mark.name.endswith("sounding")]
    return [*cursor, *back, *(m for m in front if m not in lit), *lit]


def _since(laid: Laid, beat: Fraction, t: Fraction) -> float:
    """Seconds since the pass went by a beat."""
    one = laid.stage.pass_at(t)
    return float(t - one.moments(beat)) if one is not None else 1e9


def _fade(laid: Laid, seconds: float) -> float:
    whole = laid.stage.look.seconds("page")
    return 0.5 + 0.5 * eased(2.5 * seconds / whole) if whole > 0 else 1.0


def _on_page(laid: Laid, moment: Moment, t: Fraction) -> list[_Shown]:
    """What each slot shows. A row that has been played gives its slot to the row that is due there."""
    beat = moment.beat if moment.beat is not None else laid.systems[0].start
    now = laid.system_at(beat)
    if laid.rows == 1:
        return _single_row(laid, now, beat, t)
    found = []
    for slot in range(laid.rows):
        due = now + (slot - now) % laid.rows
        if due >= len(laid.systems):
            due -= laid.rows
        if not 0 <= due < len(laid.systems):
            continue
        fresh = due == now - 1 + laid.rows and now > 0 and due >= laid.rows
        opacity = _fade(laid, _since(laid, laid.systems[now].start, t)) if fresh else 1.0
        found.append(_Shown(due, slot, 0, len(laid.systems[due].placed) - 1, opacity))
    return found


def _single_row(laid: Laid, now: int, beat: Fraction, t: Fraction) -> list[_Shown]:
    """One row: while its last bar plays, the bars before it give way to the first bars of the next row."""
    system, last = laid.systems[now], len(laid.systems[now].placed) - 1
    start = system.placed[last].piece.start
    after = laid.systems[now + 1] if now + 1 < len(laid.systems) else None
    if after is None or last == 0 or beat < start:
        ahead = _ahead(laid, now - 1)
        if ahead == last + 1 or now == 0:
            return [_Shown(now, 0, 0, last, 1.0)]
        opacity = _fade(laid, _since(laid, system.start, t))
        early = [_Shown(now, 0, 0, ahead - 1, 1.0)] if ahead else []
        return [*early, _Shown(now, 0, ahead, last, opacity)]
    ahead, opacity = _ahead(laid, now), _fade(laid, _since(laid, start, t))
    coming = [_Shown(now + 1, 0, 0, ahead - 1, opacity)] if ahead else []
    leaving = [] if ahead else [_Shown(now, 0, 0, last - 1, 1.0)]
    return [*leaving, _Shown(now, 0, last, last, 1.0), *coming]


def _ahead(laid: Laid, system: int) -> int:
    """How many bars of the next row fit before the last bar of a row."""
    if system < 0 or system + 1 >= len(laid.systems) or len(laid.systems[system].placed) < 2:
        return 0
    room = laid.systems[system].placed[-1].x
    bars = laid.systems[system + 1].placed
    return sum(1 for placed in bars if placed.right <= room + 0.5)


def band(laid: Laid, x: float, y: float) -> Group:
    """The cursor with its middle at x."""
    return translate((_cursor_shape(laid),), x, y, name="cursor")


@lru_cache(maxsize=32)
def _cursor_shape(laid: Laid) -> Group:
    """A soft band as high as the row, with a thin line in it; its middle is at x = 0."""
    sizes, brush = laid.brush.sheet.sizes, laid.brush
    width, weight = sizes.digit * 0.92, brush.weight("cursor")
    top = -laid.head - sizes.small * 0.1
    band = Box(-width / 2, top, width, sizes.height + sizes.small * 0.1 - top)
    mark = Box(
        -weight / 2, sizes.first - sizes.gap * 0.42, weight, sizes.last - sizes.first + sizes.gap * 0.84
    )
    return Group((
        Path(rounded(band, width * 0.3), brush.colour("accent").with_alpha(0.17), name="cursor band"),
        Path(rounded(mark, weight / 2), brush.colour("accent").with_alpha(0.85), name="cursor line"),
    ))  # fmt: skip


def approach(stage: Stage, t: Fraction) -> float:
    """How far the cursor still is from the first note of the pass to come: 1 a click before, 0 on it.

    Without a count-in it comes as early as the look says things arrive.
    """
    one = stage.pass_at(t)
    if one is None or t >= one.span.start:
        return 0.0
    before = [click for click in stage.clicks if click < one.span.start]
    early = (
        one.span.start - before[-1]
        if before
        else Fraction(stage.look.seconds("arrive")).limit_denominator(999)
    )
    return min(1.0, float((one.span.start - t) / early)) if early > 0 else 0.0


def _paged_cursor(laid: Laid, moment: Moment, t: Fraction) -> list[Mark]:
    if moment.beat is None:
        return []
    now = laid.system_at(moment.beat)
    x = laid.systems[now].glide(float(moment.beat))
    x -= approach(laid.stage, t) * max(0.0, x - laid.systems[now].opening)
    return [band(laid, laid.left + x, laid.slot_y(now % laid.rows))]
