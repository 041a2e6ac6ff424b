"""One plucked string as the sum of its damped partials.

A string plucked at a share b of its length moves partial k by sin(pi k b) / k**2; a pickup at a share c
hears its speed there, so it hears sin(pi k b) sin(pi k c) / k (N. H. Fletcher and T. D. Rossing, "The Physics
of Musical Instruments", 2nd ed., 1998, section 2.8). Losses rise with the square of frequency. All partials
share one phase, so pitch may move freely and is exact; sin(k x) and the decays follow from recurrences, so a
partial costs a few multiplications a sample, and where the pitch stands still only two: there each partial is
a two-pole resonator, set anew every block.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numba import njit

Wave = npt.NDArray[np.float64]

PARTIALS = 72
HIGHEST_HZ = 10500.0
_INAUDIBLE = 2e-5
"""Partials under this (-94 dB of full scale) are left out."""
_BLOCK, _TOGETHER = 256, 4
_STILL = 1e-9
"""Radians a sample by which the pitch of a still note may seem to move."""
_SETTLED = 0.015
_ATTACK, _STOP = 0.0004, 0.0012
"""Time constants in seconds: of a new touch, and of old vibration that a touch stops."""


@dataclass(frozen=True)
class Loss:
    """Decay in nepers a second: `steady` for every partial and `square` times k squared."""

    steady: float
    square: float

    def of(self, partials: Wave) -> Wave:
        return self.steady + self.square * partials**2


@dataclass(frozen=True, eq=False)
class Stage:
    """The string from one touch to the next: its phase in radians (one a sample), what the touch adds to
    each partial, which share of the old vibration it leaves, and the losses from then on."""

    phase: Wave
    added: Wave
    kept: float
    loss: Loss


def plucked(hertz: float, at: float, pickup: float, dullness: float) -> Wave:
    """Amplitudes of the partials (up to `PARTIALS`) for a pluck at a share of the string's length.

    Higher partials fall off by 1 / (1 + (f / dullness) ** 2), with `dullness` in hertz.
    """
    k = np.arange(1, min(PARTIALS, max(1, int(HIGHEST_HZ / hertz))) + 1, dtype=np.float64)
    soft = 1 / (1 + (k * hertz / dullness) ** 2)
    result: Wave = np.sin(np.pi * k * at) * np.sin(np.pi * k * pickup) / k * soft
    return result / max(1e-9, float(np.sqrt((result**2).sum())))


def ringing(stages: Iterable[Stage], rate: int) -> Wave:
    """The sound of a string that passes through the stages one after another."""
    amplitudes = np.zeros(PARTIALS)
    pieces = []
    for stage in stages:
        piece, amplitudes = _stage_sound(stage, amplitudes, rate)
        pieces.append(piece)
    return np.concatenate(pieces) if pieces else np.zeros(0)


def _stage_sound(stage: Stage, old: Wave, rate: int) -> tuple[Wave, Wave]:
    """The sound of one stage and the amplitudes that it ends with."""
    new = np.zeros(PARTIALS)
    new[: len(stage.added)] = stage.added
    count, early = len(stage.phase), min(len(stage.phase), round(_SETTLED * rate))
    time = np.arange(early) / rate
    steady, square = stage.loss.steady / rate, stage.loss.square / rate
    going = _summed(stage.phase[:early], 0, old, steady, square)
    coming = _summed(stage.phase[:early], 0, new, steady, square)
    sound = np.empty(count)
    sound[:early] = going * (stage.kept + (1 - stage.kept) * np.exp(-time / _STOP))
    sound[:early] += coming * (1 - np.exp(-time / _ATTACK))
    both = old * stage.kept + new
    sound[early:] = _summed(stage.phase[early:], early, both, steady, square)
    return sound, both * np.exp(-stage.loss.of(np.arange(1.0, PARTIALS + 1)) * count / rate)


def _summed(phase: Wave, first: int, amplitudes: Wave, steady: float, square: float) -> Wave:
    """The partials summed; losses are a sample here. The decay has run for `first` samples before."""
    if len(phase) >= _BLOCK:
        steps = np.diff(phase)
        if steps.max() - steps.min() < _STILL:
            step = float(phase[-1] - phase[0]) / (len(phase) - 1)
            resonating = _resonating(float(phase[0]), step, len(phase), first, amplitudes, steady, square)
            return np.asarray(resonating, dtype=np.float64)
    return np.asarray(_moving(phase, first, amplitudes, steady, square), dtype=np.float64)


@njit(cache=True)
def _heard(amplitudes: Wave, steady: float, square: float, age: float) -> int:  # pragma: no cover (compiled)
    """How many partials are still to be heard after `age` samples."""
    top = len(amplitudes)
    while top and abs(amplitudes[top - 1]) * np.exp(-(steady + square * top * top) * age) < _INAUDIBLE:
        top -= 1
    return top


@njit(cache=True, fastmath=True)
def _resonating(
    angle: float, step: float, count: int, first: int, amplitudes: Wave, steady: float, square: float
) -> Wave:  # pragma: no cover (compiled)
    """Partials of a still pitch: y[n] = 2 r cos(w) y[n-1] - r^2 y[n-2], `_TOGETHER` samples a turn."""
    total = np.zeros(count + _TOGETHER)
    size = len(amplitudes)
    turn, loss, old, new = np.empty(size), np.empty(size), np.empty(size), np.empty(size)
    for k in range(size):
        left = np.exp(-(steady + square * (k + 1) * (k + 1)))
        turn[k], loss[k] = 2 * left * np.cos((k + 1) * step), left * left
    for start in range(0, count, _BLOCK):
        age = float(first + start)
        top = _heard(amplitudes, steady, square, age)
        for k in range(top):
            fall = steady + square * (k + 1) * (k + 1)
            at = (k + 1) * (angle + step * start)
            old[k] = amplitudes[k] * np.exp(-fall * (age - 2)) * np.sin(at - 2 * (k + 1) * step)
            new[k] = amplitudes[k] * np.exp(-fall * (age - 1)) * np.sin(at - (k + 1) * step)
        for i in range(start, min(start + _BLOCK, count), _TOGETHER):
            one, two, three, four = 0.0, 0.0, 0.0, 0.0
            for k in range(top):
                a = turn[k] * new[k] - loss[k] * old[k]
                b = turn[k] * a - loss[k] * new[k]
                c = turn[k] * b - loss[k] * a
                d = turn[k] * c - loss[k] * b
                one, two, three, four = one + a, two + b, three + c, four + d
                old[k], new[k] = c, d
            total[i], total[i + 1], total[i + 2], total[i + 3] = one, two, three, four
    return total[:count]


@njit(cache=True, fastmath=True)
def _moving(
    phase: Wave, first: int, amplitudes: Wave, steady: float, square: float
) -> Wave:  # pragma: no cover (compiled)
    """Partials of any phase, summed in blocks that stay in the cache."""
    count, block = len(phase), _BLOCK
    total = np.zeros(count)
    decay, step, ratio = np.empty(block), np.empty(block), np.empty(block)
    sine, before, twice = np.empty(block), np.empty(block), np.empty(block)
    for start in range(0, count, block):
        size = min(count - start, block)
        age = first + start
        top = _heard(amplitudes, steady, square, age)
        for i in range(size):
            fall = np.exp(-square * (age + i))
            decay[i], step[i], ratio[i] = np.exp(-steady * (age + i)) * fall, fall * fall * fall, fall * fall
            angle = phase[start + i]
            sine[i], before[i], twice[i] = np.sin(angle), 0.0, 2 * np.cos(angle)
        for k in range(top):
            size_k = amplitudes[k]
            for i in range(size):
                total[start + i] += size_k * decay[i] * sine[i]
                following = twice[i] * sine[i] - before[i]
                before[i] = sine[i]
                sine[i] = following
                decay[i] *= step[i]
                step[i] *= ratio[i]
    return total
