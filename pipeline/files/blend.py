"""Compositing of premultiplied pixels in whole numbers: one formula, used by every raster backend.

Pixels are `uint32` with red in the lowest byte and alpha in the highest (the memory order R, G, B, A).
Source over, premultiplied (Porter & Duff 1984): out = s + d (255 - alpha of s) / 255, rounded to nearest by
(x + 128 + ((x + 128) >> 8)) >> 8, which is exact for products of two bytes. Two channels share a multiply.
"""

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pipeline.files.compiled import compiled

if TYPE_CHECKING:
    Pixels32 = NDArray[np.uint32]
    Spans = NDArray[np.int32]
else:
    Pixels32 = Spans = Any

LOW = np.uint32(0x00FF00FF)
HIGH = np.uint32(0xFF00FF00)
HALF = np.uint32(0x00800080)
EIGHT = np.uint32(8)
BLOCK = 32
"""Pixels that are looked at together where rows are mostly clear."""
_ROWS, _EDGES = "uint32[:, ::1]", ("int64",) * 6


def share(pixel: np.uint32, part: np.uint32) -> np.uint32:
    """All four channels times part / 255."""
    even = np.uint32((pixel & LOW) * part + HALF)
    odd = np.uint32(((pixel >> EIGHT) & LOW) * part + HALF)
    even = np.uint32((np.uint32(even + ((even >> EIGHT) & LOW)) >> EIGHT) & LOW)
    odd = np.uint32(np.uint32(odd + ((odd >> EIGHT) & LOW)) & HIGH)
    return np.uint32(even | odd)


def _over_row(into: Pixels32, source: Pixels32, opacity: np.uint32) -> None:
    full, top = np.uint32(255), np.uint32(24)
    if opacity == full:
        for i in range(into.size):
            s = source[i]
            into[i] = s + share(into[i], np.uint32(full - (s >> top)))
    else:
        for i in range(into.size):
            s = share(source[i], opacity)
            into[i] = s + share(into[i], np.uint32(full - (s >> top)))


@compiled(_ROWS, _ROWS, *_EDGES, "uint32")
def over(canvas: Pixels32, sprite: Pixels32, x: int, y: int, left: int, top: int, right: int, bottom: int,
         opacity: np.uint32) -> None:  # fmt: skip
    """Lay `sprite` with its corner at (x, y) over the canvas, inside the given box only.

    The box lies inside both the canvas and the sprite. `opacity` is 0 to 255.
    """
    for row in range(top, bottom):
        _over_row(canvas[row, left:right], sprite[row - y, left - x : right - x], opacity)


@compiled(_ROWS, _ROWS, "int32[:, ::1]", *_EDGES, "uint32")
def over_spans(canvas: Pixels32, sprite: Pixels32, spans: Spans, x: int, y: int,
               left: int, top: int, right: int, bottom: int, opacity: np.uint32) -> None:  # fmt: skip
    """As `over`, passing by what is clear in each row of the sprite: the result is the same.

    `spans` holds the first and the last column with ink, one more for the last, of each row. The box lies
    inside the canvas; of it only what the sprite covers is touched.
    """
    for row in range(max(top, y), min(bottom, y + sprite.shape[0])):
        first, last = max(left, x + spans[row - y, 0]), min(right, x + spans[row - y, 1])
        if first < last:
            _over_row(canvas[row, first:last], sprite[row - y, first - x : last - x], opacity)


def spans_of(sprite: Pixels32) -> Spans:
    """The columns with ink of each row, half-open, for `over_spans`; rows without any have (0, 0)."""
    spans: Spans = np.zeros((len(sprite), 2), np.int32)
    _find_spans(sprite, spans)
    return spans


@compiled(_ROWS, "int32[:, ::1]")
def _find_spans(sprite: Pixels32, spans: Spans) -> None:
    for row in range(sprite.shape[0]):
        line = sprite[row]
        first, last = 0, line.size
        while first < last and not _inked(line[first : first + BLOCK]):
            first += BLOCK
        if first >= last:
            continue
        while not _inked(line[max(first, last - BLOCK) : last]):
            last -= BLOCK
        while line[first] == 0:
            first += 1
        while line[last - 1] == 0:
            last -= 1
        spans[row, 0], spans[row, 1] = first, last


def _inked(pixels: Pixels32) -> bool:
    """Whether any of a few pixels is not clear: all are looked at, so that eight can be at once."""
    seen = np.uint32(0)
    for i in range(pixels.size):
        seen |= pixels[i]
    return bool(seen != 0)


def as_pixels(canvas: NDArray[np.uint8]) -> NDArray[np.uint32]:
    """The same memory, (h, w, 4) bytes, as (h, w) pixels."""
    return canvas.view(np.uint32)[:, :, 0]


def pixel_of(red: int, green: int, blue: int, alpha: int) -> int:
    """A straight colour as one premultiplied pixel."""
    r, g, b = ((part * alpha + 127) // 255 for part in (red, green, blue))
    return r | g << 8 | b << 16 | alpha << 24


def pixel_over(top: int, under: int) -> int:
    """One premultiplied pixel over another, by the same formula as `over`."""
    rest, out = 255 - (top >> 24), 0
    for shift in (0, 8, 16, 24):
        x = ((under >> shift) & 255) * rest + 128
        out |= (((top >> shift) & 255) + ((x + (x >> 8)) >> 8)) << shift
    return out
