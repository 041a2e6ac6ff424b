"""Two passes of the search: a coarse one at several tempos, then fine ones about its path."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from pipeline.sound.align_features import Features
from pipeline.sound.align_score import (
    FIT_WEIGHT,
    Event,
    bind,
    expected,
    length_scores,
    smooth_lengths,
    start_scores,
)
from pipeline.sound.align_search import NEVER, best_starts, chances, trace

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
TEMPOS = np.exp(0.11 * np.arange(-4, 5))
"""Lengths tried, over the expected ones: 0.64 to 1.55."""
COARSE = 2
"""Frames that the first pass takes as one."""
LOOSE, TIGHT = 0.22, 0.12
"""How freely lengths vary (standard deviation in natural logs) before and after the tempo is known."""
BAND_S = 0.24
"""How far the fine passes may leave the path of the pass before."""


@dataclass(frozen=True)
class Chain:
    """What one search needs, all in frames of `step` seconds: see `best_starts` for the shapes."""

    starts: Floats
    sums: Floats
    which: Ints
    share: Floats
    step: float

    def search(self, seconds: Floats, spread: float, low: Ints, high: Ints) -> tuple[float, Ints]:
        """The score and the frames of the best path for these expected lengths."""
        lengths = length_scores(seconds, self.step, spread)
        scores, back = best_starts(self.starts, self.sums, self.which, self.share, lengths, low, high)
        score, path = trace(scores, back, self.last(seconds))
        return float(score), path

    def chances(self, seconds: Floats, spread: float, low: Ints, high: Ints) -> Floats:
        """The chance of each start at each frame, (events, frames)."""
        lengths = length_scores(seconds, self.step, spread)
        last = self.last(seconds)
        return np.asarray(
            chances(self.starts, self.sums, self.which, self.share, lengths, low, high, last), np.float64
        )

    def last(self, seconds: Floats) -> Floats:
        """What the last event adds where it starts at each frame: the fit of most of its length and of as
        long as it rings on. Without the ringing, the note before would be drawn out to gather it.
        """
        frames = np.arange(self.starts.shape[1])
        ends = np.minimum(frames + max(1, int(0.7 * seconds[-1] / self.step)), len(frames))
        total = self.sums[self.which[-1]]
        ringing = np.maximum.accumulate(total[::-1])[::-1]
        return np.asarray(ringing[ends] - total[frames])


def summed(fit: Floats, step: float) -> Floats:
    """The running sums of the weighted fit, (sets, frames + 1)."""
    return np.pad(np.cumsum(fit * FIT_WEIGHT * step, axis=1), ((0, 0), (1, 0)))


@dataclass(frozen=True)
class Path:
    """Where the search put each event: seconds, the chance of each frame, the score, the tempo's factor."""

    seconds: Floats
    chances: Floats
    score: float
    slower: float


def find_path(
    features: Features,
    events: Sequence[Event],
    which: Ints,
    tempo: float,
    marks: Mapping[Fraction, Fraction],
) -> Path | None:
    """The best path of the events through the features, or None where none fits.

    `marks` maps beats to seconds from the first frame.
    """
    step = features.hop / features.rate
    starts = start_scores(features, events, which)
    share = np.array([event.sounds for event in events])
    coarse = coarsened(features, starts, which, share, step)
    bind(coarse.starts, events, marks, 1 / coarse.step)
    found = first_pass(coarse, events, tempo)
    if found is None:
        return None
    bind(starts, events, marks, 1 / step)
    fine = Chain(starts, summed(features.fit, step), which, share, step)
    path, slower = found[0] * COARSE, found[1]
    for _ in range(2):
        lengths, low, high = narrowed(events, path, fine)
        score, path = fine.search(lengths, TIGHT, low, high)
        if score <= NEVER / 2:
            return None
    return Path(np.asarray(path * step, np.float64), fine.chances(lengths, TIGHT, low, high), score, slower)


def coarsened(features: Features, starts: Floats, which: Ints, share: Floats, step: float) -> Chain:
    """The chain with `COARSE` frames taken as one: the best start and the mean fit of each."""
    frames = -(-features.frames // COARSE)
    spare = ((0, 0), (0, frames * COARSE - features.frames))
    fit = np.pad(features.fit, spare, mode="edge").reshape(-1, frames, COARSE).mean(axis=2)
    best = np.pad(starts, spare, mode="edge").reshape(-1, frames, COARSE).max(axis=2)
    return Chain(best, summed(fit, step * COARSE), which, share, step * COARSE)


def first_pass(chain: Chain, events: Sequence[Event], tempo: float) -> tuple[Ints, float] | None:
    """The best path over all tempos and the factor of its lengths."""
    frames = chain.starts.shape[1]
    low, high = np.arange(len(events)), frames - np.arange(len(events))[::-1]
    best: tuple[float, Ints, float] | None = None
    for slower in TEMPOS:
        score, path = chain.search(expected(events, tempo / slower), LOOSE, low, np.maximum(high, 0))
        if score > NEVER / 2 and (best is None or score > best[0]):
            best = score, path, float(slower)
    return None if best is None else best[1:]


def narrowed(events: Sequence[Event], path: Ints, chain: Chain) -> tuple[Floats, Ints, Ints]:
    """Expected lengths from the tempo along a path, and the band of frames about it.

    Beside a long note the band is half as wide as that, so that a path gone astray there may come back, and
    does not seem sure for want of another.
    """
    lengths = smooth_lengths(events, np.asarray(path * chain.step, np.float64))
    beside = np.maximum(lengths, np.append(0.0, lengths[:-1]))
    band = np.round(np.maximum(BAND_S, beside / 2) / chain.step).astype(np.int64)
    frames = chain.starts.shape[1]
    return lengths, np.maximum(0, path - band), np.minimum(frames, path + band + 1)
