"""Beams in a row that is set otherwise than the engraver's: straight again, and their stems end on them.

A row moves columns apart by different amounts. Moved with them, a beam over six notes would kink at each. So
its edge is drawn straight between its ends, and all that hangs on it goes up or down with it.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from pipeline.drawing.picture import Outline
from pipeline.views.engraved import SPACE, Shape

NEAR = 1.2 * SPACE
"""How far from its beam's edge a stem may end, in the engraver's units."""


STUB, ON_STEM = 2 * SPACE, 0.15 * SPACE
"""A beam at one note alone is shorter; an end so near a stem hangs on it."""
ABREAST = 8
"""So many beams at most stand over one another, each of a voice of its own."""
Map = Callable[[float], float]


@dataclass(frozen=True)
class Beam:
    """The outer edge of a beam, in the engraver's units, from the left end to the right."""

    left: float
    top: float
    right: float
    bottom: float

    def edge(self, x: float) -> float:
        """The y of the edge at x."""
        return self.top + (self.bottom - self.top) * (x - self.left) / (self.right - self.left)

    def meets(self, x: float, y: float) -> bool:
        return self.left - 1 <= x <= self.right + 1 and abs(y - self.edge(x)) <= NEAR

    def levelled(self, outline: Outline, bend: Map, to_x: Map | None = None, whole: bool = False) -> Outline:
        """An outline with the points that lie on the beam moved to where its straight edge is in the row.

        `to_x` says where points go that do not follow the bend; `whole` takes all of them for points of the
        beam, however far from its edge.
        """
        start, end, placed = bend(self.left), bend(self.right), to_x or bend

        def rise(x: float, y: float) -> float:
            if not (whole or self.meets(x, y)):
                return 0.0
            straight = self.top + (self.bottom - self.top) * (placed(x) - start) / (end - start)
            return straight - self.edge(x)

        return tuple(
            (name, tuple(v if i % 2 == 0 else v + rise(values[i - 1], v) for i, v in enumerate(values)))
            for name, values in outline
        )


def stubs_of(shapes: Iterable[Shape]) -> dict[Shape, float]:
    """Short beams at one note alone, which keep their length, by the x of the stem that they hang on."""
    shapes = tuple(shapes)
    stems = {x for shape in shapes if shape.kind == "stem" for _, (x, _) in shape.outline}
    found = dict[Shape, float]()
    for shape in (s for s in shapes if s.kind == "beam" and s.ends[1] - s.ends[0] < STUB):
        hung = [end for end in shape.ends if any(abs(end - x) < ON_STEM for x in stems)]
        if len(hung) == 1:
            found[shape] = hung[0]
    return found


def beams_of(shapes: Iterable[Shape]) -> dict[int, Beam]:
    """The beam of every beam's and every beamed stem's group; a beam's first shape is its outer one."""
    known, shapes = dict[int, Beam](), tuple(shapes)
    for shape in shapes:
        if shape.kind == "beam" and shape.group not in known:
            (left, top), (right, bottom) = (shape.outline[0][1], shape.outline[1][1])
            known[shape.group] = Beam(left, top, right, bottom)
    ordered = sorted(known.values(), key=lambda beam: beam.left)
    lefts, stems = [beam.left for beam in ordered], dict[int, Beam]()
    for shape in (shape for shape in shapes if shape.kind == "stem"):
        place = bisect_right(lefts, shape.ends[1] + 1)
        for beam in ordered[max(0, place - ABREAST) : place]:
            if any(beam.meets(x, y) for _, (x, y) in shape.outline):
                stems[shape.group] = beam
    return known | stems
