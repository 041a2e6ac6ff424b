"""Lays coded pictures and sound into a MOV or MP4 file: exact times, no dates, the same bytes every time.

Times are whole frames of a rational rate. Sound goes in step with the picture, so that nothing piles up in
memory, and ends with the last frame to the sample. Only worker processes may use this module: it imports
`av` when a file is opened.
"""

import math
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from pipeline.sound.signal import Signal
from pipeline.timing import Rate

Sound = Signal | Iterable[Signal]
"""A signal, or one that comes in blocks (the same rate and channels throughout, at least one)."""
SoundCodec = Literal["aac", "pcm_s24le"]

AAC_FRAME = 1024
"""Samples in a packet of AAC-LC (ISO/IEC 14496-3)."""
AAC_BITS = 192_000

FLAGS = {"mp4": "+faststart+write_colr", "mov": "+write_colr"}


class Reel:
    """An open film file with one picture track and perhaps one of sound."""

    def __init__(self, container: Any, rate: Rate, sound: "Feed | None") -> None:
        self.container = container
        self.rate = rate
        self.frames = 0
        self.picture: Any = None
        self._feed = sound
        self._sound: SoundTrack | None = None

    def add_picture(self, codec: str, size: tuple[int, int], layout: str, options: dict[str, str]) -> Any:
        """Open the picture track; its encoder states BT.709 where it carries YCbCr."""
        stream = self.container.add_stream(codec, rate=self.rate.value, options=options)
        coder = stream.codec_context
        coder.width, coder.height = size
        coder.pix_fmt = layout
        coder.time_base = stream.time_base = 1 / self.rate.value
        coder.thread_count = 1
        coder.flags |= _bitexact()
        self._add_sound()
        self.picture = stream
        return stream

    def add_copy(self, track: Any) -> None:
        """Open the picture track for packets that another file's track holds, as they are."""
        stream = self.container.add_stream_from_template(track, opaque=True)
        stream.time_base = 1 / self.rate.value
        self._add_sound()
        self.picture = stream

    def _add_sound(self) -> None:
        if self._feed:
            codec: SoundCodec = "aac" if self.container.format.name == "mp4" else "pcm_s24le"
            self._sound = SoundTrack(self.container, self._feed, codec)

    def lay(self, packet: Any) -> None:
        """Put a coded picture in; its times are in frames."""
        if self._sound:
            self._sound.up_to(self.rate.time_of(self.frames + 1))
        packet.stream = self.picture
        packet.time_base = 1 / self.rate.value
        packet.duration = 1
        self.container.mux(packet)
        self.frames += 1

    def lay_bytes(self, data: bytes) -> None:
        """Put in a picture that stands alone, as the next frame."""
        import av

        packet = av.Packet(data)
        packet.pts = packet.dts = self.frames
        packet.is_keyframe = True
        self.lay(packet)

    def end(self) -> None:
        """Finish the sound with the last frame."""
        if self._sound:
            self._sound.end(self.rate.time_of(self.frames))


class Feed:
    """Sound handed out piece by piece, with silence after its end."""

    def __init__(self, sound: Sound) -> None:
        self._blocks = iter([sound] if isinstance(sound, Signal) else sound)
        self._block = next(self._blocks)
        self.rate, self.channels = self._block.rate, self._block.channels
        self._at = 0

    def take(self, count: int) -> npt.NDArray[np.float32]:
        """The next samples, (count, channels)."""
        taken = np.zeros((count, self.channels), dtype=np.float32)
        done = 0
        while done < count and self._more():
            piece = self._block.samples[self._at : self._at + count - done]
            taken[done : done + len(piece)] = piece
            done, self._at = done + len(piece), self._at + len(piece)
        return taken

    def _more(self) -> bool:
        """Whether samples are left; goes on to the next block where one is used up."""
        while self._at >= len(self._block.samples):
            following = next(self._blocks, None)
            if following is None:
                return False
            self._block, self._at = following, 0
        return True


class SoundTrack:
    """Sound going into a file: cut or filled with silence to the length of the picture."""

    def __init__(self, container: Any, feed: Feed, codec: SoundCodec) -> None:
        self._container, self._feed, self._codec = container, feed, codec
        self._at = 0
        stream = container.add_stream(codec, rate=feed.rate)
        coder = stream.codec_context
        coder.layout = "mono" if feed.channels == 1 else "stereo"
        coder.flags |= _bitexact()
        if codec == "aac":
            coder.bit_rate = AAC_BITS
        self._stream = stream

    def up_to(self, second: Fraction) -> None:
        """Lay in the whole blocks that end before `second`."""
        while self._at + AAC_FRAME <= round(second * self._feed.rate):
            self._block(AAC_FRAME)

    def end(self, second: Fraction) -> None:
        self.up_to(second)
        if (left := round(second * self._feed.rate) - self._at) > 0:
            self._block(left)
        self._container.mux(self._stream.encode(None))

    def _block(self, count: int) -> None:
        import av

        layout = self._stream.codec_context.layout.name
        samples, kind = _for_codec(self._feed.take(count), self._codec)
        frame = av.AudioFrame.from_ndarray(samples, format=kind, layout=layout)
        frame.sample_rate, frame.pts = self._feed.rate, self._at
        frame.time_base = Fraction(1, self._feed.rate)
        self._at += count
        self._container.mux(self._stream.encode(frame))


def _for_codec(block: npt.NDArray[np.float32], codec: SoundCodec) -> tuple[npt.NDArray[Any], str]:
    """Planar floats for AAC; for PCM packed integers whose upper 24 bits count."""
    if codec == "aac":
        return np.ascontiguousarray(block.T), "fltp"
    steps = np.clip(np.rint(block.astype(np.float64) * (1 << 23)), -(1 << 23), (1 << 23) - 1)
    return (steps.astype(np.int32) << 8).reshape(1, -1), "s32"


@contextmanager
def reel(
    path: Path, kind: Literal["mov", "mp4"], rate: Rate, metadata: dict[str, str], sound: Sound | None = None
) -> Iterator[Reel]:
    """Open a film file for writing. Raises OSError where the disk refuses."""
    import av

    feed = None if sound is None else Feed(sound)
    options = {"movflags": FLAGS[kind], "fflags": "+bitexact", "movie_timescale": str(_ticks(rate, feed))}
    container = av.open(f"file:{path}", "w", format=kind, container_options=options)
    container.metadata.update(metadata)
    try:
        yield (opened := Reel(container, rate, feed))
        opened.end()
    finally:
        container.close()


def _ticks(rate: Rate, sound: Feed | None) -> int:
    """Ticks a second in which a whole number of frames and of samples are exact: edit lists count in them."""
    return math.lcm(rate.value.numerator, sound.rate if sound else 1)


def _bitexact() -> int:
    from av.codec.context import Flags

    return Flags.bitexact
