"""The tab view: frets on strings in time, paged or scrolling, with a cursor that is exact to the note."""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from pipeline.drawing.outline import rounded
from pipeline.drawing.picture import Box, Group, Mark, Path, Picture, translate
from pipeline.music.fragment import Fragment
from pipeline.views.bars import piece_group, prefix_group
from pipeline.views.brush import Brush, panel
from pipeline.views.digits import State, digit_group
from pipeline.views.glide import eased
from pipeline.views.sounding import Moment, moment_at, sounding_pass
from pipeline.views.stage import Stage
from pipeline.views.strip import (
    Measures,
    Sheet,
    System,
    Wants,
    broken,
    fill,
    make_sheet,
    measure_strip,
    pieces_of,
    place,
    prefix_width,
)
from pipeline.views.techniques import piece_notes

CURSOR_AT = 0.30
"""Where the cursor of a scrolling strip stands, as a share of the strip's width."""
SCROLL_STRETCH = 1.2
COMFORT = 1.02
"""A row of several must leave at least this string gap, in small type sizes."""


@dataclass(frozen=True)
class Tab:
    """Tab of the scene's fragment, in step with the sound.

    strip      `paged` (stands still, turns at bars) or `scrolling` (moves under a fixed cursor)
    rows       how many rows a page has; 0 takes as many as the room allows
    strokes    pick strokes over the strings
    fingers    fretting fingers under the strings
    rhythm     note values under the strings
    numbers    bar numbers
    tuning     the strings' letters
    cursor     the band that moves with the music
    panel      a ground of the look's colour under the strip
    """

    strip: Literal["paged", "scrolling"] = "paged"
    rows: int = 0
    strokes: bool = True
    fingers: bool = True
    rhythm: bool = True
    numbers: bool = True
    tuning: bool = True
    cursor: bool = True
    panel: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The tab at scene second t."""
        ground: list[Mark] = [panel(stage)] if self.panel else []
        laid = lay(self, stage)
        if laid is not None:
            ground.extend(_scrolled(laid, t) if self.strip == "scrolling" else _paged(laid, t))
        return Picture(float(stage.width), float(stage.height), tuple(ground))

    @property
    def wants(self) -> Wants:
        return Wants(self.strokes, self.fingers, self.rhythm, self.numbers, self.tuning)

    def height(self, stage: Stage) -> float:
        """The height in pixels that shows the whole fragment in rows at the look's own sizes."""
        if stage.fragment is None or not stage.fragment.measures:
            return 0.0
        sizes = _sizes(self, stage, stage.fragment, 1e9)
        sheet = make_sheet(stage.fragment, self.wants, sizes)
        width = stage.width - 2 * _side(stage)
        rows = len(_rows(sheet, _shown(stage, stage.fragment), width, not stage.passes))
        return rows * sizes.height + (rows - 1) * _between(stage) + 2 * _edge(stage)


def rows_at_rest(view: Tab, stage: Stage) -> tuple[tuple[Picture, Fraction, Fraction], ...]:
    """Every row of the fragment as a picture of its own, nothing lit, with its first and last beat.

    For the page: a printer sets the rows below one another and may break between them.
    """
    laid = lay(view, stage)
    if laid is None:
        return ()
    height = laid.brush.sheet.sizes.height + 2 * _edge(stage)
    rows = []
    for number, system in enumerate(laid.systems):
        marks = [_at_place(_prefix(laid, number), laid.left, _edge(stage), 1.0)]
        for piece, placed in enumerate(system.placed):
            marks.append(_at_place(_standing(laid, number, piece), laid.left, _edge(stage), 1.0))
            digits = (_digit(laid, number, index, "rest") for index in piece_notes(placed))
            marks.extend(_at_place(digit, laid.left, _edge(stage), 1.0) for digit in digits)
        picture = Picture(float(stage.width), height, tuple(marks))
        rows.append((picture, system.start, system.placed[-1].piece.end))
    return tuple(rows)


@dataclass(frozen=True, eq=False)
class Laid:
    """A fragment laid out on a stage: its rows, where they stand, how many at once."""

    view: Tab
    brush: Brush
    systems: tuple[System, ...]
    left: float
    top: float
    rows: int

    @property
    def stage(self) -> Stage:
        return self.brush.stage

    def system_at(self, beat: Fraction) -> int:
        starts = [system.start for system in self.systems]
        return max(0, bisect_right(starts, beat) - 1)

    def slot_y(self, slot: int) -> float:
        return self.top + slot * (self.brush.sheet.sizes.height + _between(self.stage))


def _side(stage: Stage) -> float:
    return stage.size("space") * 0.8


def _edge(stage: Stage) -> float:
    return stage.size("gap")


def _between(stage: Stage) -> float:
    return stage.size("space") * 0.5


def _shown(stage: Stage, fragment: Fragment) -> range:
    """The measures that some pass of the stage plays; all where nothing is played."""
    touched = [
        i
        for i, m in enumerate(fragment.measures)
        if any(one.beats.start < m.end and m.start < one.beats.end for one in stage.passes)
    ]
    return range(touched[0], touched[-1] + 1) if touched else range(len(fragment.measures))


def _sizes(view: Tab, stage: Stage, fragment: Fragment, room: float) -> Measures:
    small = max(stage.size("small"), stage.smallest_text)
    return measure_strip(fragment, view.wants, room, small, stage.size("string-gap"), stage.size("digit"))


def _rows(sheet: Sheet, measures: range, width: float, page: bool) -> list[System]:
    """Rows of one width; on a page that is read and not played the last one may be short."""
    pieces = pieces_of(sheet, measures, width - prefix_width(sheet))
    rows = broken(sheet, pieces, width)
    longest = [fill(sheet, row, width) for row in rows[:-1]]
    last = fill(sheet, rows[-1], width, 1.7 if page and len(rows) > 2 else 4.0)
    return [*longest, last]


@lru_cache(maxsize=32)
def lay(view: Tab, stage: Stage) -> Laid | None:
    """Lay the stage's fragment out; None where there is none."""
    fragment = stage.fragment
    if fragment is None or not fragment.measures:
        return None
    if view.strip == "scrolling":
        return _lay_scrolling(view, stage, fragment)
    return _lay_paged(view, stage, fragment)


def _lay_paged(view: Tab, stage: Stage, fragment: Fragment) -> Laid:
    width, room = stage.width - 2 * _side(stage), stage.height - 2 * _edge(stage)
    measures = _shown(stage, fragment)
    most = view.rows or 12
    for rows in range(most, 0, -1):
        each = (room - (rows - 1) * _between(stage)) / rows
        sizes = _sizes(view, stage, fragment, each)
        fits = sizes.height <= each and (sizes.gap >= COMFORT * sizes.small or view.rows)
        if not fits and rows > 1:
            continue
        sheet = make_sheet(fragment, view.wants, sizes)
        systems = _rows(sheet, measures, width, not stage.passes)
        if len(systems) >= rows or rows == 1:
            break
    used = rows * sizes.height + (rows - 1) * _between(stage)
    top = (stage.height - used) / 2
    return Laid(view, Brush(sheet, stage), tuple(systems), _side(stage), top, rows)


def _lay_scrolling(view: Tab, stage: Stage, fragment: Fragment) -> Laid:
    sizes = _sizes(view, stage, fragment, stage.height - 2 * _edge(stage))
    sheet = make_sheet(fragment, view.wants, sizes)
    pieces = pieces_of(sheet, _shown(stage, fragment), 1e9)
    system = place(sheet, pieces, SCROLL_STRETCH)
    return Laid(view, Brush(sheet, stage), (system,), _side(stage), (stage.height - sizes.height) / 2, 1)


# what stands -------------------------------------------------------------------------------------------


@lru_cache(maxsize=512)
def _standing(laid: Laid, system: int, piece: int) -> Group:
    return piece_group(laid.brush, laid.systems[system], laid.systems[system].placed[piece])


@lru_cache(maxsize=64)
def _prefix(laid: Laid, system: int) -> Group:
    return prefix_group(laid.brush, laid.systems[system])


@lru_cache(maxsize=8192)
def _digit(laid: Laid, system: int, index: int, state: State) -> Group:
    return digit_group(laid.brush, laid.systems[system], index, state)


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
def _at_place(group: Group, x: float, y: float, opacity: float) -> Group:
    return Group((group,), (1.0, 0.0, 0.0, 1.0, x, y), opacity, name=group.name)


def _paged(laid: Laid, t: Fraction) -> list[Mark]:
    moment = moment_at(laid.stage, t)
    back: list[Mark] = []
    front: list[Mark] = []
    for shown in _on_page(laid, moment, t):
        system, y = laid.systems[shown.system], laid.slot_y(shown.slot)
        back.append(_at_place(_prefix(laid, shown.system), laid.left, y, 1.0))
        for piece in range(shown.first, shown.last + 1):
            back.append(_at_place(_standing(laid, shown.system, piece), laid.left, y, shown.opacity))
            for index in piece_notes(system.placed[piece]):
                state = state_of(laid, moment, index)
                digit = _digit(laid, shown.system, index, state)
                opacity = 1.0 if state == "sounding" else shown.opacity
                front.append(_at_place(digit, laid.left, y, opacity))
    cursor = _paged_cursor(laid, moment) if laid.view.cursor else []
    lit = [mark for mark in front if isinstance(mark, Group) and mark.name.endswith("sounding")]
    return [*back[:0], *cursor, *back, *(m for m in front if m not in lit), *lit]


def _since(laid: Laid, beat: Fraction, t: Fraction) -> float:
    """Seconds since the pass went by a beat."""
    one = laid.stage.pass_at(t)
    return float(t - one.moments(beat)) if one is not None else 1e9


def _fade(laid: Laid, seconds: float) -> float:
    whole = laid.stage.look.seconds("page")
    return 0.4 + 0.6 * eased(2 * seconds / whole) if whole > 0 else 1.0


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


def _band(laid: Laid, x: float, y: float) -> Group:
    return translate((_cursor_shape(laid),), x, y, name="cursor")


@lru_cache(maxsize=32)
def _cursor_shape(laid: Laid) -> Group:
    """A soft band as high as the row, with a thin line in it; its middle is at x = 0."""
    sizes, brush = laid.brush.sheet.sizes, laid.brush
    width, weight = sizes.digit * 0.92, brush.weight("cursor")
    band = Box(-width / 2, -sizes.small * 0.1, width, sizes.height + sizes.small * 0.2)
    mark = Box(
        -weight / 2, sizes.first - sizes.gap * 0.42, weight, sizes.last - sizes.first + sizes.gap * 0.84
    )
    return Group((
        Path(rounded(band, width * 0.3), brush.colour("accent").with_alpha(0.17), name="cursor band"),
        Path(rounded(mark, weight / 2), brush.colour("accent").with_alpha(0.85), name="cursor line"),
    ))  # fmt: skip


def _paged_cursor(laid: Laid, moment: Moment) -> list[Mark]:
    if moment.beat is None:
        return []
    now = laid.system_at(moment.beat)
    x = laid.systems[now].glide(float(moment.beat))
    return [_band(laid, laid.left + x, laid.slot_y(now % laid.rows))]


# scrolling ---------------------------------------------------------------------------------------------


@lru_cache(maxsize=1024)
def _piece_digits(laid: Laid, piece: int, states: tuple[State, ...]) -> Group:
    notes = piece_notes(laid.systems[0].placed[piece])
    groups = (_digit(laid, 0, i, state) for i, state in zip(notes, states, strict=True))
    return Group(tuple(groups), name=f"frets of piece {piece}")


def _scroll_x(laid: Laid, moment: Moment, t: Fraction) -> float:
    """The strip's x under the cursor; between two passes it glides back."""
    glide = laid.systems[0].glide
    here = glide(float(moment.beat if moment.beat is not None else laid.systems[0].start))
    one = laid.stage.pass_at(t)
    if one is None or t >= one.span.start or one is laid.stage.passes[0]:
        return here
    before = laid.stage.passes[laid.stage.passes.index(one) - 1]
    start, end = before.span.end, one.span.start
    end = min(end, start + Fraction(laid.stage.look.seconds("page")).limit_denominator(1000) * 2)
    if t >= end or end <= start:
        return here
    there = glide(float(before.beats.end))
    return there + (here - there) * eased(float((t - start) / (end - start)))


def _scrolled(laid: Laid, t: Fraction) -> list[Mark]:
    moment, system, stage = moment_at(laid.stage, t), laid.systems[0], laid.stage
    window = Box(
        laid.left + system.prefix, 0.0, stage.width - 2 * laid.left - system.prefix, float(stage.height)
    )
    cursor_x = window.x + window.width * CURSOR_AT
    dx = cursor_x - _scroll_x(laid, moment, t)
    back, front, lit = [], [], []
    for number, placed in enumerate(system.placed):
        if placed.right + dx < window.x - laid.brush.sheet.sizes.gap * 2 or placed.x + dx > window.right + 99:
            continue
        back.append(_tile(_standing(laid, 0, number), dx, laid.top, window))
        states = tuple(state_of(laid, moment, i) for i in piece_notes(placed))
        calm: tuple[State, ...] = tuple("rest" if s in ("sounding", "next") else s for s in states)
        front.append(_tile(_piece_digits(laid, number, calm), dx, laid.top, window))
        for index, state in zip(piece_notes(placed), states, strict=True):
            if state in ("sounding", "next"):
                lit.append(_tile(_digit(laid, 0, index, state), dx, laid.top, window))
    head: list[Mark] = [_at_place(_prefix(laid, 0), laid.left, laid.top, 1.0)]
    cursor = [_band(laid, cursor_x, laid.top)] if laid.view.cursor and sounding_pass(stage, t) else []
    return [*cursor, *head, *back, *front, *lit]


def _tile(group: Group, dx: float, dy: float, window: Box) -> Group:
    return Group((group,), (1.0, 0.0, 0.0, 1.0, dx, dy), 1.0, window, group.name)
