"""The search behind the aligner: a semi-Markov chain of events, each with a length of its own.

`starts` scores say how well event j starts at frame t (-inf where it must not), `fit` sums say how well
the frames between agree with it, and `lengths` how likely its length is. Viterbi gives the best chain,
forward-backward the chance of each start (Rabiner 1989, with the explicit durations of section IV.D).
"""

import numpy as np
import numpy.typing as npt
from numba import njit

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
NEVER = -1e18


@njit(cache=True)
def best_starts(
    starts: Floats, sums: Floats, which: Ints, share: Floats, lengths: Floats, low: Ints, high: Ints
) -> tuple[Floats, Ints]:
    """Scores and back-pointers of each event at each frame.

    `starts` is (events, frames); `sums` (sets, frames + 1) accumulates the fit; `which` (events,) names an
    event's set; `share` (events,) is how much of its length sounds; `lengths` (events, longest + 1) scores
    a length in frames; `low` and `high` (events,) bound the frames that an event may start at.
    """
    events, frames = starts.shape
    longest = lengths.shape[1] - 1
    scores = np.full((events, frames), NEVER)
    back = np.zeros((events, frames), np.int64)
    for t in range(low[0], high[0]):
        scores[0, t] = starts[0, t]
    for j in range(1, events):
        total, part = sums[which[j - 1]], share[j - 1]
        for t in range(low[j], high[j]):
            if starts[j, t] <= NEVER:
                continue
            best, at = NEVER, 0
            for s in range(max(low[j - 1], t - longest), min(t, high[j - 1])):
                before = scores[j - 1, s]
                if before <= NEVER:
                    continue
                span = t - s
                end = s + int(part * span + 0.5)
                score = before + total[end] - total[s] + lengths[j - 1, span]
                if score > best:
                    best, at = score, s
            if best > NEVER:
                scores[j, t] = best + starts[j, t]
                back[j, t] = at
    return scores, back


@njit(cache=True)
def trace(scores: Floats, back: Ints, last: Floats) -> tuple[float, Ints]:
    """The best chain: its score and the frame of each event. `last` (frames,) adds the last event's."""
    events, frames = scores.shape
    path = np.zeros(events, np.int64)
    best = NEVER
    for t in range(frames):
        score = scores[events - 1, t] + last[t]
        if score > best:
            best = score
            path[events - 1] = t
    for j in range(events - 1, 0, -1):
        path[j - 1] = back[j, path[j]]
    return best, path


@njit(cache=True)
def chances(
    starts: Floats,
    sums: Floats,
    which: Ints,
    share: Floats,
    lengths: Floats,
    low: Ints,
    high: Ints,
    last: Floats,
) -> Floats:
    """The chance of each start, (events, frames), each row summing to 1. Arguments as `best_starts`."""
    ahead = _ahead(starts, sums, which, share, lengths, low, high)
    behind = _behind(starts, sums, which, share, lengths, low, high, last, ahead)
    out = np.zeros(starts.shape)
    for j in range(starts.shape[0]):
        joint = ahead[j] + behind[j]
        top = joint.max()
        if top > 2 * NEVER + 1e17:
            row = np.exp(np.maximum(joint - top, -700.0))
            row[joint <= NEVER] = 0.0
            out[j] = row / row.sum()
    return out


@njit(cache=True)
def _ahead(starts: Floats, sums: Floats, which: Ints, share: Floats, lengths: Floats,
           low: Ints, high: Ints) -> Floats:  # fmt: skip
    """The log of all ways to come to each start, that start included."""
    longest, ahead = lengths.shape[1] - 1, np.full(starts.shape, NEVER)
    for t in range(low[0], high[0]):
        ahead[0, t] = starts[0, t]
    for j in range(1, starts.shape[0]):
        total, part = sums[which[j - 1]], share[j - 1]
        for t in range(low[j], high[j]):
            if starts[j, t] <= NEVER:
                continue
            most, mass = NEVER, 0.0
            for s in range(max(low[j - 1], t - longest), min(t, high[j - 1])):
                if ahead[j - 1, s] <= NEVER:
                    continue
                end = s + int(part * (t - s) + 0.5)
                score = ahead[j - 1, s] + total[end] - total[s] + lengths[j - 1, t - s]
                most, mass = _with(most, mass, score)
            if mass > 0.0:
                ahead[j, t] = most + np.log(mass) + starts[j, t]
    return ahead


@njit(cache=True)
def _behind(starts: Floats, sums: Floats, which: Ints, share: Floats, lengths: Floats,
            low: Ints, high: Ints, last: Floats, ahead: Floats) -> Floats:  # fmt: skip
    """The log of all ways to go on from each start that can be come to."""
    events, longest = starts.shape[0], lengths.shape[1] - 1
    behind = np.full(starts.shape, NEVER)
    for t in range(low[events - 1], high[events - 1]):
        behind[events - 1, t] = last[t]
    for j in range(events - 2, -1, -1):
        total, part = sums[which[j]], share[j]
        for s in range(low[j], high[j]):
            if ahead[j, s] <= NEVER:
                continue
            most, mass = NEVER, 0.0
            for t in range(max(low[j + 1], s + 1), min(high[j + 1], s + longest + 1)):
                if behind[j + 1, t] <= NEVER or starts[j + 1, t] <= NEVER:
                    continue
                end = s + int(part * (t - s) + 0.5)
                score = behind[j + 1, t] + starts[j + 1, t] + total[end] - total[s] + lengths[j, t - s]
                most, mass = _with(most, mass, score)
            if mass > 0.0:
                behind[j, s] = most + np.log(mass)
    return behind


@njit(cache=True)
def _with(most: float, mass: float, score: float) -> tuple[float, float]:
    """A sum of exponentials, kept as `mass` times that of `most`, with one more."""
    if score > most:
        return score, mass * np.exp(most - score) + 1.0
    return most, mass + np.exp(score - most)
