"""Slurs, ties and slides of the staff whose two notes stand in different rows: each row has its part."""

from pipeline.drawing.outline import line, slur
from pipeline.drawing.picture import Outline
from pipeline.views.engraved import SPACE, Shape

JOINS = ("slur", "tie", "gliss")
"""What joins two notes."""
FREE, RISE, WEIGHT = 0.3, 0.75, 0.17
"""From a part's open end to the row's end, its height and its weight, in staff spaces."""


def part_of(shape: Shape, xs: tuple[float, float], open_ends: tuple[bool, bool], space: float, top: float,
            ) -> Outline:  # fmt: skip
    """A part from x to x of a row whose top line lies at `top`; what comes in or goes on has an open end."""
    points = sorted(values[-2:] for name, values in shape.outline if name != "Z")
    (_, y0), (_, y1) = points[0], points[-1]
    comes, goes = open_ends
    left, right = xs[0] + FREE * space * comes, xs[1] - FREE * space * goes
    if shape.kind == "gliss":
        half = (y0 + y1) / 2
        ends = (half if comes else y0, half if goes else y1)
        return line(left, top + ends[0] * space / SPACE, right, top + ends[1] * space / SPACE)
    y = top + (y1 if comes else y0) * space / SPACE
    rise = min(RISE * space, 0.25 * (right - left))
    return slur(left, y, right, y, rise if _arches(shape) else -rise, WEIGHT * space)


def _arches(shape: Shape) -> bool:
    """Whether it lies over the line between its ends."""
    ys = [y for _, values in shape.outline for y in values[1::2]]
    ends = [values[-1] for name, values in shape.outline if name != "Z"]
    return sum(ys) / len(ys) < sum(ends) / len(ends)
