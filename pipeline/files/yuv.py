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
    Boxes = NDArray[np.intp]
    Row = Numbers | tuple[np.int32, np.int32, np.int32, np.int32]
else:
    Bytes = Words = Pixels32 = Numbers = Boxes = Row = Any

RED, GREEN, BLUE = 0.2126, 0.7152, 0.0722
PLACES = 16
_PLACES, _PLACES_OF_EIGHT = np.int32(PLACES), np.int32(PLACES + 3)
_RED, _GREEN, _BLUE, _ALPHA = np.uint32(0), np.uint32(8), np.uint32(16), np.uint32(24)
_BYTE, _RED_BLUE = np.uint32(255), np.uint32(0x00FF00FF)
_HALF, _MOST = np.float32(0.5), np.float32(255)
_PIXELS, _DEEP, _FACTORS = "uint32[:, ::1]", "uint16[:, :]", "int32[:, ::1]"


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
    boxes = np.array([box for box in changed if box], np.int64).reshape(-1, 4)
    if boxes.size:
        y, u, v = into
        room = np.empty((4, canvas.shape[1] // 2 + 2), np.uint32)
        _opaque_boxes(as_pixels(canvas), y, u, v, _factors(8), boxes, room)


Part = tuple[slice, slice]


def seen_by(box: IntBox) -> tuple[Part, Part, Part]:
    """The rows and columns of planes y, u, v that a changed box changes; they may end past the planes."""
    left, top, right, bottom = box
    chroma = (slice(top // 2, (bottom + 1) // 2), slice(left // 2, right // 2 + 1))
    return (slice(top, bottom), slice(left, right)), chroma, chroma


def to_444_alpha(
    canvas: Bytes, into: Sequence[Words], changed: Iterable[IntBox] | Boxes, bits: int = 10
) -> None:
    """Convert the changed boxes of a canvas into lasting planes y, u, v, alpha: straight colours.

    Many boxes are quicker as an array (n, 4) of their edges.

    Where nothing covers the ground the colour is black. The planes may be larger than the canvas.
    """
    pixels, factors = as_pixels(canvas), _factors(bits)
    unit = np.float32(((1 << bits) - 1) / 255)
    boxes = changed if isinstance(changed, np.ndarray) else np.array([*changed], np.intp).reshape(-1, 4)
    if boxes.size:
        widest = max(0, int((boxes[:, 2] - boxes[:, 0]).max()))
        y, u, v, alpha = into
        row = np.empty((3, widest), np.int32)
        _straight_boxes(pixels, y, u, v, alpha, factors, np.ascontiguousarray(boxes), row, unit)


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


def _part(pixel: np.uint32, shift: np.uint32) -> np.int32:
    """One channel of a pixel."""
    return np.int32((pixel >> shift) & _BYTE)


def _weighed(row: Row, red: np.int32, green: np.int32, blue: np.int32, shift: np.int32) -> np.int32:
    """A row of factors applied; sums stay within 32 bits, so that eight pixels fit a register."""
    total = np.int32(row[0] * red + row[1] * green + row[2] * blue + row[3])
    return np.int32(total >> shift)


@compiled(_PIXELS, "uint8[:, :]", "uint8[:, :]", "uint8[:, :]", _FACTORS, "int64[:, ::1]", _PIXELS)
def _opaque_boxes(pixels: Pixels32, y: Bytes, u: Bytes, v: Bytes, factors: Numbers, boxes: Boxes,
                  room: Pixels32) -> None:  # fmt: skip
    """`room` is for what `_chroma` adds up. Chroma sample x sees the columns 2x - 1 to 2x + 1."""
    height, width = pixels.shape
    for i in range(boxes.shape[0]):
        left, top, right, bottom = boxes[i, 0], boxes[i, 1], boxes[i, 2], boxes[i, 3]
        _luma(pixels, y, factors, left, top, right, bottom)
        right, bottom = min((width + 1) // 2, right // 2 + 1), min((height + 1) // 2, (bottom + 1) // 2)
        _chroma(pixels, u, v, factors, room, left // 2, top // 2, right, bottom)


def _luma(pixels: Pixels32, y: Bytes, factors: Numbers, left: int, top: int, right: int, bottom: int) -> None:
    row_of = (factors[0, 0], factors[0, 1], factors[0, 2], factors[0, 3])
    for row in range(top, bottom):
        source, into = pixels[row, left:right], y[row, left:right]
        for i in range(into.size):
            p = source[i]
            into[i] = _weighed(row_of, _part(p, _RED), _part(p, _GREEN), _part(p, _BLUE), _PLACES)


def _chroma(pixels: Pixels32, u: Bytes, v: Bytes, factors: Numbers, room: Pixels32,
            left: int, top: int, right: int, bottom: int) -> None:  # fmt: skip
    """Chroma from the sums of two rows, at even columns and at odd ones; red and blue share a number.

    Outside the frame its edge pixels are repeated.
    """
    height, even, odd = pixels.shape[0], room[:2], room[2:]
    for row in range(top, bottom):
        _sum_rows(pixels[2 * row], pixels[min(2 * row + 1, height - 1)], left, right, even, odd)
        _filter_row(even, odd, factors, u[row, left:right], v[row, left:right])


def _sum_rows(upper: Pixels32, lower: Pixels32, left: int, right: int, even: Pixels32, odd: Pixels32) -> None:
    """Sums of two rows: `even[:, i]` at column 2 (left + i), `odd[:, i]` at the column before it."""
    width, count = upper.size, right - left
    before = max(2 * left - 1, 0)
    odd[0, 0], odd[1, 0] = _both(upper[before], lower[before])
    whole = min(right, width // 2) - left
    first, second = upper[2 * left : 2 * (left + whole)], lower[2 * left : 2 * (left + whole)]
    even_rb, even_g, odd_rb, odd_g = even[0], even[1], odd[0, 1:], odd[1, 1:]
    for i in range(whole):
        even_rb[i], even_g[i] = _both(first[2 * i], second[2 * i])
        odd_rb[i], odd_g[i] = _both(first[2 * i + 1], second[2 * i + 1])
    if whole < count:
        even_rb[whole], even_g[whole] = _both(upper[width - 1], lower[width - 1])
        odd_rb[whole], odd_g[whole] = even_rb[whole], even_g[whole]


def _both(p: np.uint32, q: np.uint32) -> tuple[np.uint32, np.uint32]:
    """Red and blue of two pixels added, side by side in one number, and green."""
    green = np.uint32(((p >> _GREEN) & _BYTE) + ((q >> _GREEN) & _BYTE))
    return np.uint32((p & _RED_BLUE) + (q & _RED_BLUE)), green


def _filter_row(even: Pixels32, odd: Pixels32, factors: Numbers, u: Bytes, v: Bytes) -> None:
    """1-2-1 across, then the matrix. The sums weigh eight pixels: three more binary places."""
    cb = (factors[1, 0], factors[1, 1], factors[1, 2], np.int32(factors[1, 3] * 8))
    cr = (factors[2, 0], factors[2, 1], factors[2, 2], np.int32(factors[2, 3] * 8))
    for i in range(u.size):
        rb = np.uint32(odd[0, i] + odd[0, i + 1] + even[0, i] + even[0, i])
        green = np.int32(odd[1, i] + odd[1, i + 1] + even[1, i] + even[1, i])
        red, blue = np.int32(rb & np.uint32(0xFFFF)), np.int32(rb >> np.uint32(16))
        u[i] = _weighed(cb, red, green, blue, _PLACES_OF_EIGHT)
        v[i] = _weighed(cr, red, green, blue, _PLACES_OF_EIGHT)


@compiled(_PIXELS, _DEEP, _DEEP, _DEEP, _DEEP, _FACTORS, "int64[:, ::1]", _FACTORS, "float32")
def _straight_boxes(pixels: Pixels32, y: Words, u: Words, v: Words, alpha: Words, factors: Numbers,
                    boxes: Boxes, colours: Numbers, unit: np.float32) -> None:  # fmt: skip
    """`colours` is room for a row of the widest box, a channel each."""
    for i in range(boxes.shape[0]):
        left, top, right, bottom = boxes[i, 0], boxes[i, 1], boxes[i, 2], boxes[i, 3]
        if left < right:
            _straight(pixels, y, u, v, alpha, factors, unit, colours, left, top, right, bottom)


def _straight(pixels: Pixels32, y: Words, u: Words, v: Words, alpha: Words, factors: Numbers,
              unit: np.float32, colours: Numbers,
              left: int, top: int, right: int, bottom: int) -> None:  # fmt: skip
    for row in range(top, bottom):
        source, opacity = pixels[row, left:right], alpha[row, left:right]
        for i in range(opacity.size):
            opacity[i] = np.uint16(np.float32(_part(source[i], _ALPHA)) * unit + _HALF)
        for channel in range(3):
            _unmultiply(source, np.uint32(8 * channel), colours[channel, : right - left])
        for plane in range(3):
            _matrix_row(colours, factors[plane], (y, u, v)[plane][row, left:right])


def _unmultiply(source: Pixels32, shift: np.uint32, into: Numbers) -> None:
    """One channel divided by alpha, rounded; exact for all 256 x 256 cases in single precision."""
    for i in range(into.size):
        alpha = np.float32(max(_part(source[i], _ALPHA), np.int32(1)))
        into[i] = np.int32(np.float32(_part(source[i], shift)) * _MOST / alpha + _HALF)


def _matrix_row(colours: Numbers, row: Numbers, into: Words) -> None:
    red, green, blue = colours[0], colours[1], colours[2]
    row_of = (row[0], row[1], row[2], row[3])
    for i in range(into.size):
        into[i] = np.uint16(_weighed(row_of, red[i], green[i], blue[i], _PLACES))
