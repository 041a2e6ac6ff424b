"""Frames into coded pictures, at the cost of what changed. Only for worker processes (`av`).

Alpha is straight. Codecs whose pictures stand alone (ProRes, PNG, QuickTime Animation with key frames only)
tell what changes in the coded frame; where nothing does, its packet is the last one again.
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import islice
from typing import Any, Literal, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from pipeline.files.av_frames import pixels_of, planes_of, tag, tagged_frame
from pipeline.files.blend import as_pixels
from pipeline.files.frames import Frame
from pipeline.files.prores import Change, Grid, SlicedFrame, padded_shape, renewed
from pipeline.files.prores_coder import QUANTISER, SliceCoder
from pipeline.files.raster import straight
from pipeline.files.yuv import deep_planes, planes, seen_by, to_420, to_444_alpha

Size = tuple[int, int]
Pixels32 = npt.NDArray[np.uint32]
Bytes = npt.NDArray[np.uint8]
AlphaCodec = Literal["prores", "qtrle", "png"]
AHEAD = 32
"""Frames that are drawn before they are coded."""
AHEAD_BYTES = 32 << 20
"""What they may hold at most, but for the last of them."""
CHANNELS = {"rgba": (0, 1, 2, 3), "argb": (1, 2, 3, 0)}


class AlphaTrack(NamedTuple):
    """FFmpeg's names of an encoder and of the pixels it takes, and how it is set."""

    encoder: str
    layout: str
    options: dict[str, str]

    @property
    def rgb(self) -> bool:
        return self.layout in CHANNELS


ALPHA_TRACKS: dict[AlphaCodec, AlphaTrack] = {
    "prores": AlphaTrack("prores_ks", "yuva444p10le", {"profile": "4444", "alpha_bits": "16"}),
    "qtrle": AlphaTrack("qtrle", "argb", {"g": "1"}),
    "png": AlphaTrack("png", "rgba", {"compression_level": "1", "pred": "up"}),
}


class AlphaCoder(Protocol):
    """Gives what changes in the coded frame, frame by frame."""

    def change(self, frame: Frame) -> Change: ...


class CodedFrame(Protocol):
    """A coded frame that changes renew: the packet, the same object where nothing changed."""

    def renewed(self, change: Change) -> bytes: ...


class ProresCoder:
    """ProRes 4444 with 16 bits of alpha: a changed slice at a time."""

    def __init__(self, size: Size, quantiser: int = QUANTISER) -> None:
        rows, columns = padded_shape(*size)
        self._planes = deep_planes(columns, rows)
        self._slices = SliceCoder(*size, quantiser)
        self._seen: Pixels32 | None = None

    def change(self, frame: Frame) -> Change:
        """Only slices whose pixels differ from the last frame's are converted and coded."""
        grid, pixels = self._slices.grid, as_pixels(frame.canvas)
        if self._seen is None:
            self._seen, chosen, parts = pixels.copy(), grid.all(), grid.edges
        elif not any(frame.changed):
            return {}
        else:
            chosen = grid.touched(frame.changed)
            parts = renewed(pixels, self._seen, grid.edges[chosen])
            differ = parts[:, 0] < parts[:, 2]
            chosen, parts = chosen[differ], parts[differ]
        to_444_alpha(frame.canvas, self._planes, parts)
        return self._slices.coded(self._planes, chosen)


class RgbCoder:
    """A lossless codec of R, G, B and alpha, which codes frames whole."""

    def __init__(self, size: Size, track: AlphaTrack) -> None:
        self._coder = rgb_encoder(size, track)
        self._frame = tagged_frame(*size, track.layout)
        self._order = CHANNELS[track.layout]
        self._count = 0

    def change(self, frame: Frame) -> Change:
        if self._count and not any(frame.changed):
            return {}
        pixels = pixels_of(self._frame)
        for box in frame.changed:
            part = (slice(box.top, box.bottom), slice(box.left, box.right))
            colours = straight(frame.canvas[part])
            for channel, place in enumerate(self._order):
                pixels[part][:, :, place] = colours[:, :, channel]
        self._frame.pts, self._count = self._count, self._count + 1
        (coded,) = self._coder.encode(self._frame)
        return {0: bytes(coded)}


class WholeFrame:
    """A coded frame of one part."""

    def __init__(self) -> None:
        self._packet = b""

    def renewed(self, change: Change) -> bytes:
        self._packet = change.get(0, self._packet)
        return self._packet


def coded_frame(codec: AlphaCodec, size: Size) -> CodedFrame:
    """What turns the changes of a codec's coder into packets."""
    return SlicedFrame(Grid(*size).count) if codec == "prores" else WholeFrame()


def alpha_coder(codec: AlphaCodec, size: Size) -> AlphaCoder:
    """The coder for a codec's name in the script."""
    if codec == "prores":
        return ProresCoder(size)
    return RgbCoder(size, ALPHA_TRACKS[codec])


def changes(frames: Iterable[Frame], size: Size, codec: AlphaCodec = "prores") -> Iterator[Change]:
    """What changes in the coded frame, frame by frame; the first change holds all of it."""
    return map(alpha_coder(codec, size).change, frames)


def rgb_encoder(size: Size, track: AlphaTrack) -> Any:
    """The encoder of a lossless codec, opened on the first frame."""
    import av
    from av.codec.context import Flags

    coder: Any = av.CodecContext.create(track.encoder, "w")
    coder.width, coder.height = size
    coder.pix_fmt = track.layout
    coder.time_base = Fraction(1, 1000)
    coder.thread_count = 1
    coder.flags |= Flags.bitexact
    coder.options = dict(track.options)
    tag(coder, rgb=True)
    return coder


Patch = list[tuple[Bytes, Bytes]]
"""Parts of a coded frame's planes, and what is to stand there next."""


class OpaqueFrames:
    """A lasting 4:2:0 frame for H.264, kept up to date by the boxes that changed.

    Frames are converted ahead of what is coded: an encoder leaves nothing of ours in the processor's caches,
    so a few frames drawn in a row cost a third less than each between two that are coded.
    """

    layout = "yuv420p"

    def __init__(self, size: Size) -> None:
        self.frame = tagged_frame(*size, self.layout)
        self._coded, self._planes = planes_of(self.frame, np.uint8), planes(*size)

    def ahead(self, frames: Iterable[Frame]) -> Iterator[Any]:
        """The frame to be coded, once for each of the frames: it is the same one, brought up to date."""
        drawn = iter(frames)
        while patches := self._drawn_ahead(drawn):
            for patch in patches:
                for part, pixels in patch:
                    part[:] = pixels
                yield self.frame

    def _drawn_ahead(self, drawn: Iterator[Frame]) -> list[Patch]:
        patches, held = list[Patch](), 0
        for frame in islice(drawn, AHEAD):
            patches.append(self._patch(frame))
            held += sum(pixels.nbytes for _, pixels in patches[-1])
            if held > AHEAD_BYTES:
                break
        return patches

    def _patch(self, frame: Frame) -> Patch:
        """What a drawn frame changes in the coded one."""
        to_420(frame.canvas, self._planes, frame.changed)
        return [
            (coded[part], plane[part].copy())
            for box in frame.changed
            for coded, plane, part in zip(self._coded, self._planes, seen_by(box), strict=True)
        ]
