"""Where a film is cut into pieces that are made side by side: it hangs on its frames alone."""

from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise

from pipeline.timing import Rate

CHUNK = Fraction(5)
"""Seconds of a piece, about."""


def chunk_spans(frames: int, rate: Rate, also: Iterable[int] = ()) -> tuple[tuple[int, int], ...]:
    """Where a film of so many frames is cut: about every five seconds, and at the frames in `also`."""
    step = max(1, round(CHUNK * rate.value))
    cuts = sorted({0, frames, *range(step, frames - step // 2, step), *(n for n in also if 0 < n < frames)})
    return tuple(pairwise(cuts))
