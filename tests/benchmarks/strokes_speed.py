"""Processor time of the k best stroke plans, and how it grows. Target: 1,000 notes, k = 5, in 0.2 s.

python -m tests.benchmarks.strokes_speed
"""

import random

from pipeline.reasoning.habits import Habits
from pipeline.reasoning.strokes import StrokeTask, stroke_plans
from tests.benchmarks.fingering_speed import seconds, slope

SIZES = (100, 300, 1_000, 3_000, 10_000)


def task(count: int, seed: int = 1) -> StrokeTask:
    """A random task: one moment in four changes string, one in eight is slurred, some are pinched."""
    rng = random.Random(seed)
    turns = tuple(0 if i == 0 else rng.choice((0, 0, 0, 1, 0, 0, 0, 2)) for i in range(count))
    kinds = tuple(
        "fresh" if i == 0 else "slurred" if rng.random() < 0.125 else "picked" for i in range(count)
    )
    pinched = tuple(kind == "picked" and rng.random() < 0.03 for kind in kinds)
    return StrokeTask(turns, kinds, pinched)


def main() -> None:
    """Print the table."""
    habits = Habits()
    for k in (1, 5):
        tasks = [task(size) for size in SIZES]
        times = [seconds(lambda t=t, k=k: stroke_plans(t, habits, k)) for t in tasks]  # type: ignore[misc]
        for size, time in zip(SIZES, times, strict=True):
            print(
                f"k = {k}  {size:6d} notes  {time:7.3f} s{'  target 0.2 s' if (k, size) == (5, 1000) else ''}"
            )
        print(f"k = {k}  slope {slope(list(SIZES), times):.2f}")


if __name__ == "__main__":
    main()
