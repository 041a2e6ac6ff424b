"""A small pen and the shapes that views draw with it.

Every function returns an `Outline` (see `picture`): moves, lines, cubics and closes, in pixels, y downwards.
Closed shapes run clockwise as seen, so that shapes joined into one path fill as one.
"""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from pipeline.drawing.affine import moved, point_at
from pipeline.drawing.picture import Affine, Box, Outline, Segment

Point = tuple[float, float]
ROUND = 4 / 3 * (math.sqrt(2) - 1)
"""Handle length of a cubic that follows a quarter of the unit circle (largest error 0.03 % of the radius)."""


class Pen:
    """Collects segments; `outline` is what was drawn so far. Calls chain."""

    def __init__(self) -> None:
        self._segments: list[Segment] = []

    def move(self, x: float, y: float) -> "Pen":
        self._segments.append(("M", (float(x), float(y))))
        return self

    def line(self, x: float, y: float) -> "Pen":
        self._segments.append(("L", (float(x), float(y))))
        return self

    def cubic(self, x1: float, y1: float, x2: float, y2: float, x: float, y: float) -> "Pen":
        self._segments.append(("C", (float(x1), float(y1), float(x2), float(y2), float(x), float(y))))
        return self

    def close(self) -> "Pen":
        self._segments.append(("Z", ()))
        return self

    @property
    def outline(self) -> Outline:
        return tuple(self._segments)


def joined(*outlines: Outline) -> Outline:
    """Several outlines as one."""
    return tuple(segment for outline in outlines for segment in outline)


def transformed(outline: Outline, affine: Affine) -> Outline:
    """The outline with every point sent through an affine transform."""
    a, b, c, d, e, f = affine

    def sent(values: tuple[float, ...]) -> tuple[float, ...]:
        return tuple(
            v
            for x, y in zip(values[::2], values[1::2], strict=True)
            for v in (a * x + c * y + e, b * x + d * y + f)
        )

    return tuple((kind, sent(values)) for kind, values in outline)


def shifted(outline: Outline, dx: float, dy: float) -> Outline:
    """The outline moved by (dx, dy)."""
    return transformed(outline, moved(dx, dy))


def line(x1: float, y1: float, x2: float, y2: float) -> Outline:
    """One straight line."""
    return Pen().move(x1, y1).line(x2, y2).outline


def polyline(points: Sequence[Point]) -> Outline:
    """Straight lines through the points, left open."""
    pen = Pen().move(*points[0])
    for x, y in points[1:]:
        pen.line(x, y)
    return pen.outline


def polygon(points: Sequence[Point]) -> Outline:
    """A closed shape through the points, turned to run clockwise as seen."""
    area = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise([*points, points[0]]))
    ordered = list(points) if area >= 0 else list(reversed(points))
    return (*polyline(ordered), ("Z", ()))


def rect(box: Box) -> Outline:
    """A rectangle."""
    return polygon(((box.x, box.y), (box.right, box.y), (box.right, box.bottom), (box.x, box.bottom)))


def rounded(box: Box, radius: float) -> Outline:
    """A rectangle with round corners; the radius is cut to half of the shorter side."""
    r = max(0.0, min(radius, box.width / 2, box.height / 2))
    if r == 0:
        return rect(box)
    k = r * (1 - ROUND)
    x, y, right, bottom = box.x, box.y, box.right, box.bottom
    pen = Pen().move(x + r, y).line(right - r, y).cubic(right - k, y, right, y + k, right, y + r)
    pen.line(right, bottom - r).cubic(right, bottom - k, right - k, bottom, right - r, bottom)
    pen.line(x + r, bottom).cubic(x + k, bottom, x, bottom - k, x, bottom - r)
    return pen.line(x, y + r).cubic(x, y + k, x + k, y, x + r, y).close().outline


def ellipse(x: float, y: float, rx: float, ry: float) -> Outline:
    """An ellipse about (x, y)."""
    return (*arc(x, y, rx, 0.0, 360.0, ry), ("Z", ()))


def circle(x: float, y: float, radius: float) -> Outline:
    """A circle about (x, y)."""
    return ellipse(x, y, radius, radius)


def ring(x: float, y: float, radius: float, hole: float) -> Outline:
    """A circle with a round hole of radius `hole`."""
    inner = (*arc(x, y, hole, 360.0, 0.0), ("Z", ()))
    return joined(circle(x, y, radius), inner)


def arc(x: float, y: float, rx: float, start: float, end: float, ry: float | None = None) -> Outline:
    """An open arc about (x, y) from angle `start` to `end`, degrees clockwise from three o'clock."""
    ry = rx if ry is None else ry
    pieces = max(1, math.ceil(abs(end - start) / 90 - 1e-9))
    step = math.radians((end - start) / pieces)
    handle = 4 / 3 * math.tan(step / 4)
    angles = [math.radians(start) + step * i for i in range(pieces + 1)]
    pen = Pen().move(x + rx * math.cos(angles[0]), y + ry * math.sin(angles[0]))
    for p, q in pairwise(angles):
        cp, sp, cq, sq = math.cos(p), math.sin(p), math.cos(q), math.sin(q)
        pen.cubic(
            x + rx * (cp - handle * sp), y + ry * (sp + handle * cp),
            x + rx * (cq + handle * sq), y + ry * (sq - handle * cq),
            x + rx * cq, y + ry * sq,
        )  # fmt: skip
    return pen.outline


def smooth(points: Sequence[Point], closed: bool = False) -> Outline:
    """A smooth curve through the points (centripetal tension left out: uniform Catmull-Rom as cubics)."""
    if len(points) < 3:
        return polyline(points)
    before = [points[-1] if closed else points[0], *points]
    ring_ends = [points[0], points[1]] if closed else [points[-1]]
    p = [*before, *ring_ends]
    pen = Pen().move(*p[1])
    for i in range(1, len(p) - 2):
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = p[i - 1 : i + 3]
        pen.cubic(bx + (cx - ax) / 6, by + (cy - ay) / 6, cx - (dx - bx) / 6, cy - (dy - by) / 6, cx, cy)
    return pen.close().outline if closed else pen.outline


def wavy(x1: float, x2: float, y: float, height: float, length: float) -> Outline:
    """A level wavy line from x1 to about x2: waves `height` tall, crest to trough, and `length` long.

    The line ends after a whole number of half waves, at least two.
    """
    halves = max(2, round(2 * (x2 - x1) / length))
    step, pen = (x2 - x1) / halves, Pen().move(x1, y)
    for i in range(halves):
        x, peak = x1 + i * step, y + (-1 if i % 2 == 0 else 1) * height * 2 / 3
        pen.cubic(x + step * 0.36, peak, x + step * 0.64, peak, x + step, y)
    return pen.outline


def slur(x1: float, y1: float, x2: float, y2: float, rise: float, thickness: float) -> Outline:
    """A filled bow from one point to another, thin at its ends; a positive `rise` bends it upwards.

    `rise` is the height of the bow's middle over the straight line, `thickness` the weight of its middle.
    """
    outer, inner = (rise + thickness / 2) * 4 / 3, (rise - thickness / 2) * 4 / 3
    dx, dy = (x2 - x1) * 0.28, (y2 - y1) * 0.28
    pen = Pen().move(x1, y1)
    pen.cubic(x1 + dx, y1 + dy - outer, x2 - dx, y2 - dy - outer, x2, y2)
    return pen.cubic(x2 - dx, y2 - dy - inner, x1 + dx, y1 + dy - inner, x1, y1).close().outline


def arrow_head(x: float, y: float, angle: float, size: float, spread: float = 0.72) -> Outline:
    """A filled head with its tip at (x, y), pointing along `angle` (degrees clockwise from east).

    `size` is its length; `spread` its width as a share of the length.
    """
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    turned = (cos, sin, -sin, cos, x, y)
    corners = ((0.0, 0.0), (-size, size * spread / 2), (-size * 0.8, 0.0), (-size, -size * spread / 2))
    return polygon([point_at(turned, px, py) for px, py in corners])


def cross(x: float, y: float, size: float) -> Outline:
    """Two crossing lines (to be stroked), `size` wide and high, about (x, y)."""
    h = size / 2
    return joined(line(x - h, y - h, x + h, y + h), line(x - h, y + h, x + h, y - h))


def diamond(x: float, y: float, width: float, height: float) -> Outline:
    """An upright rhombus about (x, y)."""
    w, h = width / 2, height / 2
    return polygon(((x, y - h), (x + w, y), (x, y + h), (x - w, y)))


def outline_box(outline: Outline) -> Box | None:
    """The tight box around an outline, curves followed to their extremes; None for an empty outline."""
    xs: list[float] = []
    ys: list[float] = []
    here: Point = (0.0, 0.0)
    for kind, values in outline:
        if kind == "C":
            xs.extend(_turning_values(here[0], *values[::2]))
            ys.extend(_turning_values(here[1], *values[1::2]))
        if values:
            here = (values[-2], values[-1])
            xs.append(here[0])
            ys.append(here[1])
    if not xs:
        return None
    return Box(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))


def _turning_values(p0: float, p1: float, p2: float, p3: float) -> Iterable[float]:
    """Values of one coordinate of a cubic where its derivative is zero inside (0, 1)."""
    a, b, c = -p0 + 3 * p1 - 3 * p2 + p3, 2 * (p0 - 2 * p1 + p2), p1 - p0
    if abs(a) < 1e-12:
        roots = [-c / b] if abs(b) > 1e-12 else []
    else:
        root = b * b - 4 * a * c
        roots = [(-b + s * math.sqrt(root)) / (2 * a) for s in (1, -1)] if root >= 0 else []
    for t in roots:
        if 0 < t < 1:
            u = 1 - t
            yield u * u * u * p0 + 3 * u * u * t * p1 + 3 * u * t * t * p2 + t * t * t * p3
