"""How views share a frame: named arrangements, each a few boxes inside the safe area.

The safe area leaves 5 % on every side, the graphics-safe area of SMPTE ST 2046-1:2009 and EBU R 95.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

from pipeline.drawing.picture import Box

SAFE_INSET = 0.05
GAP = 0.03
"""Between views, as a share of the frame's shorter side."""
FOOT_SHARE, MOST_FOOT = 0.42, 0.66
"""What views at the foot or head take of the safe area's height, and the most where they need more."""
FIRST_SHARE = 0.6

UPRIGHT_TYPE = 1.25
"""On an upright frame type is sized as on one this much taller than wide: a telephone's short side shows it a
little smaller than a lying one does (common practice, no source)."""


class Need(NamedTuple):
    """Heights in pixels: without which a view cannot be read, and in which it leaves nothing out."""

    least: float = 0.0
    easy: float = 0.0


Needs = Callable[[int, float], Need]
"""What a view needs, from its number and its width."""


def safe_area(width: float, height: float) -> Box:
    """What every screen shows: 5 % of each side left free."""
    x, y = width * SAFE_INSET, height * SAFE_INSET
    return Box(x, y, width - 2 * x, height - 2 * y)


def type_height(width: int, height: int) -> int:
    """The frame height that sizes of type and lines are shares of."""
    return round(min(height, width * UPRIGHT_TYPE))


def nothing(view: int, width: float) -> Need:
    """The needs of views that fit any room."""
    return Need()


@dataclass(frozen=True)
class Ask:
    """What views ask of a room: their shares beside one another, the gap between them, what each needs."""

    shares: Sequence[float]
    gap: float
    need: Needs = nothing

    @property
    def others(self) -> "Ask":
        """What all but the first view ask."""
        return Ask(self.shares[1:], self.gap, lambda view, width: self.need(view + 1, width))

    def needs(self, width: float) -> list[Need]:
        """What each view needs at a width."""
        return [self.need(view, width) for view in range(len(self.shares))]


Arrange = Callable[[Box, Ask], tuple[Box, ...]]


def boxes(arrangement: str, width: float, height: float, shares: Sequence[float],
          need: Needs = nothing) -> tuple[Box, ...]:  # fmt: skip
    """A box for each view, in whole pixels. `shares` say how much room each takes beside the others; a view
    that would have less than it needs takes it from those that can spare it."""
    ask = Ask(shares, GAP * min(width, height), need)
    placed = ARRANGEMENTS[arrangement](safe_area(width, height), ask)
    return tuple(_whole(box) for box in placed)


def divided(room: float, shares: Sequence[float], needs: Sequence[Need]) -> list[float]:
    """A room in parts after their shares, none less than is easy for it as long as the room holds all of
    these; where it does not, what is left over the least of each goes to all in like measure."""
    leasts, wanted = [need.least for need in needs], sum(need.easy - need.least for need in needs)
    if sum(leasts) > room:
        return [room * share / sum(shares) for share in shares]
    part = min(1.0, (room - sum(leasts)) / wanted) if wanted else 1.0
    return _shared(room, shares, [need.least + (need.easy - need.least) * part for need in needs])


def _shared(room: float, shares: Sequence[float], leasts: Sequence[float]) -> list[float]:
    """A room that holds the leasts, in parts after their shares, none less than its least."""
    found, free = dict[int, float](), list(range(len(shares)))
    while True:
        left, total = room - sum(found.values()), sum(shares[i] for i in free)
        short = [i for i in free if left * shares[i] / total < leasts[i]]
        if not short:
            return [found.get(i, left * share / (total or 1)) for i, share in enumerate(shares)]
        found |= {i: leasts[i] for i in short}
        free = [i for i in free if i not in found]
        if not free:
            return [found[i] for i in range(len(shares))]


def _whole(box: Box) -> Box:
    """The same box with its edges on pixels, so that nothing is blurred."""
    x, y = round(box.x), round(box.y)
    return Box(x, y, round(box.right) - x, round(box.bottom) - y)


def _stack(area: Box, ask: Ask) -> tuple[Box, ...]:
    room = area.height - ask.gap * (len(ask.shares) - 1)
    heights = divided(room, ask.shares, ask.needs(area.width))
    tops = accumulate((height + ask.gap for height in heights), initial=area.y)
    return tuple(Box(area.x, top, area.width, height) for top, height in zip(tops, heights, strict=False))


def _row(area: Box, ask: Ask) -> tuple[Box, ...]:
    room = area.width - ask.gap * (len(ask.shares) - 1)
    widths = divided(room, ask.shares, [Need()] * len(ask.shares))
    lefts = accumulate((width + ask.gap for width in widths), initial=area.x)
    return tuple(Box(left, area.y, width, area.height) for left, width in zip(lefts, widths, strict=False))


def _first_above(area: Box, ask: Ask) -> tuple[Box, ...]:
    if len(ask.shares) == 1:
        return (area,)
    below = _row(Box(area.x, 0.0, area.width, 0.0), ask.others)
    needs = [ask.others.need(view, box.width) for view, box in enumerate(below)]
    rest_needs = Need(max(need.least for need in needs), max(need.easy for need in needs))
    first, own = _first(ask.shares), ask.need(0, area.width)
    height, rest = divided(area.height - ask.gap, (first, 1 - first), (own, rest_needs))
    under = Box(area.x, area.y + height + ask.gap, area.width, rest)
    return (Box(area.x, area.y, area.width, height), *_row(under, ask.others))


def _first_left(area: Box, ask: Ask) -> tuple[Box, ...]:
    if len(ask.shares) == 1:
        return (area,)
    width = (area.width - ask.gap) * _first(ask.shares)
    beside = Box(area.x + width + ask.gap, area.y, area.width - width - ask.gap, area.height)
    return (Box(area.x, area.y, width, area.height), *_stack(beside, ask.others))


def _first(shares: Sequence[float]) -> float:
    """The first view's part of the whole: its own share against one share of all others together."""
    return FIRST_SHARE * shares[0] / (FIRST_SHARE * shares[0] + (1 - FIRST_SHARE))


def _band(area: Box, ask: Ask) -> float:
    """The height of views that lie over footage: their usual share, and more where they need it."""
    needed = sum(need.easy for need in ask.needs(area.width)) + ask.gap * (len(ask.shares) - 1)
    return max(area.height * FOOT_SHARE, min(needed, area.height * MOST_FOOT))


def _foot(area: Box, ask: Ask) -> tuple[Box, ...]:
    height = _band(area, ask)
    return _stack(Box(area.x, area.bottom - height, area.width, height), ask)


def _head(area: Box, ask: Ask) -> tuple[Box, ...]:
    return _stack(area._replace(height=_band(area, ask)), ask)


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
