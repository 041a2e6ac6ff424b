"""What our films cost against the encoder alone, and ProRes slices against whole frames.

    python -m tests.benchmarks.encode [--seconds 20] [--rounds 1] [--size 1920x1080] [--tables h264,prores]

Every table is made in one run: medians over the rounds, the ways taking turns. Cpu is of this process.
"""

import argparse
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from itertools import islice
from pathlib import Path
from statistics import median
from typing import Any
from zlib import crc32

import numpy as np

from pipeline.files.av_frames import planes_of, tagged_frame
from pipeline.files.boxes import IntBox
from pipeline.files.coders import ProresCoder, coded_frame
from pipeline.files.mux import reel
from pipeline.files.prores import padded_shape
from pipeline.files.prores_coder import prores_encoder
from pipeline.files.video import DRAWN, Coding, add_h264, write_film
from pipeline.files.yuv import deep_planes, to_420, to_444_alpha
from tests.benchmarks.filmed import KINDS, RATE, drawn

BATCH = 60
"""Frames that lie ready in memory at once."""
CODINGS = {"what is built": DRAWN, "veryfast alone": Coding("crf", 18, "open-gop=0:threads=1")}
"""Our own way, and the preset with nothing of ours but one thread, so that bytes repeat."""
Size = tuple[int, int]


def cpu_of(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


def ours_h264(kind: str, size: Size, count: int, folder: Path, coding: Coding) -> float:
    path, frames = folder / "ours.mp4", drawn(kind, size, RATE, 0, count, True)
    return cpu_of(lambda: write_film(path, frames, size, RATE, coding=coding))


def encoder_alone(kind: str, size: Size, count: int, folder: Path, coding: Coding) -> float:
    """The same encoder and file on 4:2:0 frames that lie ready; only encoding and writing are counted."""
    spent = 0.0
    with reel(folder / "alone.mp4", "mp4", RATE, {}) as film:
        coder = add_h264(film, size, coding).codec_context
        frames = ready_frames(kind, size, count)
        number = 0
        while batch := list(islice(frames, BATCH)):
            began = time.process_time()
            for frame in batch:
                frame.pts, frame.time_base = number, 1 / RATE.value
                number += 1
                for packet in coder.encode(frame):
                    film.lay(packet)
            spent += time.process_time() - began
        began = time.process_time()
        for packet in coder.encode(None):
            film.lay(packet)
    return spent + time.process_time() - began


def ready_frames(kind: str, size: Size, count: int) -> Iterator[Any]:
    whole = (IntBox(0, 0, *size),)
    for frame in drawn(kind, size, RATE, 0, count, True):
        ready = tagged_frame(*size, "yuv420p")
        to_420(frame.canvas, planes_of(ready, np.uint8), whole)
        yield ready


def spliced(kind: str, size: Size, count: int) -> tuple[float, list[int]]:
    """Seconds for drawing, converting and coding the changed slices; and a checksum of every packet."""
    coder, coded, sums, spent = ProresCoder(size), coded_frame("prores", size), [], 0.0
    frames = drawn(kind, size, RATE, 0, count, False)
    while True:
        began = time.process_time()
        frame = next(frames, None)
        packet = coded.renewed(coder.change(frame)) if frame else b""
        spent += time.process_time() - began
        if not frame:
            return spent, sums
        sums.append(crc32(packet))


def in_full(kind: str, size: Size, count: int) -> tuple[float, float, list[int]]:
    """Seconds for encoding every frame whole, from planes that lie ready; those with drawing (at the cost of
    what changed) and converting every frame whole; and a checksum of every packet."""
    planes, coder, sums = deep_planes(*padded_shape(*size)[::-1]), prores_encoder(*size), []
    frame, whole = tagged_frame(*size, "yuva444p10le"), (IntBox(0, 0, *size),)
    views, frames = planes_of(frame, np.uint16), drawn(kind, size, RATE, 0, count, False)
    alone = all_told = 0.0
    while True:
        began = time.process_time()
        one = next(frames, None)
        if not one:
            return alone, all_told, sums
        to_444_alpha(one.canvas, planes, whole)
        for view, plane in zip(views, planes, strict=True):
            view[:] = plane[: size[1], : size[0]]
        frame.pts, ready = one.number, time.process_time()
        (packet,) = coder.encode(frame)
        ended = time.process_time()
        alone, all_told = alone + ended - ready, all_told + ended - began
        sums.append(crc32(bytes(packet)))


def table(title: str, head: tuple[str, ...], rows: list[tuple[object, ...]]) -> None:
    print(f"\n{title}")
    shown = [head, *(tuple(f"{c:.3f}" if isinstance(c, float) else str(c) for c in row) for row in rows)]
    widths = [max(map(len, column)) for column in zip(*shown, strict=True)]
    for row in shown:
        print("  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)))


def rounds_of(count: int, *ways: Callable[[], float]) -> list[float]:
    """The median of each way, the ways taking turns."""
    found: list[list[float]] = [[] for _ in ways]
    for _ in range(count):
        for way, times in zip(ways, found, strict=True):
            times.append(way())
    return [median(times) for times in found]


def table_h264(kinds: Sequence[str], size: Size, count: int, rounds: int, folder: Path) -> None:
    rows: list[tuple[object, ...]] = []
    for name, coding in CODINGS.items():
        for kind in kinds:
            ours, alone = rounds_of(
                rounds,
                partial(ours_h264, kind, size, count, folder, coding),
                partial(encoder_alone, kind, size, count, folder, coding),
            )
            rows.append((name, kind, ours / count * 1000, alone / count * 1000, ours / alone))
    table("H.264, cpu ms a frame", ("settings", "scene", "whole pipeline", "encoder alone", "ratio"), rows)


def table_prores(kinds: Sequence[str], size: Size, count: int, rounds: int) -> None:
    rows: list[tuple[object, ...]] = []
    for kind in kinds:
        found, same = [], True
        for _ in range(rounds):
            fast, sums = spliced(kind, size, count)
            alone, all_told, whole = in_full(kind, size, count)
            found.append((fast, alone, all_told))
            same = same and sums == whole
        fast, alone, all_told = (median(times) / count * 1000 for times in zip(*found, strict=True))
        rows.append((kind, fast, alone, all_told, fast / alone, fast / all_told, same))
    head = (
        "scene",
        "drawn and spliced",
        "encoder alone",
        "drawn and converted",
        "ratio",
        "ratio",
        "same bytes",
    )
    table("ProRes 4444, cpu ms a frame: slices against whole frames", head, rows)


def size_of(text: str) -> Size:
    width, height = map(int, text.split("x"))
    return width, height


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--seconds", type=int, default=20)
    reader.add_argument("--rounds", type=int, default=1)
    reader.add_argument("--size", type=size_of, default=(1920, 1080))
    reader.add_argument("--tables", default="h264,prores")
    reader.add_argument("--kinds", default=",".join(KINDS))
    given = reader.parse_args()
    count, kinds = given.seconds * 60, given.kinds.split(",")
    with tempfile.TemporaryDirectory() as folder:
        for kind in kinds:  # what is loaded once a process is no part of a frame's cost
            ours_h264(kind, given.size, 2, Path(folder), DRAWN)
            spliced(kind, given.size, 2)
        if "h264" in given.tables:
            moving = [kind for kind in kinds if kind in KINDS[:2]]
            table_h264(moving, given.size, count, given.rounds, Path(folder))
        if "prores" in given.tables:
            table_prores(kinds, given.size, count, given.rounds)


if __name__ == "__main__":
    main()
