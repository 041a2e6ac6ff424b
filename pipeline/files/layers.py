"""The layers of a picture: what each one draws, and where on the frame it lies.

This is the contract that makes fast frames equal plain ones to the last bit. Every mark directly under a
picture is a layer. Its shift is taken out and rounded to quarter pixels: whole pixels are applied when the
layer's sprite is laid onto the canvas, the quarters (its phase) when it is drawn. Wrapping groups that only
shift, fade or cut are taken off first, so that a moving thing keeps its sprite. A layer's cut is rounded to
whole pixels, its opacity to 255ths.
"""

import math
from collections import OrderedDict
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

from pipeline.drawing.affine import box_at, compose
from pipeline.drawing.bounds import cut
from pipeline.drawing.picture import IDENTITY, Affine, Box, Group, Mark
from pipeline.files.boxes import IntBox, nearest

Linear = tuple[float, float, float, float]
QUARTERS = 4


@dataclass(frozen=True, eq=False)
class Content:
    """Marks under a transform without a shift. Equal contents are one object (see `Contents`)."""

    marks: tuple[Mark, ...]
    linear: Linear

    @cached_property
    def affine(self) -> Affine:
        return (*self.linear, 0.0, 0.0)


class Layer(NamedTuple):
    """A content at a phase (quarter pixels), laid at (x, y), faded, cut to a box of the frame."""

    content: Content
    phase: tuple[int, int]
    x: int
    y: int
    opacity: int
    cut: IntBox | None


class Contents:
    """Gives equal marks the same `Content` object; remembers the `size` last used.

    Most frames show the very marks of the frame before: those are found without hashing them.
    """

    def __init__(self, size: int = 2048) -> None:
        self._size = size
        self._equal: OrderedDict[tuple[tuple[Mark, ...], Linear], Content] = OrderedDict()
        self._layers: OrderedDict[int, tuple[Mark, Layer]] = OrderedDict()
        self._same: OrderedDict[tuple[int, Linear], tuple[tuple[Mark, ...], Content]] = OrderedDict()

    def content(self, marks: tuple[Mark, ...], linear: Linear) -> Content:
        found = self._same.get((id(marks), linear))
        if found is not None:
            self._same.move_to_end((id(marks), linear))
            return found[1]
        content = self._equal.setdefault((marks, linear), Content(marks, linear))
        self._equal.move_to_end((marks, linear))
        self._same[id(marks), linear] = (marks, content)
        self._forget()
        return content

    def layer(self, mark: Mark) -> Layer:
        """The layer that a mark directly under a picture is."""
        found = self._layers.get(id(mark))
        if found is not None:
            return found[1]
        layer = self._layer(mark)
        self._layers[id(mark)] = (mark, layer)
        self._forget()
        return layer

    def _layer(self, mark: Mark) -> Layer:
        inner, affine, opacity, clip = _unwrapped(mark)
        linear, shift = affine[:4], affine[4:]
        (x, across), (y, down) = (divmod(math.floor(s * QUARTERS + 0.5), QUARTERS) for s in shift)
        content = self.content(inner, linear)
        return Layer(
            content, (across, down), x, y, round(255 * opacity), None if clip is None else nearest(clip)
        )

    def _forget(self) -> None:
        kept: OrderedDict[Any, Any]
        for kept in (self._equal, self._same, self._layers):
            while len(kept) > self._size:
                kept.popitem(last=False)


def _unwrapped(mark: Mark) -> tuple[tuple[Mark, ...], Affine, float, Box | None]:
    """The innermost marks worth a sprite, with the transform, opacity and cut of what was taken off."""
    affine, opacity, clip = IDENTITY, 1.0, None
    if not isinstance(mark, Group):
        return (mark,), IDENTITY, 1.0, None
    group = mark
    while True:
        if group.clip is not None:
            here = box_at(affine, group.clip)
            clip = here if clip is None else cut(clip, here) or Box(0.0, 0.0, 0.0, 0.0)
        affine, opacity = compose(affine, group.transform), opacity * group.opacity
        if len(group.marks) != 1 or not isinstance(group.marks[0], Group) or not _upright(affine):
            return group.marks, affine, min(max(opacity, 0.0), 1.0), clip
        group = group.marks[0]


def _upright(affine: Affine) -> bool:
    """Whether an upright box stays one, so that a cut inside can be cut on the frame."""
    return affine[1] == 0 and affine[2] == 0
