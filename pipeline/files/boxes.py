"""Rectangles of whole pixels, half-open: the right and bottom edges are outside."""

import math
from collections.abc import Iterable
from typing import NamedTuple

from pipeline.drawing.picture import Box


class IntBox(NamedTuple):
    """Left and top are inside, right and bottom outside."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def width(self) -> int:
        return self.right - self.left

    @property
    def height(self) -> int:
        return self.bottom - self.top

    @property
    def area(self) -> int:
        return max(0, self.width) * max(0, self.height)

    def __bool__(self) -> bool:
        return self.right > self.left and self.bottom > self.top

    def cut(self, other: "IntBox") -> "IntBox":
        """The common part; it is falsy where there is none."""
        a, b, c, d = self
        e, f, g, h = other
        return IntBox(a if a > e else e, b if b > f else f, c if c < g else g, d if d < h else h)

    def union(self, other: "IntBox") -> "IntBox":
        """The smallest box around both."""
        a, b, c, d = self
        e, f, g, h = other
        return IntBox(a if a < e else e, b if b < f else f, c if c > g else g, d if d > h else h)

    def moved(self, dx: int, dy: int) -> "IntBox":
        return IntBox(self.left + dx, self.top + dy, self.right + dx, self.bottom + dy)


EMPTY = IntBox(0, 0, 0, 0)


def around(box: Box, margin: float = 0.0) -> IntBox:
    """The smallest whole-pixel box that holds a box and a margin about it."""
    return IntBox(
        math.floor(box.x - margin),
        math.floor(box.y - margin),
        math.ceil(box.right + margin),
        math.ceil(box.bottom + margin),
    )


def nearest(box: Box) -> IntBox:
    """The box with each edge at the nearest pixel edge (halves go down and right)."""
    edges = (box.x, box.y, box.right, box.bottom)
    return IntBox(*(math.floor(edge + 0.5) for edge in edges))


def merged(boxes: Iterable[IntBox]) -> tuple[IntBox, ...]:
    """Boxes that cover the same pixels and are fewer: two become one where that covers little more."""
    waiting = [box for box in dict.fromkeys(boxes) if box]
    done: list[IntBox] = []
    while waiting:
        box = waiting.pop()
        for i, other in enumerate(done):
            if _joins(box, other):
                waiting.append(box.union(other))
                del done[i]
                break
        else:
            done.append(box)
    return tuple(sorted(done))


def _joins(one: IntBox, other: IntBox) -> bool:
    """Whether the box around both covers at most a seventh more than they do."""
    a, b, c, d = one
    e, f, g, h = other
    both = ((c if c > g else g) - (a if a < e else e)) * ((d if d > h else h) - (b if b < f else f))
    least = 7 * both - 8 * ((c - a) * (d - b) + (g - e) * (h - f))
    if least > 0 or not (a < g and e < c and b < h and f < d):
        return least <= 0  # what they have in common only parts them further
    common = ((c if c < g else g) - (a if a > e else e)) * ((d if d < h else h) - (b if b > f else f))
    return least + 8 * common <= 0
