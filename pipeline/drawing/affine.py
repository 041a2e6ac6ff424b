"""Affine transforms as six numbers, in SVG's order (see `picture.Affine`)."""

import math

from pipeline.drawing.picture import IDENTITY, Affine, Box


def compose(outer: Affine, inner: Affine) -> Affine:
    """The transform that does `inner` first, then `outer`."""
    a, b, c, d, e, f = outer
    g, h, i, j, k, m = inner
    return (
        a * g + c * h,
        b * g + d * h,
        a * i + c * j,
        b * i + d * j,
        a * k + c * m + e,
        b * k + d * m + f,
    )


def moved(dx: float, dy: float) -> Affine:
    """A shift."""
    return (1.0, 0.0, 0.0, 1.0, float(dx), float(dy))


def scaled(sx: float, sy: float | None = None, about: tuple[float, float] = (0.0, 0.0)) -> Affine:
    """A change of size that leaves the point `about` where it is."""
    sy = sx if sy is None else sy
    x, y = about
    return (float(sx), 0.0, 0.0, float(sy), x - sx * x, y - sy * y)


def turned(degrees: float, about: tuple[float, float] = (0.0, 0.0)) -> Affine:
    """A turn about a point, clockwise as seen (y runs downwards)."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    x, y = about
    return (cos, sin, -sin, cos, x - cos * x + sin * y, y - sin * x - cos * y)


def point_at(affine: Affine, x: float, y: float) -> tuple[float, float]:
    """Where a point goes."""
    a, b, c, d, e, f = affine
    return a * x + c * y + e, b * x + d * y + f


def box_at(affine: Affine, box: Box) -> Box:
    """The upright box around a transformed box."""
    corners = [
        point_at(affine, x, y)
        for x, y in ((box.x, box.y), (box.right, box.y), (box.x, box.bottom), (box.right, box.bottom))
    ]
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return Box(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))


def growth(affine: Affine) -> float:
    """By how much the transform multiplies lengths (the root of the area's growth)."""
    a, b, c, d, _, _ = affine
    return math.sqrt(abs(a * d - b * c))


def is_shift(affine: Affine) -> bool:
    """Whether the transform moves without turning or changing size."""
    return affine[:4] == IDENTITY[:4]
