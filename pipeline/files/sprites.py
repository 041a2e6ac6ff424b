"""Layers drawn by blend2d: a content becomes a list of items, and items become tiles of pixels.

A tile is a pure function of content, phase and the tile's place in the content's own grid, so a layer looks
the same wherever and whenever it is drawn. Small contents are one tile; long strips are cut along a grid,
of which only what is seen is ever drawn. Text is drawn from the outlines of `typeface`.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import groupby
from typing import Any

import blend2d
import numpy as np
from numpy.typing import NDArray

from pipeline.drawing.affine import box_at, compose, growth, moved
from pipeline.drawing.dashes import dashed
from pipeline.drawing.picture import (
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
from pipeline.files.blend import as_pixels, over
from pipeline.files.boxes import EMPTY, IntBox, around, nearest
from pipeline.files.layers import QUARTERS, Content

Sprite = NDArray[np.uint8]
"""Premultiplied (h, w, 4), red first."""
LARGEST, LONGEST = 512 * 512, 2048
"""Contents of no more pixels than this, and no longer either way, are one tile."""
TILE = 256
MITRE = 1.5


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


class Drawing:
    """A content made ready to be drawn."""

    def __init__(self, content: Content) -> None:
        self.items = tuple(item for mark in content.marks for item in _items(mark, content.affine))
        self.box = EMPTY
        if self.items:
            self.box = _around_all(self.items)

    @cached_property
    def small(self) -> bool:
        """Whether the content is one tile."""
        return self.box.area <= LARGEST and max(self.box.width, self.box.height) <= LONGEST

    def places(self, seen: IntBox) -> Iterator[IntBox]:
        """The tiles that meet a box of the content's coordinates."""
        part = self.box.cut(seen)
        if not part:
            return
        if self.small:
            yield self.box
            return
        for row in range(part.top // TILE, -(-part.bottom // TILE)):
            for column in range(part.left // TILE, -(-part.right // TILE)):
                yield IntBox(column * TILE, row * TILE, (column + 1) * TILE, (row + 1) * TILE).cut(self.box)

    def tile(self, place: IntBox, phase: tuple[int, int]) -> Sprite | None:
        """The pixels of one tile; None where nothing is drawn in it."""
        quarters = (phase[0] / QUARTERS, phase[1] / QUARTERS)
        drawn = _draw(self.items, place, quarters)
        return drawn if drawn is not None and drawn.any() else None


def _around_all(items: tuple[Item, ...]) -> IntBox:
    """The whole pixels that any phase of the items may touch."""
    whole = items[0].box
    for item in items[1:]:
        whole = whole.union(item.box)
    box = around(whole, 1.0)
    return IntBox(box.left, box.top, box.right + 1, box.bottom + 1)


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
        whole = items[0].box
        for item in items[1:]:
            whole = whole.union(item.box)
        yield Whole(items, opacity, clip, whole)


def _letters(text: Text, affine: Affine) -> Iterator[Item]:
    if not text.text.strip():
        return
    made = blend2d.BLPath()
    for character, x in placed_glyphs(text):
        glyph = _glyph(text.face, character).copy()
        glyph.transform(blend2d.Matrix2D(text.size, 0.0, 0.0, text.size, x, text.y))
        made.add_path(glyph)
    if not made.empty():
        yield Inked(made, affine, text.fill, None, box_at(affine, _box_of(made)))


@lru_cache(maxsize=4096)
def _glyph(face: str, character: str) -> Any:
    return _blend_path(typeface(face).glyph(character).outline)


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


def _draw(items: tuple[Item, ...], place: IntBox, quarters: tuple[float, float]) -> Sprite | None:
    """The items that meet a place, drawn in order; runs of paths go to blend2d together."""
    reach = Box(place.left - 2.0, place.top - 2.0, place.width + 4.0, place.height + 4.0)
    canvas: Sprite | None = None
    met = (item for item in items if _meets(item.box, reach))
    for inked, run in groupby(met, key=lambda item: isinstance(item, Inked)):
        if inked:
            paths = [item for item in run if isinstance(item, Inked)]
            canvas = _laid_over(canvas, _ink(paths, place, quarters), place)
            continue
        for item in run:
            canvas = _laid_over(canvas, _special(item, place, quarters), place)
    return canvas


def _meets(box: Box, reach: Box) -> bool:
    """Whether a box, which may be a line without area, touches the reach."""
    return box.x <= reach.right and reach.x <= box.right and box.y <= reach.bottom and reach.y <= box.bottom


def _laid_over(canvas: Sprite | None, top: Sprite | None, place: IntBox, opacity: int = 255) -> Sprite | None:
    if top is None:
        return canvas
    if canvas is None:
        canvas = np.zeros((place.height, place.width, 4), np.uint8)
    over(as_pixels(canvas), as_pixels(top), 0, 0, 0, 0, place.width, place.height, np.uint32(opacity))
    return canvas


def _special(item: Item, place: IntBox, quarters: tuple[float, float]) -> Sprite | None:
    if isinstance(item, Laid):
        return _image(item, place, quarters)
    assert isinstance(item, Whole)
    drawn = _draw(item.items, place, quarters)
    if drawn is None:
        return None
    if item.clip is not None:
        _cut(drawn, nearest(_shifted(item.clip, quarters)).moved(-place.left, -place.top))
    return _laid_over(None, drawn, place, item.opacity) if item.opacity < 255 else drawn


def _cut(sprite: Sprite, box: IntBox) -> None:
    """Clear everything outside a box."""
    kept = box.cut(IntBox(0, 0, sprite.shape[1], sprite.shape[0]))
    if not kept:
        sprite[:] = 0
        return
    sprite[: kept.top] = 0
    sprite[kept.bottom :] = 0
    sprite[:, : kept.left] = 0
    sprite[:, kept.right :] = 0


def _shifted(box: Box, by: tuple[float, float]) -> Box:
    return Box(box.x + by[0], box.y + by[1], box.width, box.height)


def _image(item: Laid, place: IntBox, quarters: tuple[float, float]) -> Sprite | None:
    """The part of an image inside a place; it lies on whole pixels, so that it stays sharp."""
    whole = nearest(_shifted(item.box, quarters))
    part = whole.cut(place)
    if not part:
        return None
    fitted = _fitted(item.pixels, whole.width, whole.height)
    sprite = np.zeros((place.height, place.width, 4), np.uint8)
    here, there = part.moved(-place.left, -place.top), part.moved(-whole.left, -whole.top)
    sprite[here.top : here.bottom, here.left : here.right] = fitted[
        there.top : there.bottom, there.left : there.right
    ]
    return sprite


@lru_cache(maxsize=16)
def _fitted(pixels: Pixels, width: int, height: int) -> Sprite:
    """An image at another size, premultiplied first so that colours do not bleed from clear pixels."""
    from PIL import Image as Pillow

    source = Pillow.frombytes("RGBA", (pixels.width, pixels.height), pixels.data).convert("RGBa")
    if source.size != (width, height):
        source = source.resize((width, height), Pillow.Resampling.LANCZOS)
    fitted = np.array(source)
    np.minimum(fitted, fitted[:, :, 3:], out=fitted)
    return fitted


def _ink(items: list[Inked], place: IntBox, quarters: tuple[float, float]) -> Sprite:
    image = blend2d.BLImage(place.width, place.height)
    pen = blend2d.BLContext(image)
    pen.clear_all()
    pen.fill_rule = blend2d.BLFillRule.NON_ZERO
    to_tile = moved(quarters[0] - place.left, quarters[1] - place.top)
    for item in items:
        pen.reset_transform()
        pen.transform(blend2d.Matrix2D(*compose(to_tile, item.affine)))
        if item.fill is not None:
            pen.set_fill_style(_paint(item.fill))
            pen.fill_path(item.path)
        elif item.stroke is not None:
            _stroke(pen, item.path, item.stroke)
    pen.flush()
    pixels: Sprite = image.getDataAsNumPy()
    return pixels


def _stroke(pen: Any, path: Any, stroke: Stroke) -> None:
    caps, joins = blend2d.BLStrokeCap, blend2d.BLStrokeJoin
    pen.set_stroke_caps(caps.CAP_ROUND if stroke.round_ends else caps.CAP_BUTT)
    pen.stroke_join = joins.JOIN_ROUND if stroke.round_ends else joins.JOIN_MITER_BEVEL
    pen.stroke_miter_limit = MITRE
    pen.stroke_width = stroke.width
    pen.set_stroke_style(_paint(stroke.colour))
    pen.stroke_path(path)


def _paint(colour: Colour) -> tuple[float, float, float, float]:
    return (colour.red / 255, colour.green / 255, colour.blue / 255, colour.alpha / 255)
