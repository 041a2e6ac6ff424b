"""A picture as pixels, drawn whole: stills, and the plain way that frames of film are proven against."""

import io

import numpy as np
from numpy.typing import NDArray

from pipeline.drawing.picture import Colour, Picture
from pipeline.drawing.placing import scaled
from pipeline.files.blend import as_pixels, over, pixel_of
from pipeline.files.boxes import IntBox
from pipeline.files.layers import Contents, Layer
from pipeline.files.sprites import Drawing


def rasterise(picture: Picture, scale: float = 1.0) -> NDArray[np.uint8]:
    """The picture as (h, w, 4) uint8, premultiplied, red first. Sizes are rounded to whole pixels."""
    picture = scaled(picture, scale) if scale != 1.0 else picture
    canvas = blank(round(picture.width), round(picture.height), picture.background)
    contents = Contents()
    for mark in picture.marks:
        _lay(canvas, contents.layer(mark))
    return canvas


def blank(width: int, height: int, colour: Colour | None) -> NDArray[np.uint8]:
    """A new canvas of one colour; None makes it transparent."""
    canvas = np.zeros((height, width, 4), np.uint8)
    if colour is not None:
        as_pixels(canvas)[:] = pixel_of(*colour)
    return canvas


def _lay(canvas: NDArray[np.uint8], layer: Layer) -> None:
    """Draw a layer and lay it over the canvas, tile by tile."""
    seen = IntBox(0, 0, canvas.shape[1], canvas.shape[0])
    if layer.cut is not None:
        seen = seen.cut(layer.cut)
    if not seen or not layer.opacity:
        return
    drawing, pixels = Drawing(layer.content), as_pixels(canvas)
    for place in drawing.places(seen.moved(-layer.x, -layer.y)):
        tile = drawing.tile(place, layer.phase)
        if tile is not None:
            at = place.moved(layer.x, layer.y)
            over(pixels, as_pixels(tile), at.left, at.top, *at.cut(seen), np.uint32(layer.opacity))


def straight(canvas: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The canvas with colours no longer multiplied by alpha, rounded; clear pixels are black."""
    alpha = canvas[:, :, 3:].astype(np.uint32)
    colours = (canvas[:, :, :3] * np.uint32(255) + alpha // 2) // np.maximum(alpha, 1)
    return np.concatenate([np.minimum(colours, 255), alpha], axis=2).astype(np.uint8)


def png_bytes(picture: Picture, scale: float = 1.0) -> bytes:
    """The picture as a PNG file with straight alpha; the same bytes every time."""
    return png_of(rasterise(picture, scale))


def png_of(canvas: NDArray[np.uint8], level: int = 6) -> bytes:
    """A premultiplied canvas as a PNG file; without an alpha channel where everything is opaque."""
    from PIL import Image as Pillow  # frames of film never come here

    pixels = straight(canvas)
    opaque = bool((pixels[:, :, 3] == 255).all())
    stream = io.BytesIO()
    Pillow.fromarray(pixels[:, :, :3] if opaque else pixels).save(stream, "PNG", compress_level=level)
    return stream.getvalue()
