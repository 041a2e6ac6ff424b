"""The ring round a head that sounds; heads close over one another have one ring together.

Each head draws its own part: the sides as far as half-way to the next head, and a cap where none is near.
"""

from dataclasses import dataclass

from pipeline.drawing.outline import Pen, rounded
from pipeline.drawing.picture import Box, Outline

WIDE, TALL, ROUND = 0.34, 0.4, 0.42
"""Free room beside and over a head, in staff spaces, and the corners' radius as a share of the height."""
CLEAR = 0.3
"""Between two rings, in staff spaces."""
BEND = 0.55
"""Of a corner's side, up to where its curve is pulled."""


@dataclass(frozen=True)
class Ring:
    """A head, and how far the next heads of its chord lie over and under it; None where none is near."""

    head: Box
    space: float
    above: float | None = None
    below: float | None = None

    @property
    def outline(self) -> Outline:
        """The part of the ring that this head draws (to be stroked)."""
        head, wide, tall = self.head, self.space * WIDE, self.space * TALL
        room = Box(head.x - wide, head.y - tall, head.width + 2 * wide, head.height + 2 * tall)
        radius = room.height * ROUND
        if self.above is None and self.below is None:
            return rounded(room, radius)
        middle = head.centre[1]
        top = room.y if self.above is None else middle - self.above / 2
        bottom = room.bottom if self.below is None else middle + self.below / 2
        if self.above is None:
            return _cap(room, bottom, top, radius)
        if self.below is None:
            return _cap(room, top, bottom, -radius)
        return (
            Pen()
            .move(room.x, top)
            .line(room.x, bottom)
            .move(room.right, top)
            .line(room.right, bottom)
            .outline
        )


def near(space: float, apart: float) -> bool:
    """Whether the rings of two heads so far apart would meet."""
    return apart < space * (1 + 2 * TALL + CLEAR)


def _cap(room: Box, foot: float, end: float, radius: float) -> Outline:
    """Up one side from the foot, over the end and down the other; a negative radius hangs upside down."""
    left, right, across = room.x, room.right, abs(radius)
    pen = Pen().move(left, foot).line(left, end + radius)
    pen.cubic(left, end + radius * (1 - BEND), left + across * (1 - BEND), end, left + across, end)
    pen.line(right - across, end)
    pen.cubic(right - across * (1 - BEND), end, right, end + radius * (1 - BEND), right, end + radius)
    return pen.line(right, foot).outline
