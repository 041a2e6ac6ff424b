"""The same overlay written by hand with moviepy, as a careful user would, against ours.

    python -m tests.benchmarks.moviepy_overlay [--seconds 2] [--ours 20] [--rounds 2]

By hand: the still page (tab and neck) is drawn once; what moves are small clips with positions: the cursor,
the sounding and the coming note on the tab and on the neck, the ringing string, the hand and the field it
covers. moviepy lays them over one another and writes the film itself. That is less than our scene shows,
which also marks notes as past, trails the hand and turns pages. Wall clock; what a process loads once is
loaded before, by hand as by us.
"""

import argparse
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.files.clip import load_moviepy
from pipeline.files.coders import straight
from pipeline.files.video import write_film
from tests.benchmarks.cores import in_chunks
from tests.benchmarks.encode import Size, rounds_of, size_of, table
from tests.benchmarks.filmed import RATE, drawn
from tests.files.overlays import write_overlay

PRORES = ["-profile:v", "4444", "-pix_fmt", "yuva444p10le", "-alpha_bits", "16", "-q:v", "2"]
H264 = ["-crf", "18", "-pix_fmt", "yuv420p"]
NOTES_A_SECOND = 8


def by_hand(size: Size, seconds: int, alpha: bool) -> Any:
    """The composed clip: the ground and eight sprites that move or jump from note to note."""
    moviepy = load_moviepy()
    width, height = size
    still = straight(next(iter(drawn("paged", size, RATE, 0, 1, not alpha))).canvas)
    ground = moviepy.ImageClip(still, transparent=alpha, duration=seconds)
    low, x = height * 3 // 4, width // 10

    def note(t: float, offset: int) -> int:
        return int(t * NOTES_A_SECOND) + offset

    def on_tab(offset: int) -> Callable[[float], tuple[int, int]]:
        return lambda t: (x + note(t, offset) * width // 96, height // 5)

    def on_neck(offset: int) -> Callable[[float], tuple[int, int]]:
        return lambda t: (x + note(t, offset) * 37 % 20 * width // 30, low)

    small, hand = (width // 40, width // 40), (width // 5, height // 3)
    places = [
        ((width // 200, height * 2 // 5), 160, lambda t: (x + t * width / 12, height // 20)),
        (small, 230, on_tab(0)),
        (small, 120, on_tab(1)),
        (small, 230, on_neck(0)),
        (small, 120, on_neck(1)),
        ((width * 9 // 10, 6), 200, lambda t: (width // 20, low + note(t, 0) % 6 * 30)),
        (hand, 40, lambda t: (x + int(t) % 3 * width // 5, height * 11 // 20)),
        ((width // 5, height // 30), 200, lambda t: (x + int(t) % 3 * width // 5, height * 9 // 10)),
    ]
    moving = [_sprite(moviepy, *shape, opacity, seconds).with_position(at) for shape, opacity, at in places]
    return moviepy.CompositeVideoClip([ground, *moving], size=size, bg_color=None if alpha else (0, 0, 0))


def _sprite(moviepy: Any, width: int, height: int, opacity: int, seconds: int) -> Any:
    pixels = np.full((height, width, 4), (240, 180, 60, opacity), dtype=np.uint8)
    return moviepy.ImageClip(pixels, duration=seconds)


def moviepy_makes(size: Size, seconds: int, alpha: bool, folder: Path) -> None:
    with by_hand(size, seconds, alpha) as clip:
        codec, params = ("prores_ks", PRORES) if alpha else ("libx264", H264)
        path = folder / ("hand.mov" if alpha else "hand.mp4")
        clip.write_videofile(
            str(path), fps=60, codec=codec, preset="veryfast", ffmpeg_params=params, audio=False, logger=None
        )


def we_make(size: Size, seconds: int, alpha: bool, folder: Path) -> None:
    write: Callable[..., object] = write_overlay if alpha else write_film
    frames = drawn("paged", size, RATE, 0, seconds * 60, not alpha)
    write(folder / ("ours.mov" if alpha else "ours.mp4"), frames, size, RATE)


def waited(work: Callable[..., object], *given: object) -> float:
    began = time.perf_counter()
    work(*given)
    return time.perf_counter() - began


def by_two(size: Size, seconds: int, alpha: bool, folder: Path) -> float:
    return in_chunks("paged", size, seconds * 60, folder, alpha, 2).ready


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--seconds", type=int, default=2)
    reader.add_argument("--ours", type=int, default=20, help="seconds of our film, a whole scene")
    reader.add_argument("--rounds", type=int, default=2)
    reader.add_argument("--size", type=size_of, default=(1920, 1080))
    given = reader.parse_args()
    rows: list[tuple[object, ...]] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for title, alpha in (("H.264", False), ("ProRes 4444", True)):
            load_moviepy()
            we_make(given.size, 1, alpha, folder)
            hand, ours, two = rounds_of(
                given.rounds,
                partial(waited, moviepy_makes, given.size, given.seconds, alpha, folder),
                partial(waited, we_make, given.size, given.ours, alpha, folder),
                partial(by_two, given.size, given.ours, alpha, folder),
            )
            per = [hand / given.seconds, ours / given.ours, two / given.ours]
            per = [seconds / 60 * 1000 for seconds in per]
            rows.append((title, *per, per[0] / per[1], per[0] / per[2]))
    head = ("codec", "moviepy", "ours, one process", "ours, two", "ratio", "ratio, two")
    table("Paged overlay, wall ms a frame", head, rows)


if __name__ == "__main__":
    main()
