"""Scenes as clips of moviepy, for users who script their own edits; and moviepy itself, made safe to import.

moviepy's own file writer rounds rates and does not look at ffmpeg's exit status, so it makes none of our
files. What it is for here: clips to work with, and the few frames in which two scenes overlap.
"""

import os
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt

from pipeline import ffmpeg
from pipeline.drawing.picture import Picture
from pipeline.files.frames import frames
from pipeline.files.raster import straight
from pipeline.sound.signal import Signal
from pipeline.timing import Rate

Pixels = npt.NDArray[np.uint8]


def load_moviepy() -> Any:
    """Import moviepy late. Left alone it would read a `.env` file and run the programs named there."""
    os.environ["PYTHON_DOTENV_DISABLED"] = "1"
    for program in ("FFMPEG_BINARY", "FFPLAY_BINARY"):
        os.environ[program] = str(ffmpeg.executable())
    import moviepy

    return moviepy


def scene_clip(
    picture_at: Callable[[Fraction], Picture],
    size: tuple[int, int],
    rate: Rate,
    count: int,
    sound: Signal | None = None,
) -> Any:
    """A moviepy `VideoClip` of `count` frames with a mask (its alpha) and the scene's sound.

    Colours are straight. Any moment may be asked for; going forward frame by frame costs only what changes.
    """
    moviepy = load_moviepy()
    drawn = Drawn(picture_at, rate, count)
    length = float(rate.time_of(count))
    mask = moviepy.VideoClip(lambda t: drawn.at(t)[:, :, 3] / 255.0, is_mask=True, duration=length)
    clip = moviepy.VideoClip(lambda t: drawn.at(t)[:, :, :3], duration=length).with_mask(mask)
    clip.size = mask.size = size
    if sound is not None:
        clip = clip.with_audio(_sound_clip(moviepy, sound))
    return clip.with_fps(float(rate.value))


class Drawn:
    """Frames of a scene by their moment, remembering the last one."""

    def __init__(self, picture_at: Callable[[Fraction], Picture], rate: Rate, count: int) -> None:
        self._picture_at, self._rate, self._count = picture_at, rate, count
        self._number, self._pixels = -1, np.zeros((0, 0, 4), dtype=np.uint8)
        self._coming = frames(picture_at, rate, 0, count)

    def at(self, second: float) -> Pixels:
        """Straight R, G, B, A of the frame on screen; moments a rounding error early count as that frame."""
        wanted = int(second * float(self._rate.value) + 1e-6)
        wanted = min(max(wanted, 0), self._count - 1)
        if wanted != self._number:
            self._draw(wanted)
        return self._pixels

    def _draw(self, wanted: int) -> None:
        if not self._number < wanted <= self._number + 50:
            self._coming = frames(self._picture_at, self._rate, wanted, self._count)
        for frame in self._coming:
            if frame.number == wanted:
                self._number, self._pixels = wanted, straight(frame.canvas)
                return


def _sound_clip(moviepy: Any, sound: Signal) -> Any:
    from moviepy.audio.AudioClip import AudioArrayClip

    samples = sound.samples if sound.channels > 1 else np.repeat(sound.samples, 2, axis=1)
    return AudioArrayClip(np.asarray(samples, dtype=np.float64), fps=sound.rate)
