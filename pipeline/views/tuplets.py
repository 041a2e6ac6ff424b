"""Numbers and brackets of tuplets in a row that is set otherwise than the engraver's.

A row moves columns apart by different amounts. The number still stands in the middle of its notes, its digits
together, and a bracket is open round it.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from pipeline.views.engraved import SPACE, Shape

NEAR = 1.4 * SPACE
"""A beam ends at the stems where its tuplet does at the heads."""
AROUND = 1.6 * SPACE
"""A bracket's ends beside the number lie so near its middle."""

Ends = tuple[float, float]


@dataclass(frozen=True)
class Tuplet:
    """From where to where a tuplet's notes reach, in the engraver's units."""

    left: float
    right: float

    @property
    def middle(self) -> float:
        return (self.left + self.right) / 2

    def placed(self, x: float, bend: Callable[[float], float], scale: float, around: float) -> float:
        """Where x goes in a row: near the number it keeps its distance to the middle, else it is bent."""
        if abs(x - self.middle) > around:
            return bend(x)
        return (bend(self.left) + bend(self.right)) / 2 + (x - self.middle) * scale


def tuplets_of(shapes: Iterable[Shape]) -> dict[int, Tuplet]:
    """The tuplet of each number's and each bracket's group."""
    shapes = tuple(shapes)
    numbers, brackets = _reaches(shapes, "tupletNum"), _reaches(shapes, "tupletBracket")
    spans = [*brackets.values(), *_reaches(shapes, "beam").values()]
    found = {group: Tuplet(*ends) for group, ends in brackets.items()}
    for group, (left, right) in numbers.items():
        middle = (left + right) / 2
        nearest = min(spans, key=lambda ends: abs(sum(ends) / 2 - middle), default=(left, right))
        near = abs(sum(nearest) / 2 - middle) < SPACE
        found[group] = Tuplet(*(nearest if near else (left, right)))
    return found


def without_idle_brackets(shapes: list[Shape]) -> list[Shape]:
    """The shapes without the brackets of tuplets whose notes one beam joins and so shows."""
    beams = _reaches(shapes, "beam").values()
    brackets = _reaches(shapes, "tupletBracket").items()
    idle = {group for group, ends in brackets if any(_alike(ends, beam) for beam in beams)}
    return [shape for shape in shapes if shape.group not in idle]


def _alike(one: Ends, other: Ends) -> bool:
    return all(abs(a - b) < NEAR for a, b in zip(one, other, strict=True))


def _reaches(shapes: Iterable[Shape], kind: str) -> dict[int, Ends]:
    """From where to where the signs of a kind reach, by their groups."""
    found = dict[int, Ends]()
    for shape in (shape for shape in shapes if shape.kind == kind):
        left, right = found.get(shape.group, shape.ends)
        found[shape.group] = min(left, shape.ends[0]), max(right, shape.ends[1])
    return found
