"""How much memory films take as they get longer, and how long the first frame takes to come.

    python -m tests.benchmarks.memory [--seconds 5,60] [--size 1920x1080] [--codecs prores,h264]

Every film is written in a fresh process; `peak` is the most memory it held at once, interpreter and encoder
included. `first` is the time from the start of a process to the end of a film of one frame; `cold` is the
same where no compiled loop is kept yet. Wanted: under 400 MB at 1080p60, 1 GB at 4K60 for ten minutes, the
first frame within a second.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import NamedTuple

from tests.benchmarks.cores import write_piece
from tests.benchmarks.encode import size_of
from tests.benchmarks.many import as_at_home

SUFFIX = {"prores": "mov", "h264": "mp4"}


class Spent(NamedTuple):
    """What one process took: seconds of wall and processor, and its most memory in MB."""

    wall: float
    cpu: float
    peak: float


def written(kind: str, size: str, codec: str, frames: int, cache: Path | None = None) -> Spent:
    """A film of so many frames, written by a fresh process; `cache` is a folder for its compiled loops."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"film.{SUFFIX[codec]}"
        command = [
            sys.executable,
            "-m",
            "tests.benchmarks.memory",
            "--film",
            kind,
            size,
            str(frames),
            str(path),
        ]
        more = {"NUMBA_CACHE_DIR": str(cache)} if cache else {}
        began = time.perf_counter()
        process = subprocess.Popen(command, env=as_at_home() | more)
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode:
            raise SystemExit("a film failed")
    spent = usage.ru_utime + usage.ru_stime
    return Spent(time.perf_counter() - began, spent, usage.ru_maxrss / 1024)


def first_frame(kind: str, size: str, codec: str, rounds: int) -> None:
    """One frame, with the compiled loops kept and without."""
    warm = [written(kind, size, codec, 1) for _ in range(rounds)]
    with tempfile.TemporaryDirectory() as folder:
        cold = written(kind, size, codec, 1, Path(folder))
    wall, cpu = median(one.wall for one in warm), median(one.cpu for one in warm)
    print(
        f"{size:10} {codec:7} first frame: {wall:.2f} s ({cpu:.2f} cpu), "
        f"cold {cold.wall:.2f} s ({cold.cpu:.2f} cpu)",
        flush=True,
    )


def main() -> None:
    """Print a row a film."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--seconds", default="5,60")
    reader.add_argument("--rounds", type=int, default=3)
    reader.add_argument("--size", default="1920x1080")
    reader.add_argument("--codecs", default="prores,h264")
    reader.add_argument("--kinds", default="paged,scrolling")
    reader.add_argument("--film", nargs=4, help=argparse.SUPPRESS)
    given = reader.parse_args()
    if given.film:
        kind, size, frames, path = given.film
        write_piece(Path(path), kind, size_of(size), 0, int(frames))
        return
    for codec in given.codecs.split(","):
        first_frame("paged", given.size, codec, given.rounds)
        for kind in given.kinds.split(","):
            for seconds in map(int, given.seconds.split(",")):
                one = written(kind, given.size, codec, seconds * 60)
                print(
                    f"{given.size:10} {codec:7} {kind:10} {seconds:4} s: peak {one.peak:5.0f} MB, "
                    f"{1000 * one.cpu / seconds / 60:6.2f} cpu ms a frame",
                    flush=True,
                )


if __name__ == "__main__":
    main()
