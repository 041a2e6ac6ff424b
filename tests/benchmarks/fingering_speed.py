"""Processor time of finding readings, and how it grows with the number of notes.

    python -m tests.benchmarks.fingering_speed [--most N]

Lines are random walks of single notes with a chord now and then. Times are medians of several runs after
one run that loads the compiled search. The slope is that of log time over log notes: 1 is linear. Targets:
1,000 notes in 0.2 s, 10,000 in 2 s.
"""

import argparse
import random
import tracemalloc
from collections.abc import Callable
from fractions import Fraction
from math import log
from statistics import median
from time import process_time

from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.question import questions

SIZES = (100, 300, 1_000, 3_000, 10_000)
TARGETS = {1_000: 0.2, 10_000: 2.0}


def walk(count: int, seed: int = 1, chords: float = 0.0) -> Fragment:
    """A random line of about `count` notes."""
    rng, step = random.Random(seed), Fraction(1, 4)
    notes, pitch, moment = list[Note](), 64, 0
    while len(notes) < count:
        pitch = min(84, max(45, pitch + rng.randint(-5, 5)))
        above = (0, 5, 9) if rng.random() < chords and pitch < 70 else (0,)
        notes += [Note(moment * step, step, pitch + interval) for interval in above]
        moment += 1
    return Fragment("walk", Guitar(), tuple(notes), (Measure(Fraction(0), Fraction(moment)),))


def seconds(work: Callable[[], object], runs: int = 5) -> float:
    """Median processor time of some runs."""
    times = []
    for _ in range(runs):
        start = process_time()
        work()
        times.append(process_time() - start)
    return median(times)


def slope(sizes: list[int], times: list[float]) -> float:
    """Least-squares slope of log time over log size."""
    x, y = [log(s) for s in sizes], [log(t) for t in times]
    mx, my = sum(x) / len(x), sum(y) / len(y)
    return sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sum((a - mx) ** 2 for a in x)


def table(most: int, k: int, chords: float) -> list[str]:
    """Times of every size for k readings."""
    sizes = [size for size in SIZES if size <= most]
    fragments = [walk(size, chords=chords) for size in sizes]
    times = [seconds(lambda f=f: readings(f, k=k)) for f in fragments]  # type: ignore[misc]
    rows = [f"{k} reading(s), {chords:.0%} of moments chords"]
    for size, time in zip(sizes, times, strict=True):
        target = f"  target {TARGETS[size]} s" if size in TARGETS else ""
        rows.append(f"  {size:6d} notes  {time:7.3f} s{target}")
    return [*rows, f"  slope {slope(sizes, times):.2f}"]


def memory(most: int) -> str:
    """Peak memory of Python and numpy objects for two sizes, and their ratio."""
    peaks = []
    for size in (most // 10, most):
        tracemalloc.start()
        readings(walk(size), k=4)
        peaks.append(tracemalloc.get_traced_memory()[1] / 1e6)
        tracemalloc.stop()
    return f"peak memory {peaks[0]:.0f} MB and {peaks[1]:.0f} MB for ten times the notes"


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=10_000)
    most = parser.parse_args().most
    readings(walk(50, chords=0.2), k=4)
    for k, chords in ((1, 0.0), (4, 0.0), (4, 0.1)):
        print("\n".join(table(most, k, chords)))
    print(memory(most))
    few = walk(64)
    questions(few)
    print(f"the next question over 64 notes {seconds(lambda: questions(few)):.3f} s")


if __name__ == "__main__":
    main()
