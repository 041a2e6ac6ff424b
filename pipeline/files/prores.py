"""A ProRes picture in its slices, so that only those that changed are encoded again.

A frame is a header, a picture header, a table of slice sizes and the slices (SMPTE RDD 36:2015, clauses 5.1
to 5.3). At a fixed quantiser a slice depends on nothing but its own pixels: 16 lines of up to 128 columns.
So slices of one width are stacked into one narrow picture, encoded together, and laid into the last frame.
The result is the same, byte for byte, as encoding every frame whole.
"""

import struct
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from pipeline.files.boxes import IntBox
from pipeline.files.compiled import compiled

if TYPE_CHECKING:
    Plane = npt.NDArray[np.uint16]
    Pixels32 = npt.NDArray[np.uint32]
    Numbers = npt.NDArray[np.intp]
    Sizes = npt.NDArray[np.uint16]
else:
    Plane = Pixels32 = Numbers = Sizes = Any

Change = dict[int, bytes]
"""The parts of a coded frame that differ from the last one's, by their numbers."""

LINES = 16
WIDEST = 128
HEADER = 8
"""Bytes of frame size and `icpf` before the frame header."""
PICTURE_HEADER = 8
SIZE = np.dtype(">u2")
"""How the size of a slice is written."""


@dataclass(frozen=True)
class Grid:
    """The slices of a picture of width × height pixels, numbered row by row from 0."""

    width: int
    height: int

    @cached_property
    def columns(self) -> tuple[tuple[int, int], ...]:
        """Left edge and width of every column: 128, at the right end the powers of two that are left."""
        edges, x, wide = [], 0, WIDEST
        padded = -(-self.width // LINES) * LINES
        while x < padded:
            while padded - x < wide:
                wide //= 2
            edges.append((x, wide))
            x += wide
        return tuple(edges)

    @property
    def rows(self) -> int:
        return -(-self.height // LINES)

    @property
    def count(self) -> int:
        return self.rows * len(self.columns)

    def touched(self, boxes: Iterable[IntBox]) -> Numbers:
        """The numbers of the slices that meet any of the boxes, rising."""
        mask = np.zeros((self.rows, len(self.columns)), dtype=bool)
        for box in boxes:
            if box:
                rows = slice(box.top // LINES, -(-box.bottom // LINES))
                mask[rows, self._column_of(box.left) : self._column_of(box.right - 1) + 1] = True
        return np.flatnonzero(mask)

    def all(self) -> Numbers:
        return np.arange(self.count)

    @cached_property
    def edges(self) -> Numbers:
        """Left, top, right, bottom of every slice, within the picture: (count, 4)."""
        across = [(left, min(left + wide, self.width)) for left, wide in self.columns]
        down = [(y, min(y + LINES, self.height)) for y in range(0, self.height, LINES)]
        return np.array([(left, y, right, end) for y, end in down for left, right in across])

    def of_one_width(self, chosen: Numbers) -> Iterator[tuple[int, Numbers]]:
        """The chosen slices sorted by how many columns they cover: (width, numbers)."""
        wide = self._widths[chosen % len(self.columns)]
        for width in sorted(set(wide.tolist()), reverse=True):
            yield width, chosen[wide == width]

    @cached_property
    def _widths(self) -> Numbers:
        return np.array([width for _, width in self.columns])

    def _column_of(self, x: int) -> int:
        last = len(self.columns) - 1
        for column in range(min(x // WIDEST, last), last + 1):
            left, wide = self.columns[column]
            if x < left + wide:
                return column
        return last


@dataclass(frozen=True)
class Parts:
    """A frame taken apart: its header (without size and `icpf`), and its slices."""

    header: bytes
    slices: tuple[bytes, ...]


def take_apart(packet: bytes) -> Parts:
    """Split a progressive frame. Raises ValueError where it is none."""
    size, sign, header_size = struct.unpack_from(">I4sH", packet)
    if sign != b"icpf" or size != len(packet):
        raise ValueError("no whole ProRes frame")
    picture = HEADER + header_size
    head, _, count = struct.unpack_from(">BIH", packet, picture)
    table = picture + (head >> 3)
    sizes = struct.unpack_from(f">{count}H", packet, table)
    at, slices = table + 2 * count, []
    for length in sizes:
        slices.append(packet[at : at + length])
        at += length
    if at != len(packet):
        raise ValueError("the slices do not fill the ProRes frame")
    return Parts(packet[HEADER:picture], tuple(slices))


def put_together(header: bytes, slices: Sequence[bytes]) -> bytes:
    """The frame with these slices: sizes and counts are written anew. Inverse of `take_apart`."""
    return framed(header, np.array([len(one) for one in slices], SIZE), slices)


def framed(header: bytes, sizes: Sizes, slices: Iterable[bytes]) -> bytes:
    """The frame with these slices, whose sizes are known."""
    picture_size = PICTURE_HEADER + sizes.nbytes + int(sizes.sum(dtype=np.int64))
    wide = WIDEST // LINES
    picture = struct.pack(">BIHB", PICTURE_HEADER << 3, picture_size, len(sizes), wide.bit_length() - 1 << 4)
    size = HEADER + len(header) + picture_size
    return b"".join((struct.pack(">I4s", size, b"icpf"), header, picture, sizes.tobytes(), *slices))


class SlicedFrame:
    """A coded frame kept in its slices, of which changes renew some; the header counts as one more part."""

    def __init__(self, count: int) -> None:
        self._parts = [b""] * (count + 1)
        self._sizes = np.zeros(count, SIZE)
        self._packet = b""

    def renewed(self, change: Change) -> bytes:
        """The frame after a change; without one it is the same object."""
        if change:
            header = len(self._sizes)
            for number, part in change.items():
                self._parts[number] = part
                if number < header:
                    self._sizes[number] = len(part)
            self._packet = framed(self._parts[header], self._sizes, islice(self._parts, header))
        return self._packet


def sized(header: bytes, width: int, height: int) -> bytes:
    """The same frame header for another picture size (RDD 36 clause 5.1.1: bytes 8 to 11)."""
    return header[:8] + struct.pack(">HH", width, height) + header[12:]


def renewed(pixels: Pixels32, seen: Pixels32, edges: Numbers) -> Numbers:
    """The part of each box that holds all its pixels that are not those seen last; then they are seen.

    A changed box covers more than what changed: over half of the slices that a moving strip touches hold the
    same lines as before, and comparing costs a fiftieth of coding. Nothing differs where the part is empty.
    """
    parts: Numbers = np.empty_like(edges)
    _compare(pixels, seen, edges, parts)
    return parts


@compiled("uint32[:, ::1]", "uint32[:, ::1]", "int64[:, ::1]", "int64[:, ::1]")
def _compare(pixels: Pixels32, seen: Pixels32, edges: Numbers, parts: Numbers) -> None:
    for i in range(edges.shape[0]):
        left, top, right, bottom = edges[i, 2], edges[i, 3], edges[i, 0], edges[i, 1]
        for row in range(edges[i, 1], edges[i, 3]):
            new, old = pixels[row, edges[i, 0] : edges[i, 2]], seen[row, edges[i, 0] : edges[i, 2]]
            differs = np.uint32(0)
            for column in range(new.size):
                differs |= np.uint32(new[column] ^ old[column])
            if differs:
                top, bottom = min(top, row), row + 1
                first, last = 0, new.size - 1
                while edges[i, 0] + first < left and new[first] == old[first]:
                    first += 1
                while edges[i, 0] + last >= right and new[last] == old[last]:
                    last -= 1
                left, right = min(left, edges[i, 0] + first), max(right, edges[i, 0] + last + 1)
                for column in range(new.size):
                    old[column] = new[column]
        parts[i, 0], parts[i, 1], parts[i, 2], parts[i, 3] = left, top, right, bottom


def stacked(planes: Sequence[Plane], grid: Grid, chosen: Numbers, into: Sequence[Plane]) -> None:
    """Copy slices of one width out of padded planes into narrow planes, one below the other."""
    corners = grid.edges[chosen]
    for plane, target in zip(planes, into, strict=True):
        _copied(plane, corners, target, target.shape[1])


@compiled("uint16[:, :]", "int64[:, ::1]", "uint16[:, :]", "int64")
def _copied(plane: Plane, corners: Numbers, into: Plane, width: int) -> None:
    for i in range(corners.shape[0]):
        left, top = corners[i, 0], corners[i, 1]
        for row in range(LINES):
            source, target = plane[top + row, left : left + width], into[i * LINES + row, :width]
            for column in range(target.size):
                target[column] = source[column]


def pad_edges(plane: Plane, width: int, height: int) -> None:
    """Repeat the last column and line into the padding, as the encoder does with a picture's edge."""
    plane[:height, width:] = plane[:height, width - 1 : width]
    plane[height:] = plane[height - 1]


def padded_shape(width: int, height: int) -> tuple[int, int]:
    """Rows and columns of a plane that holds whole slices."""
    return -(-height // LINES) * LINES, -(-width // LINES) * LINES
