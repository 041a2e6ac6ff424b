"""Writes films: overlays with alpha and opaque ones, whole and exact to the frame or not at all.

A film goes to a temporary name, its frames and lengths are counted there, and only then does it get its own
name. Only for worker processes (`av`).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, NamedTuple

from pipeline.errors import Place, faulty
from pipeline.files.av_frames import tag
from pipeline.files.coders import ALPHA_TRACKS, AlphaCodec, OpaqueFrames, Size, coded_frame
from pipeline.files.film_facts import film_facts, shortcoming
from pipeline.files.frames import Frame, seldom_collected
from pipeline.files.mux import Reel, Sound, reel
from pipeline.files.place import digest, placed
from pipeline.files.prores import Change
from pipeline.timing import Rate

STRAIGHT = "alpha=straight"
"""Written into every overlay as its comment: MOV itself has no field for it."""


class Coding(NamedTuple):
    """How x264 is told what to spend. `quality` is of its `qp` or `crf`: lower is better and larger."""

    control: Literal["qp", "crf"]
    quality: int
    settings: str


JOINABLE = "open-gop=0:threads=1:bframes=0:weightp=0:stitchable=1:chroma-qp-offset=-6"
"""What holds for every film: bytes repeat, and films of drawn pictures and of footage can be joined. Colours
get finer steps than x264 gives them, as thin tinted lines that fade in would else come out grey."""
DRAWN = Coding("qp", 24, f"{JOINABLE}:me=dia:subme=1:scenecut=0:ipratio=2.5")
"""For pictures of ours: they move as a whole, so that a coarse search finds them; what stands keeps the finer
steps of its key frame; and one is so like the next that looking ahead gains nothing. On tab and neck, against
the preset at `crf` 18: half the work; light 52 dB for 50 where pages turn, 51 for 48 where a strip scrolls;
colours 57 and 56 for 51; files half larger and twice as large (0.9 and 2.3 Mbit a second)."""
FILMED = Coding("crf", 18, JOINABLE)
"""For footage, whose needs change from frame to frame."""


@dataclass(frozen=True)
class Written:
    """A film that stands at its final name."""

    path: Path
    frames: int

    @property
    def digest(self) -> str:
        """Of its bytes, read again: what was hashed while it was written would not tell of the disk."""
        return digest(self.path)


def write_overlay(
    path: Path,
    changes: Iterable[Change],
    size: Size,
    rate: Rate,
    sound: Sound | None = None,
    codec: AlphaCodec = "prores",
) -> Written:
    """A MOV with straight alpha out of what changes frame by frame, and 24-bit PCM sound where there is any.

    `size` is (width, height) in pixels. Raises Faulty where the disk refuses; the earlier file then stands.
    """
    with placed(path) as part:
        with reel(part, "mov", rate, {"comment": STRAIGHT}, sound) as film, seldom_collected():
            _add_overlay(film, size, codec)
            coded = coded_frame(codec, size)
            for change in changes:
                film.lay_bytes(coded.renewed(change))
        return checked(part, path, "mov", film)


def _add_overlay(film: Reel, size: Size, codec: AlphaCodec) -> None:
    """The track of an overlay. Its own encoder codes nothing; it tells the file what the packets are."""
    track = ALPHA_TRACKS[codec]
    opened = film.add_picture(track.encoder, size, track.layout, track.options)
    tag(opened.codec_context, rgb=track.rgb)


def write_film(
    path: Path,
    frames: Iterable[Frame],
    size: Size,
    rate: Rate,
    sound: Sound | None = None,
    coding: Coding = DRAWN,
) -> Written:
    """An opaque MP4: H.264 in BT.709, constant rate, AAC where there is sound. Width and height are even."""
    with placed(path) as part:
        with reel(part, "mp4", rate, {}, sound) as film, seldom_collected():
            track = add_h264(film, size, coding)
            encode_h264(film, track, frames, size)
        return checked(part, path, "mp4", film)


def add_h264(film: Reel, size: Size, coding: Coding) -> Any:
    """The track of H.264, with a key frame every two seconds."""
    options = {"preset": "veryfast", coding.control: str(coding.quality), "x264-params": coding.settings}
    track = film.add_picture("libx264", size, OpaqueFrames.layout, options)
    track.codec_context.gop_size = round(2 * film.rate.value)
    tag(track.codec_context)
    return track


def encode_h264(film: Reel, track: Any, frames: Iterable[Frame], size: Size) -> None:
    coder, length = track.codec_context, 1 / film.rate.value
    for number, picture in enumerate(OpaqueFrames(size).ahead(frames)):
        picture.pts, picture.time_base = number, length
        for packet in coder.encode(picture):
            film.lay(packet)
    for packet in coder.encode(None):
        film.lay(packet)


def checked(part: Path, path: Path, kind: str, film: Reel) -> Written:
    """Count what stands in a film before it gets its name. Raises Faulty where that is not what was laid."""
    if lacking := shortcoming(film_facts(part, kind), film.frames, film.rate):
        raise faulty(Place(str(path)), f"came out wrong: {lacking}", "build it again")
    return Written(path, film.frames)
