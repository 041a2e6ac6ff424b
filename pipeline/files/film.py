"""A segment's film out of the films of its scenes: packets copied, only transitions encoded again.

A transition lies within the time of the scene that follows, so a segment is as long as its scenes together.
Only for worker processes (`av`).
"""

import tempfile
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, chain, islice
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from pipeline.drawing.picture import Colour
from pipeline.files.av_frames import rgb_of
from pipeline.files.boxes import IntBox
from pipeline.files.chunks import Part, join_films, opened, packets
from pipeline.files.frames import Frame
from pipeline.files.mux import Sound
from pipeline.files.transitions import Kind, blended
from pipeline.files.video import FILMED, Coding, Written, write_film
from pipeline.timing import Rate

Pixels = npt.NDArray[np.uint8]
BLACK = Colour(0, 0, 0)


@dataclass(frozen=True)
class SceneFilm:
    """A scene's opaque film without sound, its chapter's name, and how it follows the scene before it."""

    path: Path
    title: str = ""
    kind: Kind = "cut"
    lasting: int = 0
    """Frames of the transition."""


@dataclass(frozen=True)
class Settings:
    """How the scenes were encoded, so that what is encoded again fits to them."""

    size: tuple[int, int]
    rate: Rate
    coding: Coding = FILMED
    ground: Colour = BLACK


def write_segment(
    path: Path, scenes: Sequence[SceneFilm], how: Settings, sound: Sound | None = None, title: str = ""
) -> Written:
    """Join scenes into one MP4 with their transitions, chapters and sound.

    Raises Faulty where the disk refuses, ValueError where a scene was written with other settings.
    """
    lengths = [frame_count(scene.path) for scene in scenes]
    starts = [0, *accumulate(lengths)]
    named = [(start, scene.title) for start, scene in zip(starts, scenes, strict=False) if scene.title]
    with tempfile.TemporaryDirectory(prefix="fretscene-") as scratch:
        parts: list[Part] = []
        for number, scene in enumerate(scenes):
            before = scenes[number - 1].path if number else None
            parts += _parts(scene, before, lengths[number], how, Path(scratch) / f"{number}.mp4")
        return join_films(path, parts, how.rate, sound, _chapters(named, title), title)


def _chapters(named: list[tuple[int, str]], title: str) -> list[tuple[int, str]]:
    """Chapters start where the film does; a first scene without a name has the film's. One is no help."""
    if title and (not named or named[0][0] > 0):
        named = [(0, title), *named]
    if len(named) < 2:
        return []
    return [(0, named[0][1]), *named[1:]]


def _parts(scene: SceneFilm, before: Path | None, length: int, how: Settings, bridge: Path) -> list[Part]:
    lasting = 0 if scene.kind == "cut" else min(scene.lasting, length)
    if not lasting:
        return [Part(scene.path)]
    again = next((key for key in key_frames(scene.path, how.rate) if key >= lasting), length)
    frames = _as_frames(_bridged(scene, before, lasting, again, how))
    write_film(bridge, frames, how.size, how.rate, None, how.coding)
    return [Part(bridge), *([Part(scene.path, again)] if again < length else [])]


def _bridged(
    scene: SceneFilm, before: Path | None, lasting: int, again: int, how: Settings
) -> Iterator[Pixels]:
    """The blended frames, then those up to the next key frame as they are."""
    coming = decoded(scene.path)
    opening = list(islice(coming, lasting))
    last = _last(before) if before else np.full_like(opening[0], how.ground[:3])
    return chain(blended(scene.kind, last, opening, how.ground), islice(coming, again - lasting))


def decoded(path: Path) -> Iterator[Pixels]:
    """The frames of one of our films as R, G, B (h, w, 3), converted with the matrix that it states."""
    with opened(path, "mp4") as film:
        for frame in film.decode(video=0):
            yield rgb_of(frame, "rgb24")


def _last(path: Path) -> Pixels:
    """The last frame: decoding starts at the last key frame."""
    with opened(path, "mp4") as film:
        track = film.streams.video[0]
        film.seek(track.duration or 0, stream=track, backward=True)
        (last,) = deque(film.decode(track), maxlen=1)
        pixels: Pixels = rgb_of(last, "rgb24")
    return pixels


def frame_count(path: Path) -> int:
    """How many frames the film's index lists."""
    with opened(path, "mp4") as film:
        return int(film.streams.video[0].frames)


def key_frames(path: Path, rate: Rate) -> list[int]:
    """The frames at which decoding can start."""
    with opened(path, "mp4") as film:
        return [_number(packet, rate) for packet in packets(film) if packet.is_keyframe]


def _number(packet: Any, rate: Rate) -> int:
    return int(packet.pts * packet.time_base * rate.value)


def _as_frames(pictures: Iterator[Pixels]) -> Iterator[Frame]:
    for number, picture in enumerate(pictures):
        height, width, _ = picture.shape
        canvas = np.full((height, width, 4), 255, dtype=np.uint8)
        canvas[:, :, :3] = picture
        yield Frame(number, canvas, (IntBox(0, 0, width, height),))
