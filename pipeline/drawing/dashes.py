"""Dashed lines as plain ones, for backends that cannot dash."""

import math
from itertools import cycle, pairwise

from pipeline.drawing.outline import Pen, Point
from pipeline.drawing.picture import Outline

STEPS = 24
"""Straight pieces a cubic is walked in: enough for dashes, whose ends hide the corners."""


def dashed(outline: Outline, lengths: tuple[float, ...]) -> Outline:
    """The outline cut into dashes: lengths of line and gap in turn, from the start of each part.

    An odd list is read twice, as in SVG; a list without a positive sum leaves the line whole.
    """
    if not lengths or sum(lengths) <= 0 or min(lengths) < 0:
        return outline
    pattern = lengths if len(lengths) % 2 == 0 else lengths * 2
    pen = Pen()
    for points in walked(outline):
        _dash(pen, points, pattern)
    return pen.outline


def walked(outline: Outline) -> list[list[Point]]:
    """Each part of an outline as a run of points."""
    parts: list[list[Point]] = []
    for kind, values in outline:
        if kind == "M":
            parts.append([(values[0], values[1])])
        elif kind == "L":
            parts[-1].append((values[0], values[1]))
        elif kind == "C":
            parts[-1].extend(_cubic(parts[-1][-1], values))
        else:
            parts[-1].append(parts[-1][0])
    return parts


def _cubic(start: Point, values: tuple[float, ...]) -> list[Point]:
    (x0, y0), (x1, y1, x2, y2, x3, y3) = start, values
    points = []
    for step in range(1, STEPS + 1):
        t = step / STEPS
        a, b, c, d = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
        points.append((a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3))
    return points


def _dash(pen: Pen, points: list[Point], pattern: tuple[float, ...]) -> None:
    lengths = cycle(pattern)
    left, drawing = next(lengths), True
    pen.move(*points[0])
    for (ax, ay), (bx, by) in pairwise(points):
        whole = math.hypot(bx - ax, by - ay)
        done = 0.0
        while whole - done > left:
            done += left
            at = (ax + (bx - ax) * done / whole, ay + (by - ay) * done / whole)
            pen.line(*at) if drawing else pen.move(*at)
            left, drawing = next(lengths), not drawing
            if left == 0:
                left, drawing = next(lengths), not drawing
        left -= whole - done
        if drawing:
            pen.line(bx, by)
