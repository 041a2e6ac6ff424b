"""Two processes against one, on films made in pieces and joined as a build does it.

    python -m tests.benchmarks.cores [--seconds 20] [--rounds 1] [--size 1920x1080] [--kinds paged]

`ready` counts from when the processes have loaded what every film needs, as a build's workers have while the
script is read: they have drawn a small picture of the scene, none of this size. `from nothing` counts their
start too. Medians over the rounds, the ways taking turns.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import median
from typing import NamedTuple

from pipeline.files import pieces
from pipeline.files.chunks import Part, join_films, join_overlays
from pipeline.files.coders import changes
from pipeline.files.spans import chunk_spans
from pipeline.files.video import write_film
from tests.benchmarks.encode import Size, size_of, table
from tests.benchmarks.filmed import KINDS, RATE, drawn
from tests.files.overlays import write_overlay

SMALL = (320, 180)


class Waited(NamedTuple):
    """Wall seconds."""

    nothing: float
    """Since the processes were started."""
    ready: float
    """Since they had loaded what they need."""


def in_chunks(kind: str, size: Size, count: int, folder: Path, alpha: bool, processes: int) -> Waited:
    """What the pieces take, dealt out to so many processes, and joining them."""
    began, suffix = time.perf_counter(), "piece" if alpha else "mp4"
    pieces = [folder / f"{first}-{last}.{suffix}" for first, last in chunk_spans(count, RATE)]
    workers = [worker(kind, size, pieces[number::processes]) for number in range(processes)]
    for one in workers:
        assert one.stdout
        one.stdout.readline()
    ready = time.perf_counter()
    for one in workers:
        assert one.stdin
        one.stdin.write(b"go\n")
        one.stdin.flush()
    if any(one.wait() for one in workers):
        raise SystemExit("a piece failed")
    if alpha:
        join_overlays(folder / "all.mov", pieces, size, RATE)
    else:
        join_films(folder / "all.mp4", [Part(piece) for piece in pieces], RATE)
    ended = time.perf_counter()
    return Waited(ended - began, ended - ready)


def worker(kind: str, size: Size, pieces: list[Path]) -> "subprocess.Popen[bytes]":
    command = [sys.executable, "-m", "tests.benchmarks.cores", "--pieces", kind, f"{size[0]}x{size[1]}"]
    pipe = subprocess.PIPE
    return subprocess.Popen([*command, *map(str, pieces)], stdin=pipe, stdout=pipe)


def make_pieces(kind: str, size: str, *paths: str) -> None:
    """What a worker does: every path is named after its first and last frame."""
    pieces = [Path(path) for path in paths]
    write_piece(pieces[0].with_name(f"0-2-{pieces[0].name}"), kind, SMALL, 0, 2)
    print("ready", flush=True)
    sys.stdin.readline()
    for piece in pieces:
        first, last = map(int, piece.stem.split("-"))
        write_piece(piece, kind, size_of(size), first, last)


def write_piece(path: Path, kind: str, size: Size, first: int, last: int) -> None:
    frames = drawn(kind, size, RATE, first, last, path.suffix == ".mp4")
    if path.suffix == ".piece":
        pieces.write_piece(path, changes(frames, size))
    else:
        write: Callable[..., object] = write_overlay if path.suffix == ".mov" else write_film
        write(path, frames, size, RATE)


def taking_turns(count: int, *ways: Callable[[], Waited]) -> list[Waited]:
    """The medians of each way."""
    found = [[way() for way in ways] for _ in range(count)]
    return [Waited(*map(median, zip(*waited, strict=True))) for waited in zip(*found, strict=True)]


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--seconds", type=int, default=20)
    reader.add_argument("--rounds", type=int, default=1)
    reader.add_argument("--size", type=size_of, default=(1920, 1080))
    reader.add_argument("--kinds", default=",".join(KINDS[:2]))
    reader.add_argument("--pieces", nargs="+", help=argparse.SUPPRESS)
    given = reader.parse_args()
    if given.pieces:
        make_pieces(*given.pieces)
        return
    rows: list[tuple[object, ...]] = []
    with tempfile.TemporaryDirectory() as folder:
        for name, alpha in (("H.264", False), ("ProRes 4444", True)):
            for kind in given.kinds.split(","):
                film = partial(in_chunks, kind, given.size, given.seconds * 60, Path(folder), alpha)
                one, two = taking_turns(given.rounds, partial(film, 1), partial(film, 2))
                for state, single, double in zip(("from nothing", "ready"), one, two, strict=True):
                    rows.append((name, kind, state, single, double, single / double))
    head = ("codec", "scene", "workers", "one process, s", "two processes, s", "ratio")
    table("Pieces of five seconds, wall", head, rows)


if __name__ == "__main__":
    main()
