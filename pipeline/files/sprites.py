"""Layers drawn by blend2d: the items of a content become tiles of pixels.

A tile is a pure function of the pieces it meets, its phase and its place in the content's own grid, so a
layer looks the same wherever and whenever it is drawn. Small contents are one tile; long strips are cut
along a grid, of which only what is seen is ever drawn. Text is drawn from the outlines of `typeface`.
"""

from collections.abc import Iterator
from functools import cached_property, lru_cache
from itertools import groupby
from typing import Any

import blend2d
import numpy as np
from numpy.typing import NDArray

from pipeline.drawing.affine import compose, moved
from pipeline.drawing.picture import MITRE, Box, Colour, Pixels, Stroke
from pipeline.files.blend import as_pixels, over
from pipeline.files.boxes import EMPTY, IntBox, around, nearest
from pipeline.files.items import Inked, Item, Laid, Piece, Whole, piece
from pipeline.files.layers import QUARTERS, Content

Sprite = NDArray[np.uint8]
"""Premultiplied (h, w, 4), red first."""
LARGEST, LONGEST = 1 << 17, 2048
"""Contents of no more pixels than this, and no longer either way, are one tile."""
TILE = 256


class Drawing:
    """A content made ready to be drawn."""

    def __init__(self, content: Content) -> None:
        made = (piece(mark, content.affine) for mark in content.marks)
        self._pieces = tuple(one for one in made if one.items)
        self._meeting: dict[IntBox, tuple[Piece, ...]] = {}
        self.box = _around_all(self._pieces)

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

    def meeting(self, place: IntBox) -> tuple[Piece, ...]:
        """The pieces that may have ink in a tile: contents that share them share the tile."""
        if place not in self._meeting:
            reach = _reach(place)
            self._meeting[place] = tuple(one for one in self._pieces if _meets(one.box, reach))
        return self._meeting[place]

    def tile(self, place: IntBox, phase: tuple[int, int]) -> Sprite | None:
        """The pixels of one tile; None where nothing reaches it."""
        items = tuple(item for one in self.meeting(place) for item in one.items)
        return _draw(items, place, (phase[0] / QUARTERS, phase[1] / QUARTERS))


def _around_all(pieces: tuple[Piece, ...]) -> IntBox:
    """The whole pixels that any phase of the pieces may touch."""
    if not pieces:
        return EMPTY
    whole = pieces[0].box
    for one in pieces[1:]:
        whole = whole.union(one.box)
    box = around(whole, 1.0)
    return IntBox(box.left, box.top, box.right + 1, box.bottom + 1)


def _draw(items: tuple[Item, ...], place: IntBox, quarters: tuple[float, float]) -> Sprite | None:
    """The items that meet a place, drawn in order; runs of paths go to blend2d together."""
    reach = _reach(place)
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


def _reach(place: IntBox) -> Box:
    """The room whose ink may show in a tile at some phase."""
    return Box(place.left - 2.0, place.top - 2.0, place.width + 4.0, place.height + 4.0)


def _meets(box: Box, reach: Box) -> bool:
    """Whether a box, which may be a line without area, touches the reach."""
    return box.x <= reach.right and reach.x <= box.right and box.y <= reach.bottom and reach.y <= box.bottom


def _laid_over(canvas: Sprite | None, top: Sprite | None, place: IntBox, opacity: int = 255) -> Sprite | None:
    if top is None:
        return canvas
    if canvas is None and opacity == 255:
        return top  # over clear pixels a sprite is itself
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
