"""From the compositor's canvas to the planes that encoders read: BT.709, limited range, changed boxes only.

Source: ITU-R BT.709-6, items 3.2 (luma 0.2126 R + 0.7152 G + 0.0722 B) and 4.6 (219 steps of luma above 16,
224 of chroma about 128, times 4 for ten bits and 16 for twelve). Arithmetic is in whole numbers with sixteen
binary places and rounds to nearest, so every machine makes the same planes.

4:2:0 chroma is sited as MPEG-2, H.264 and HEVC assume where nothing is said: level with every second luma
column and half way between two rows. It is therefore filtered 1-2-1 across and averaged down.
"""

from collections.abc import Iterable, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.files.blend import as_pixels
from pipeline.files.boxes import IntBox
from pipeline.files.compiled import compiled

if TYPE_CHECKING:
    Bytes = NDArray[np.uint8]
    Words = NDArray[np.uint16]
    Pixels32 = NDArray[np.uint32]
    Numbers = NDArray[np.int32]
else:
    Bytes = Words = Pixels32 = Numbers = Any

RED, GREEN, BLUE = 0.2126, 0.7152, 0.0722
PLACES = 16


class Planes(NamedTuple):
    """Eight-bit 4:2:0: luma (h, w), both chroma planes ((h + 1) // 2, (w + 1) // 2)."""

    y: Bytes
    u: Bytes
    v: Bytes


class DeepPlanes(NamedTuple):
    """4:4:4 with alpha, four planes (h, w) of `uint16` holding ten or twelve bits."""

    y: Words
    u: Words
    v: Words
    alpha: Words


def planes(width: int, height: int) -> Planes:
    """New planes, black."""
    half = ((height + 1) // 2, (width + 1) // 2)
    return Planes(
        np.full((height, width), 16, np.uint8), np.full(half, 128, np.uint8), np.full(half, 128, np.uint8)
    )


def deep_planes(width: int, height: int, bits: int = 10) -> DeepPlanes:
    """New planes, black and see-through."""
    shape, unit = (height, width), 1 << (bits - 8)
    luma, u, v = (np.full(shape, level * unit, np.uint16) for level in (16, 128, 128))
    return DeepPlanes(luma, u, v, np.zeros(shape, np.uint16))


def to_420(canvas: Bytes, into: Sequence[Bytes], changed: Iterable[IntBox]) -> None:
    """Convert the changed boxes of an opaque canvas (h, w, 4) into lasting planes y, u, v.

    The planes may be larger than the canvas (padding is not touched).
    """
    pixels, factors = as_pixels(canvas), _factors(8)
    height, width = pixels.shape
    for box in changed:
        if box:
            _luma(pixels, into[0], factors, *box)
            _chroma(pixels, into[1], into[2], factors, *_chroma_box(box, width, height))


def to_444_alpha(canvas: Bytes, into: Sequence[Words], changed: Iterable[IntBox], bits: int = 10) -> None:
    """Convert the changed boxes of a canvas into lasting planes y, u, v, alpha: straight colours.

    Where nothing covers the ground the colour is black. The planes may be larger than the canvas.
    """
    pixels, factors = as_pixels(canvas), _factors(bits)
    most = (1 << bits) - 1
    for box in changed:
        if box:
            _straight(pixels, into[0], into[1], into[2], into[3], factors, _RECIPROCALS, most, *box)


def _chroma_box(box: IntBox, width: int, height: int) -> IntBox:
    """The chroma samples that see any pixel of the box: sample x sees columns 2x - 1 to 2x + 1."""
    return IntBox(
        box.left // 2,
        box.top // 2,
        min((width + 1) // 2, box.right // 2 + 1),
        min((height + 1) // 2, (box.bottom + 1) // 2),
    )


@cache
def _factors(bits: int) -> Numbers:
    """Rows luma, Cb, Cr: factors of 8-bit red, green, blue with `PLACES` binary places, then the offset.

    Each row is made to sum exactly, so that white and grey come out without error.
    """
    unit, one = 1 << (bits - 8), 1 << PLACES
    luma = [k * 219 / 255 * unit for k in (RED, GREEN, BLUE)]
    cb = [k * 224 / 255 * unit for k in (-RED / (2 - 2 * BLUE), -GREEN / (2 - 2 * BLUE), 0.5)]
    cr = [k * 224 / 255 * unit for k in (0.5, -GREEN / (2 - 2 * RED), -BLUE / (2 - 2 * RED))]
    table = np.zeros((3, 4), np.int32)
    for row, (parts, total, level) in enumerate(((luma, sum(luma), 16), (cb, 0.0, 128), (cr, 0.0, 128))):
        whole = [round(part * one) for part in parts]
        whole[1] += round(total * one) - sum(whole)
        table[row] = (*whole, level * unit * one + one // 2)
    return table


_RECIPROCALS = np.array([0] + [(255 * 65536 + a // 2) // a for a in range(1, 256)], np.uint32)
"""255 / alpha with sixteen binary places: straight = (premultiplied · reciprocal + half) >> 16."""


@compiled
def _luma(pixels: Pixels32, y: Bytes, factors: Numbers, left: int, top: int, right: int, bottom: int) -> None:
    red, green, blue, offset = factors[0, 0], factors[0, 1], factors[0, 2], factors[0, 3]
    for row in range(top, bottom):
        source, into = pixels[row, left:right], y[row, left:right]
        for i in range(into.size):
            p = source[i]
            r, g, b = np.int32(p & 255), np.int32((p >> 8) & 255), np.int32((p >> 16) & 255)
            into[i] = np.uint8(np.int32(red * r + green * g + blue * b + offset) >> 16)


@compiled
def _chroma(pixels: Pixels32, u: Bytes, v: Bytes, factors: Numbers,
            left: int, top: int, right: int, bottom: int) -> None:  # fmt: skip
    height, width = pixels.shape
    for row in range(top, bottom):
        upper, lower = pixels[2 * row], pixels[min(2 * row + 1, height - 1)]
        for column in range(left, right):
            middle = 2 * column
            before, after = max(middle - 1, 0), min(middle + 1, width - 1)
            r = g = b = 0
            for line in (upper, lower):
                p, q, s = np.int64(line[before]), np.int64(line[middle]), np.int64(line[after])
                r += (p & 255) + 2 * (q & 255) + (s & 255)
                g += ((p >> 8) & 255) + 2 * ((q >> 8) & 255) + ((s >> 8) & 255)
                b += ((p >> 16) & 255) + 2 * ((q >> 16) & 255) + ((s >> 16) & 255)
            u[row, column] = _eighth(factors[1], r, g, b)
            v[row, column] = _eighth(factors[2], r, g, b)


@compiled
def _eighth(row: Numbers, r: int, g: int, b: int) -> np.uint8:
    """One chroma sample from sums that weigh eight pixels."""
    total = row[0] * r + row[1] * g + row[2] * b + np.int64(row[3]) * 8
    return np.uint8(total >> 19)


@compiled
def _straight(pixels: Pixels32, y: Words, u: Words, v: Words, alpha: Words, factors: Numbers,
              reciprocals: Pixels32, most: int,
              left: int, top: int, right: int, bottom: int) -> None:  # fmt: skip
    for row in range(top, bottom):
        for column in range(left, right):
            p = np.int64(pixels[row, column])
            a = p >> 24
            scale = np.int64(reciprocals[a])
            r = ((p & 255) * scale + 32768) >> 16
            g = (((p >> 8) & 255) * scale + 32768) >> 16
            b = (((p >> 16) & 255) * scale + 32768) >> 16
            y[row, column] = _weighed(factors[0], r, g, b)
            u[row, column] = _weighed(factors[1], r, g, b)
            v[row, column] = _weighed(factors[2], r, g, b)
            alpha[row, column] = (a * most + 127) // 255


@compiled
def _weighed(row: Numbers, r: int, g: int, b: int) -> np.uint16:
    return np.uint16((row[0] * r + row[1] * g + row[2] * b + row[3]) >> 16)
