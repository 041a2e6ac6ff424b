"""How colours look to people who see colours otherwise, and whether they can still be told apart.

Source of the matrices: Machado, Oliveira & Fernandes, "A Physiologically-based Model for Simulation of Color
Vision Deficiency", IEEE TVCG 15(6), 2009, at severity 1.0; they apply to linear light. Differences are those
of CIE 1976 L*a*b* (ISO/CIE 11664-4) under D65.
"""

import math
from collections.abc import Iterable
from itertools import combinations
from typing import Literal, NamedTuple

from pipeline.drawing.contrast import from_linear, to_linear
from pipeline.drawing.look import Look
from pipeline.drawing.picture import Colour

Sight = Literal["usual", "no red", "no green", "no blue"]
"""Usual sight, and without one of the three kinds of cone (protanopia, deuteranopia, tritanopia)."""
Matrix = tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]

MATRICES: dict[Sight, Matrix] = {
    "usual": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "no red": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "no green": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "no blue": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
TO_XYZ: Matrix = (
    (0.4124564, 0.3575761, 0.1804375),
    (0.2126729, 0.7151522, 0.0721750),
    (0.0193339, 0.1191920, 0.9503041),
)
"""Linear sRGB to CIE XYZ, D65 (IEC 61966-2-1)."""
WHITE = (0.95047, 1.0, 1.08883)
TOLD_APART = ("note", "sounding"), ("past", "sounding"), ("hand", "sounding"), ("warn", "hand")
READINGS = ("reading-a", "reading-b", "reading-c")


class Apart(NamedTuple):
    """How far two roles of a look stand apart (L*a*b* units) for one kind of sight."""

    one: str
    other: str
    sight: Sight
    distance: float


def seen(colour: Colour, sight: Sight) -> Colour:
    """The colour as it looks to that kind of sight."""
    lights = _times(MATRICES[sight], _linear(colour))
    red, green, blue = (round(255 * from_linear(min(max(light, 0.0), 1.0))) for light in lights)
    return Colour(red, green, blue, colour.alpha)


def lab(colour: Colour) -> tuple[float, float, float]:
    """CIE L*, a*, b*."""
    x, y, z = (
        _lab_root(part / white) for part, white in zip(_times(TO_XYZ, _linear(colour)), WHITE, strict=True)
    )
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def distance(one: Colour, other: Colour) -> float:
    """How different two colours look: about 2.3 can just be noticed side by side."""
    return math.dist(lab(one), lab(other))


def told_apart(look: Look) -> tuple[Apart, ...]:
    """The pairs of roles that stand side by side and mean different things, for every kind of sight."""
    pairs: Iterable[tuple[str, str]] = [*TOLD_APART, *combinations(READINGS, 2)]
    return tuple(
        Apart(one, other, sight, distance(seen(look.colour(one), sight), seen(look.colour(other), sight)))
        for one, other in pairs
        for sight in MATRICES
    )


def _linear(colour: Colour) -> tuple[float, float, float]:
    return to_linear(colour.red / 255), to_linear(colour.green / 255), to_linear(colour.blue / 255)


def _times(matrix: Matrix, vector: tuple[float, float, float]) -> tuple[float, float, float]:
    first, second, third = (sum(m * v for m, v in zip(row, vector, strict=True)) for row in matrix)
    return first, second, third


def _lab_root(ratio: float) -> float:
    return ratio ** (1 / 3) if ratio > (6 / 29) ** 3 else ratio / (3 * (6 / 29) ** 2) + 4 / 29
