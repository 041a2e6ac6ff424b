"""The small unevenness of a hand: onsets and strengths that a seed decides, known exactly."""

from collections.abc import Iterable
from fractions import Fraction

import numpy as np

from pipeline.timing import TimeMap

LARGEST_SHARE = 0.35
"""No onset moves by more than this share of the way to its neighbour."""


def loosened(moments: TimeMap, onsets: Iterable[Fraction], seed: int, spread: float, rate: int) -> TimeMap:
    """The map with each onset (beats) moved by about `spread` seconds, to a whole sample at `rate`.

    Its points are the onsets and the seconds at which they are then played: the truth to measure against.
    """
    beats = sorted(set(onsets))
    seconds = np.array([float(moments(beat)) for beat in beats])
    gaps = np.diff(seconds, prepend=seconds[:1] - 1, append=seconds[-1:] + 1)
    limit = LARGEST_SHARE * np.minimum(gaps[:-1], gaps[1:])
    moved = seconds + np.clip(np.random.default_rng(seed).normal(0, spread, len(beats)), -limit, limit)
    points = ((beat, Fraction(round(second * rate), rate)) for beat, second in zip(beats, moved, strict=True))
    return TimeMap(moments.source, moments.target, tuple(points))


def strengths(count: int, seed: int, spread: float = 0.12) -> tuple[float, ...]:
    """A strength near 1 for each of `count` notes."""
    return tuple(float(s) for s in np.random.default_rng(seed).normal(1, spread, count).clip(0.6, 1.4))
