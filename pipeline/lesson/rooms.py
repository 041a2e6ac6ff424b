"""How views share a frame: named arrangements, each a few boxes inside the safe area.

The safe area leaves 5 % on every side, the graphics-safe area of SMPTE ST 2046-1:2009 and EBU R 95.
"""

from collections.abc import Callable, Sequence

from pipeline.drawing.picture import Box

SAFE_INSET = 0.05
GAP = 0.03
"""Between views, as a share of the frame's shorter side."""
FOOT_SHARE = 0.42
FIRST_SHARE = 0.6

UPRIGHT_TYPE = 1.25
"""On an upright frame type is sized as on one this much taller than wide: a telephone's short side shows it a
little smaller than a lying one does (common practice, no source)."""

Arrange = Callable[[Box, Sequence[float], float], tuple[Box, ...]]


def safe_area(width: float, height: float) -> Box:
    """What every screen shows: 5 % of each side left free."""
    x, y = width * SAFE_INSET, height * SAFE_INSET
    return Box(x, y, width - 2 * x, height - 2 * y)


def type_height(width: int, height: int) -> int:
    """The frame height that sizes of type and lines are shares of."""
    return round(min(height, width * UPRIGHT_TYPE))


def boxes(arrangement: str, width: float, height: float, shares: Sequence[float]) -> tuple[Box, ...]:
    """A box for each view, in whole pixels. `shares` say how much room each takes beside the others."""
    gap = GAP * min(width, height)
    placed = ARRANGEMENTS[arrangement](safe_area(width, height), shares, gap)
    return tuple(_whole(box) for box in placed)


def _whole(box: Box) -> Box:
    """The same box with its edges on pixels, so that nothing is blurred."""
    x, y = round(box.x), round(box.y)
    return Box(x, y, round(box.right) - x, round(box.bottom) - y)


def _stack(area: Box, shares: Sequence[float], gap: float) -> tuple[Box, ...]:
    room = area.height - gap * (len(shares) - 1)
    tops, total = area.y, sum(shares)
    found = []
    for share in shares:
        height = room * share / total
        found.append(Box(area.x, tops, area.width, height))
        tops += height + gap
    return tuple(found)


def _row(area: Box, shares: Sequence[float], gap: float) -> tuple[Box, ...]:
    turned = Box(area.y, area.x, area.height, area.width)
    return tuple(Box(box.y, box.x, box.height, box.width) for box in _stack(turned, shares, gap))


def _first_above(area: Box, shares: Sequence[float], gap: float) -> tuple[Box, ...]:
    if len(shares) == 1:
        return (area,)
    height = (area.height - gap) * _first(shares)
    below = Box(area.x, area.y + height + gap, area.width, area.height - height - gap)
    return (Box(area.x, area.y, area.width, height), *_row(below, shares[1:], gap))


def _first_left(area: Box, shares: Sequence[float], gap: float) -> tuple[Box, ...]:
    if len(shares) == 1:
        return (area,)
    width = (area.width - gap) * _first(shares)
    beside = Box(area.x + width + gap, area.y, area.width - width - gap, area.height)
    return (Box(area.x, area.y, width, area.height), *_stack(beside, shares[1:], gap))


def _first(shares: Sequence[float]) -> float:
    """The first view's part of the whole: its own share against one share of all others together."""
    return FIRST_SHARE * shares[0] / (FIRST_SHARE * shares[0] + (1 - FIRST_SHARE))


def _foot(area: Box, shares: Sequence[float], gap: float) -> tuple[Box, ...]:
    height = area.height * FOOT_SHARE
    return _stack(Box(area.x, area.bottom - height, area.width, height), shares, gap)


def _head(area: Box, shares: Sequence[float], gap: float) -> tuple[Box, ...]:
    return _stack(Box(area.x, area.y, area.width, area.height * FOOT_SHARE), shares, gap)


ARRANGEMENTS: dict[str, Arrange] = {
    "stack": _stack,
    "row": _row,
    "first-above": _first_above,
    "first-left": _first_left,
    "foot": _foot,
    "head": _head,
}
"""Name to layout: below one another, side by side, the first one large above or left of the others, and
everything in the lower or upper part of the frame, to lie over footage."""
