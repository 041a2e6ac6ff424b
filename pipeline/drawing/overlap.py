"""Finds marks that lie on one another where they should not: words on words, and whatever a caller names.

Boxes are compared first, then the ink itself at points half a pixel apart, so that a slur over a note or two
slanting lines are not taken for a collision because their boxes meet.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from pipeline.drawing.affine import box_at, compose, growth
from pipeline.drawing.bounds import cut, ink
from pipeline.drawing.dashes import dashed, walked
from pipeline.drawing.outline import Point, transformed
from pipeline.drawing.picture import IDENTITY, Affine, Box, Group, Image, Mark, Path, Picture, Text
from pipeline.drawing.typeface import text_outline

STEP = 0.5
LEAST = 0.5
"""Square pixels of common ink that count: less is the blur of two edges that touch."""
MOST_POINTS = 250_000
Points = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Leaf:
    """A mark that draws, where it stands on the picture. `label` is its own name, else its group's."""

    label: str
    mark: Path | Text | Image
    affine: Affine
    box: Box
    """The room of its ink, cut to the clips around it."""
    hides: bool
    """Whether its fill is opaque, so that nothing under it is seen."""

    @property
    def is_text(self) -> bool:
        return isinstance(self.mark, Text)


@dataclass(frozen=True)
class Overlap:
    """Two marks with ink in common: their labels, how many square pixels, and where."""

    one: str
    other: str
    area: float
    box: Box


def both_words(one: Leaf, other: Leaf) -> bool:
    """The rule where none is given: no two texts may overlap."""
    return one.is_text and other.is_text


def overlaps(picture: Picture, apart: Callable[[Leaf, Leaf], bool] = both_words) -> tuple[Overlap, ...]:
    """Every pair of marks that must stand `apart` and does not. Marks of one label belong together."""
    found, drawn = [], list(leaves(picture.marks))
    for i, j in combinations(range(len(drawn)), 2):
        one, other = drawn[i], drawn[j]
        common = cut(one.box, other.box)
        if common is None or one.label == other.label or not apart(one, other):
            continue
        between = [leaf for leaf in drawn[i + 1 : j] if leaf.hides and leaf.box.meets(common)]
        area = common_ink(one, other, common, between)
        if area >= LEAST:
            found.append(Overlap(one.label, other.label, area, common))
    return tuple(found)


def leaves(
    marks: tuple[Mark, ...],
    within: Affine = IDENTITY,
    label: str = "",
    clip: Box | None = None,
    opacity: float = 1.0,
) -> Iterator[Leaf]:
    """The marks that draw, in order, with what the groups around them do to them."""
    for mark in marks:
        named = mark.name or label
        if isinstance(mark, Group):
            inner, seen = compose(within, mark.transform), opacity * mark.opacity
            if seen > 0:
                yield from leaves(mark.marks, inner, named, _clipped(mark, within, clip), seen)
            continue
        box = ink(mark, within)
        if box is not None and clip is not None:
            box = cut(box, clip)
        if box is not None:
            yield Leaf(named or _words(mark), mark, within, box, opacity >= 1 and _is_opaque(mark))


def common_ink(one: Leaf, other: Leaf, common: Box, between: Sequence[Leaf] = ()) -> float:
    """Square pixels of a box that both marks cover, less what the marks between them hide."""
    step = max(STEP, (common.width * common.height / MOST_POINTS) ** 0.5)
    xs = np.arange(common.x + step / 2, common.right, step)
    ys = np.arange(common.y + step / 2, common.bottom, step)
    points = np.stack([axis.ravel() for axis in np.meshgrid(xs, ys)], axis=1)
    for leaf in (one, other):
        points = points[covered(leaf, points)]
    for leaf in between:
        points = points[~covered(leaf, points)]
    return float(len(points) * step * step)


def _is_opaque(mark: Path | Text | Image) -> bool:
    return isinstance(mark, Path) and mark.fill is not None and mark.fill.alpha == 255


def covered(leaf: Leaf, points: Points) -> Mask:
    """Which points of the picture lie in a mark's ink."""
    mark, hit = leaf.mark, np.zeros(len(points), np.bool_)
    if isinstance(mark, Image):
        box = box_at(leaf.affine, mark.box)
        inside = (points >= (box.x, box.y)) & (points < (box.right, box.bottom))
        return np.asarray(inside.all(axis=1), np.bool_)
    if isinstance(mark, Text):
        return _inside(walked(transformed(text_outline(mark), leaf.affine)), points)
    if mark.fill is not None:
        hit |= _inside(walked(transformed(mark.outline, leaf.affine)), points)
    if mark.stroke is not None:
        drawn = walked(transformed(dashed(mark.outline, mark.stroke.dash), leaf.affine))
        hit |= _near(drawn, points, mark.stroke.width / 2 * growth(leaf.affine))
    return hit


def _clipped(group: Group, within: Affine, clip: Box | None) -> Box | None:
    if group.clip is None:
        return clip
    here = box_at(within, group.clip)
    return here if clip is None else cut(clip, here) or Box(here.x, here.y, 0.0, 0.0)


def _words(mark: Path | Text | Image) -> str:
    return mark.text if isinstance(mark, Text) else type(mark).__name__.lower()


def _edges(runs: list[list[Point]], close: bool) -> Iterator[tuple[Point, Point]]:
    for run in runs:
        ends = [*run[1:], run[0]] if close else run[1:]
        yield from zip(run, ends, strict=False)


def _inside(runs: list[list[Point]], points: Points) -> Mask:
    """Which points the closed runs wind round (the crossings of a ray to the right, non-zero rule)."""
    winding = np.zeros(len(points), np.int32)
    x, y = points[:, 0], points[:, 1]
    for (ax, ay), (bx, by) in _edges(runs, close=True):
        if ay == by:
            continue
        crosses = (y >= min(ay, by)) & (y < max(ay, by)) & (x < ax + (y - ay) * (bx - ax) / (by - ay))
        winding += np.where(crosses, 1 if by > ay else -1, 0)
    return np.not_equal(winding, 0)


def _near(runs: list[list[Point]], points: Points, reach: float) -> Mask:
    """Which points lie within `reach` of a line."""
    hit = np.zeros(len(points), np.bool_)
    for a, b in _edges(runs, close=False):
        start, way = np.array(a), np.array(b) - np.array(a)
        length = float(way @ way)
        along = np.clip((points - start) @ way / length, 0, 1) if length else np.zeros(len(points))
        hit |= np.linalg.norm(points - start - along[:, None] * way, axis=1) <= reach
    return hit
