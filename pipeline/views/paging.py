"""Rows of a strip in step with the music: standing parts, notes in their states, the cursor."""

from fractions import Fraction
from functools import lru_cache
from math import inf

from pipeline.drawing.outline import rounded
from pipeline.drawing.picture import Box, Group, Mark, Path, translate
from pipeline.views.bars import piece_group, prefix_group
from pipeline.views.digits import State, digit_group
from pipeline.views.rows import Laid
from pipeline.views.sounding import Moment, moment_at
from pipeline.views.stage import Stage
from pipeline.views.techniques import piece_notes
from pipeline.views.turning import Shown, on_page

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


@lru_cache(maxsize=8192)
def at_place(group: Group, x: float, y: float, opacity: float, clip: Box | None = None) -> Group:
    """A group moved to its place."""
    return Group((group,), (1.0, 0.0, 0.0, 1.0, x, y), opacity, clip, group.name)


def paged(laid: Laid, t: Fraction) -> list[Mark]:
    """The rows at scene second t."""
    moment = moment_at(laid.stage, t)
    still = _page(laid, tuple(on_page(laid, moment, t)), moment.settled(laid.brush.line))
    return [*(_paged_cursor(laid, moment, t) if laid.cursor else []), *still]


@lru_cache(maxsize=64)
def _page(laid: Laid, page: tuple[Shown, ...], moment: Moment) -> tuple[Mark, ...]:
    """All but the cursor: it stays the same while no note begins or ends."""
    back, front, lit, slots = list[Mark](), list[Mark](), list[Mark](), set[int]()
    for shown in page:
        system, y, clip = laid.systems[shown.system], laid.slot_y(shown.slot), _clip(laid, shown)
        if shown.slot not in slots:
            slots.add(shown.slot)
            back.append(at_place(prefix(laid, shown.system), laid.left, y, 1.0))
        for piece, placed in enumerate(system.placed):
            if placed.x >= shown.right or placed.right <= shown.left:
                continue
            back.append(at_place(standing(laid, shown.system, piece), laid.left, y, shown.opacity, clip))
            for index in piece_notes(placed):
                if not shown.holds(system.xs[index]):
                    continue
                state = state_of(laid, moment, index)
                label = digit(laid, shown.system, index, state)
                if state == "sounding":
                    lit.append(at_place(label, laid.left, y, 1.0))
                else:
                    front.append(at_place(label, laid.left, y, shown.opacity))
    return (*back, *front, *lit)


def _clip(laid: Laid, shown: Shown) -> Box | None:
    """The part of the stage that a shown part may take; None where it is whole."""
    if shown.left == -inf and shown.right == inf:
        return None
    left = max(0.0, laid.left + shown.left)
    right = min(float(laid.stage.width), laid.left + shown.right)
    return Box(left, 0.0, max(0.0, right - left), float(laid.stage.height))


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
