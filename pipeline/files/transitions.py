"""How a scene's first frames come out of the last frame before it: `dip` and `dissolve`, made by moviepy."""

from collections.abc import Iterator, Sequence
from contextlib import closing
from fractions import Fraction
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from pipeline.drawing.picture import Colour
from pipeline.files.clip import load_moviepy

Pixels = npt.NDArray[np.uint8]
Kind = Literal["cut", "dip", "dissolve"]

STEP = Fraction(1, 25)
"""Seconds a frame lasts inside the blend: only shares count here, the film has its own rate."""


def blended(kind: Kind, before: Pixels, opening: Sequence[Pixels], ground: Colour) -> Iterator[Pixels]:
    """The opening frames (h, w, 3) as they look in transition from the frame `before`.

    `dissolve` mixes frame i of n with the share (i + 1/2) / n. `dip` goes down to the ground in the first
    half of the frames and up again in the second.
    """
    moviepy = load_moviepy()
    if kind == "cut":
        yield from opening
        return
    clip = (_dissolve if kind == "dissolve" else _dip)(moviepy, before, opening, ground)
    with closing(clip):
        for number in range(len(opening)):
            yield np.ascontiguousarray(
                clip.get_frame(float((number + Fraction(1, 2)) * STEP)), dtype=np.uint8
            )


def _dissolve(moviepy: Any, before: Pixels, opening: Sequence[Pixels], ground: Colour) -> Any:
    del ground
    length = _seconds(len(opening))
    coming = _clip(moviepy, opening).with_effects([moviepy.vfx.CrossFadeIn(length)])
    return moviepy.CompositeVideoClip([moviepy.ImageClip(before, duration=length), coming])


def _dip(moviepy: Any, before: Pixels, opening: Sequence[Pixels], ground: Colour) -> Any:
    half = len(opening) // 2
    down, up = moviepy.vfx.FadeOut, moviepy.vfx.FadeIn
    colour = list(ground[:3])
    coming = _clip(moviepy, opening[half:]).with_effects([up(_seconds(len(opening) - half), colour)])
    if not half:
        return coming
    still = moviepy.ImageClip(before, duration=_seconds(half))
    going = still.with_effects([down(_seconds(half), colour)])
    return moviepy.concatenate_videoclips([going, coming])


def _clip(moviepy: Any, pictures: Sequence[Pixels]) -> Any:
    def at(second: float) -> Pixels:
        return pictures[min(int(second / float(STEP)), len(pictures) - 1)]

    return moviepy.VideoClip(at, duration=_seconds(len(pictures)))


def _seconds(count: int) -> float:
    return float(count * STEP)
