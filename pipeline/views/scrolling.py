"""A strip of one row that moves under a fixed cursor: a tile a bar, moved and never drawn again.

At its two ends the strip stands and the cursor moves, so that no room is left empty.
"""

from fractions import Fraction
from functools import lru_cache

from pipeline.drawing.picture import Box, Group, Mark
from pipeline.music.fragment import Fragment
from pipeline.views.brush import Brush
from pipeline.views.columns import make_sheet, pieces_of
from pipeline.views.digits import State
from pipeline.views.glide import eased
from pipeline.views.lanes import Wants
from pipeline.views.paging import at_place, band, digit, prefix, standing, state_of
from pipeline.views.rows import Laid, edge, shown_measures, side, strip_sizes
from pipeline.views.sounding import Moment, moment_at, sounding_pass
from pipeline.views.stage import Stage
from pipeline.views.strip import System, place
from pipeline.views.techniques import piece_notes

CURSOR_AT = 0.30
"""Where the cursor stands, as a share of the strip's width."""
STRETCH = 1.2


def lay_strip(stage: Stage, fragment: Fragment, wants: Wants, cursor: bool) -> Laid:
    """The whole fragment in one row."""
    sizes = strip_sizes(wants, stage, fragment, stage.height - 2 * edge(stage))
    sheet = make_sheet(fragment, wants, sizes)
    system = place(sheet, pieces_of(sheet, shown_measures(stage, fragment), 1e9), STRETCH)
    return Laid(Brush(sheet, stage), (system,), side(stage), (stage.height - sizes.height) / 2, 1, cursor)


@lru_cache(maxsize=1024)
def _piece_digits(laid: Laid, piece: int, states: tuple[State | None, ...]) -> Group:
    """The labels of a piece, those without a state left out."""
    notes = piece_notes(laid.systems[0].placed[piece])
    known = ((i, state) for i, state in zip(notes, states, strict=True) if state is not None)
    return Group(tuple(digit(laid, 0, i, state) for i, state in known), name=f"frets of piece {piece}")


def _whole(laid: Laid, index: int, dx: float, window: Box) -> bool:
    """Whether a note's label stands in the window entirely: half a number would be read as another one."""
    x, half = laid.systems[0].xs[index] + dx, laid.brush.sheet.note_half(index)
    return window.x <= x - half and x + half <= window.right


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


def scrolled(laid: Laid, t: Fraction) -> list[Mark]:
    """The strip at scene second t."""
    moment, system, stage = moment_at(laid.stage, t), laid.systems[0], laid.stage
    window = Box(
        laid.left + system.prefix, 0.0, stage.width - 2 * laid.left - system.prefix, float(stage.height)
    )
    x = _scroll_x(laid, moment, t)
    dx = _held(system, window, window.x + window.width * CURSOR_AT - x)
    back, front, lit = [], [], []
    for number, placed in enumerate(system.placed):
        if placed.right + dx < window.x - laid.brush.sheet.sizes.gap * 2 or placed.x + dx > window.right + 99:
            continue
        back.append(_tile(standing(laid, 0, number), dx, laid.top, window))
        states = tuple(state_of(laid, moment, i) for i in piece_notes(placed))
        calm = tuple(
            None if not _whole(laid, i, dx, window) else "rest" if s in ("sounding", "next") else s
            for i, s in zip(piece_notes(placed), states, strict=True)
        )
        front.append(_tile(_piece_digits(laid, number, calm), dx, laid.top, window))
        for index, state in zip(piece_notes(placed), states, strict=True):
            if state in ("sounding", "next"):
                lit.append(_tile(digit(laid, 0, index, state), dx, laid.top, window))
    head: list[Mark] = [at_place(prefix(laid, 0), laid.left, laid.top, 1.0)]
    cursor = [band(laid, x + dx, laid.top)] if laid.cursor and sounding_pass(stage, t) else []
    return [*cursor, *head, *back, *front, *lit]


def _held(system: System, window: Box, dx: float) -> float:
    """The strip's shift, held so that neither of its ends leaves the window empty; there the cursor moves."""
    first, last = window.x - system.prefix, window.right - system.width
    return first if last > first else min(first, max(last, dx))


def _tile(group: Group, dx: float, dy: float, window: Box) -> Group:
    return Group((group,), (1.0, 0.0, 0.0, 1.0, dx, dy), 1.0, window, group.name)
