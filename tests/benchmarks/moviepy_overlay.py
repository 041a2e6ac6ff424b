"""The same overlay written by hand with moviepy, as a careful user would, against ours.

    python -m tests.benchmarks.moviepy_overlay [--seconds 2] [--rounds 2] [--size 1920x1080]

By hand: the still page (tab and neck) is drawn once; only a cursor, a mark on the tab and a mark on the neck
move, each a small clip with a position; moviepy lays them over one another and writes the film itself. That
is less than our scene shows, which also draws the hand, coming notes and pages that turn. Wall time.
"""

import argparse
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.files.clip import load_moviepy
from pipeline.files.coders import straight
from pipeline.files.video import write_film, write_overlay
from tests.benchmarks.encode import RATE, Size, in_chunks, rounds_of, size_of, table
from tests.benchmarks.filmed import drawn

PRORES = ["-profile:v", "4444", "-pix_fmt", "yuva444p10le", "-alpha_bits", "16", "-q:v", "2"]
H264 = ["-crf", "18", "-pix_fmt", "yuv420p"]
NOTES_A_SECOND = 8


def by_hand(size: Size, seconds: int, alpha: bool) -> Any:
    """The composed clip: ground, cursor, and two marks that jump from note to note."""
    moviepy = load_moviepy()
    still = straight(next(iter(drawn("paged", size, RATE, 0, 1, not alpha))).canvas)
    width, height = size
    ground = moviepy.ImageClip(still, transparent=alpha, duration=seconds)
    cursor = _sprite(moviepy, width // 200, height * 2 // 5, 160, seconds)
    mark, dot = (_sprite(moviepy, width // 40, width // 40, 230, seconds) for _ in range(2))
    x = width // 10
    moving = [
        cursor.with_position(lambda t: (x + t * width / 12, height // 20)),
        mark.with_position(lambda t: (x + int(t * NOTES_A_SECOND) * width // 96, height // 5)),
        dot.with_position(lambda t: (x + int(t * NOTES_A_SECOND) * 37 % 20 * width // 30, height * 3 // 4)),
    ]
    return moviepy.CompositeVideoClip([ground, *moving], size=size, bg_color=None if alpha else (0, 0, 0))


def _sprite(moviepy: Any, width: int, height: int, alpha: int, seconds: int) -> Any:
    pixels = np.full((height, width, 4), (240, 180, 60, alpha), dtype=np.uint8)
    return moviepy.ImageClip(pixels, duration=seconds)


def moviepy_seconds(size: Size, seconds: int, alpha: bool, folder: Path) -> float:
    began = time.perf_counter()
    with by_hand(size, seconds, alpha) as clip:
        codec, params = ("prores_ks", PRORES) if alpha else ("libx264", H264)
        path = folder / ("hand.mov" if alpha else "hand.mp4")
        clip.write_videofile(
            str(path), fps=60, codec=codec, preset="veryfast", ffmpeg_params=params, audio=False, logger=None
        )
    return time.perf_counter() - began


def our_seconds(size: Size, seconds: int, alpha: bool, folder: Path) -> float:
    write: Callable[..., object] = write_overlay if alpha else write_film
    began = time.perf_counter()
    frames = drawn("paged", size, RATE, 0, seconds * 60, not alpha)
    write(folder / ("ours.mov" if alpha else "ours.mp4"), frames, size, RATE)
    return time.perf_counter() - began


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--seconds", type=int, default=2)
    reader.add_argument("--rounds", type=int, default=2)
    reader.add_argument("--size", type=size_of, default=(1920, 1080))
    given = reader.parse_args()
    longer = 10 * given.seconds
    rows: list[tuple[object, ...]] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for title, alpha in (("H.264", False), ("ProRes 4444", True)):
            list(drawn("paged", given.size, RATE, 0, 2, not alpha))
            hand, ours, two = rounds_of(
                given.rounds,
                lambda alpha=alpha: moviepy_seconds(given.size, given.seconds, alpha, folder),  # type: ignore[misc]
                lambda alpha=alpha: our_seconds(given.size, given.seconds, alpha, folder),  # type: ignore[misc]
                lambda alpha=alpha: in_chunks("paged", given.size, longer * 60, folder, alpha, 2),  # type: ignore[misc]
            )
            frames = given.seconds * 60
            per = [hand / frames * 1000, ours / frames * 1000, two / (longer * 60) * 1000]
            rows.append((title, *per, per[0] / per[1], per[0] / per[2]))
    head = ("codec", "moviepy", "ours, one process", "ours, two", "ratio", "ratio, two")
    table("Paged overlay, wall ms a frame", head, rows)


if __name__ == "__main__":
    main()
