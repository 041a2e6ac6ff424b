"""Marks made ready for blend2d: a flat list of paths, images and groups that are drawn as one.

What is made of a mark is kept, so that a layer of many marks of which one changed is not made anew.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import blend2d

from pipeline.drawing.affine import box_at, compose, growth
from pipeline.drawing.dashes import dashed
from pipeline.drawing.picture import (
    MITRE,
    Affine,
    Box,
    Colour,
    Group,
    Image,
    Mark,
    Outline,
    Path,
    Pixels,
    Stroke,
    Text,
)
from pipeline.drawing.typeface import placed_glyphs, typeface


@dataclass(frozen=True, eq=False)
class Inked:
    """A filled or stroked path in the content's coordinates after `affine`."""

    path: Any
    affine: Affine
    fill: Colour | None
    stroke: Stroke | None
    box: Box


@dataclass(frozen=True, eq=False)
class Laid:
    """An image laid into an upright box, its pixels fitted by Pillow."""

    pixels: Pixels
    box: Box


@dataclass(frozen=True, eq=False)
class Whole:
    """Items that are drawn on their own, then faded and cut as one."""

    items: tuple["Item", ...]
    opacity: int
    clip: Box | None
    box: Box


Item = Inked | Laid | Whole


@dataclass(frozen=True, eq=False)
class Piece:
    """What one mark of a layer is made of. Equal marks share one piece."""

    items: tuple[Item, ...]
    box: Box


@lru_cache(maxsize=8192)
def piece(mark: Mark, affine: Affine) -> Piece:
    """A mark under a transform, made ready."""
    items = tuple(_items(mark, affine))
    return Piece(items, _around(items) if items else Box(0.0, 0.0, 0.0, 0.0))


def _around(items: tuple[Item, ...]) -> Box:
    whole = items[0].box
    for item in items[1:]:
        whole = whole.union(item.box)
    return whole


def _items(mark: Mark, affine: Affine) -> Iterator[Item]:
    if isinstance(mark, Group):
        yield from _group(mark, affine)
    elif isinstance(mark, Image):
        yield Laid(mark.pixels, box_at(affine, mark.box))
    elif isinstance(mark, Text):
        yield from _letters(mark, affine)
    else:
        yield from _path(mark, affine)


def _group(group: Group, affine: Affine) -> Iterator[Item]:
    inner = compose(affine, group.transform)
    items = tuple(item for mark in group.marks for item in _items(mark, inner))
    opacity = round(255 * min(max(group.opacity, 0.0), 1.0))
    if opacity == 255 and group.clip is None:
        yield from items
    elif items and opacity:
        clip = None if group.clip is None else box_at(affine, group.clip)
        yield Whole(items, opacity, clip, _around(items))


def _letters(text: Text, affine: Affine) -> Iterator[Item]:
    if not text.text.strip():
        return
    made = blend2d.BLPath()
    for cluster, x in placed_glyphs(text):
        glyph = _glyph(text.face, cluster).copy()
        glyph.transform(blend2d.Matrix2D(text.size, 0.0, 0.0, text.size, x, text.y))
        made.add_path(glyph)
    if not made.empty():
        yield Inked(made, affine, text.fill, None, box_at(affine, _box_of(made)))


@lru_cache(maxsize=4096)
def _glyph(face: str, cluster: str) -> Any:
    return _blend_path(typeface(face).glyph(cluster).outline)


def _path(path: Path, affine: Affine) -> Iterator[Item]:
    if not path.outline or (path.fill is None and path.stroke is None):
        return
    if path.fill is not None:
        made = _blend_path(path.outline)
        yield Inked(made, affine, path.fill, None, box_at(affine, _box_of(made)))
    if path.stroke is not None and path.stroke.width > 0:
        made = _blend_path(dashed(path.outline, path.stroke.dash))
        reach = path.stroke.width * MITRE / 2 * growth(affine)
        yield Inked(made, affine, None, path.stroke, box_at(affine, _box_of(made)).inset(-reach))


def _blend_path(outline: Outline) -> Any:
    path = blend2d.BLPath()
    calls = {"M": path.move_to, "L": path.line_to, "C": path.cubic_to, "Z": path.close}
    for kind, values in outline:
        calls[kind](*values)
    return path


def _box_of(path: Any) -> Box:
    found = path.get_bounding_box()
    return Box(found.x0, found.y0, found.x1 - found.x0, found.y1 - found.y0)
