"""Overlays straight from frames, as the tests and benchmarks want them; a build makes them in pieces."""

from collections.abc import Iterable
from pathlib import Path

from pipeline.files import video
from pipeline.files.coders import AlphaCodec, changes
from pipeline.files.frames import Frame
from pipeline.files.mux import Sound
from pipeline.timing import Rate


def write_overlay(
    path: Path,
    frames: Iterable[Frame],
    size: tuple[int, int],
    rate: Rate,
    sound: Sound | None = None,
    codec: AlphaCodec = "prores",
) -> video.Written:
    """All frames in one go."""
    return video.write_overlay(path, changes(frames, size, codec), size, rate, sound, codec)
