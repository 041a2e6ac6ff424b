"""Encodes ProRes 4444 frames out of lasting planes, a changed slice at a time.

`av` is imported when a coder is made: its wheel bundles encoders under other licences than ours, and only
worker processes may load it.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

import numpy as np

from pipeline.files.av_frames import planes_of, tag, tagged_frame
from pipeline.files.prores import (
    LINES,
    Change,
    Grid,
    Numbers,
    Parts,
    Plane,
    pad_edges,
    sized,
    stacked,
    take_apart,
)

QUANTISER = 2
"""Fixed for every slice: 1 is finest. At 2 a drawn overlay comes back within about 63 dB."""
TALLEST = 256
"""Slices in one stack at most."""
LAMBDA = 118
"""FFmpeg's unit of a quantiser step (FF_QP2LAMBDA)."""


class SliceCoder:
    """Codes slices out of planes (Y, Cb, Cr, A: 10 bits in uint16, whole slices)."""

    def __init__(self, width: int, height: int, quantiser: int = QUANTISER) -> None:
        self.grid = Grid(width, height)
        self._quantiser = quantiser
        self._stacks: dict[tuple[int, int], Stack] = {}
        self._begun = False

    def coded(self, planes: Sequence[Plane], chosen: Numbers) -> Change:
        """The chosen slices by their numbers; the first time the header, too, as the part after the last."""
        change: Change = {}
        if not len(chosen):
            return change
        for plane in planes:
            pad_edges(plane, self.grid.width, self.grid.height)
        for width, same in self.grid.of_one_width(chosen):
            for group in _stacks_of(same):
                parts = self._stacked(planes, width, group)
                change.update(zip(group.tolist(), parts.slices, strict=True))
                if not self._begun:
                    self._begun = True
                    change[self.grid.count] = sized(parts.header, self.grid.width, self.grid.height)
        return change

    def _stacked(self, planes: Sequence[Plane], width: int, group: Numbers) -> Parts:
        key = (width, len(group))
        if key not in self._stacks:
            self._stacks[key] = Stack(width, len(group) * LINES, self._quantiser)
        stack = self._stacks[key]
        stacked(planes, self.grid, group, stack.planes)
        return take_apart(stack.encode())


def _stacks_of(same: Numbers) -> Iterator[Numbers]:
    """Slices of one width in stacks whose heights are powers of two: few encoders serve them all."""
    at = 0
    while (left := len(same) - at) > 0:
        count = min(TALLEST, 1 << left.bit_length() - 1)
        yield same[at : at + count]
        at += count


class Stack:
    """A narrow picture and its encoder."""

    def __init__(self, width: int, height: int, quantiser: int) -> None:
        self._encoder = prores_encoder(width, height, quantiser)
        self._frame = tagged_frame(width, height, "yuva444p10le")
        self.planes = planes_of(self._frame, np.uint16)
        self._count = 0

    def encode(self) -> bytes:
        self._frame.pts = self._count
        self._count += 1
        (packet,) = self._encoder.encode(self._frame)
        return bytes(packet)


def prores_encoder(width: int, height: int, quantiser: int = QUANTISER) -> Any:
    """FFmpeg's prores_ks for 4444 with 16 bits of alpha, every slice at one quantiser."""
    import av

    coder = av.CodecContext.create("prores_ks", "w")
    coder.width, coder.height, coder.pix_fmt = width, height, "yuva444p10le"
    coder.time_base = Fraction(1, 1000)
    coder.thread_count = 1
    flags = av.codec.context.Flags
    coder.flags |= flags.qscale | flags.bitexact
    coder.options = {"profile": "4444", "alpha_bits": "16", "global_quality": str(LAMBDA * quantiser)}
    tag(coder)
    return coder
