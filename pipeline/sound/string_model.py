"""One plucked string as the sum of its damped partials.

A string plucked at a share b of its length moves partial k by sin(pi k b) / k**2; a pickup at a share c
hears its speed there, so it hears sin(pi k b) sin(pi k c) / k (N. H. Fletcher and T. D. Rossing, "The Physics
of Musical Instruments", 2nd ed., 1998, section 2.8). Losses rise with the square of frequency. All partials
share one phase, so pitch may move freely and is exact; sin(k x) and the decays follow from recurrences, so a
partial costs a few multiplications a sample.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numba import njit

Wave = npt.NDArray[np.float64]

PARTIALS = 72
HIGHEST_HZ = 10500.0
_INAUDIBLE = 1e-5
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


@njit(cache=True, fastmath=True)
def _summed(
    phase: Wave, first: int, amplitudes: Wave, steady: float, square: float
) -> Wave:  # pragma: no cover (compiled)
    """The partials summed in blocks that stay in the cache; losses are a sample here.

    The decay has run for `first` samples before the phase starts.
    """
    count, block = len(phase), 256
    total = np.zeros(count)
    decay, step, ratio = np.empty(block), np.empty(block), np.empty(block)
    sine, before, twice = np.empty(block), np.empty(block), np.empty(block)
    for start in range(0, count, block):
        size = min(count - start, block)
        age = first + start
        top = len(amplitudes)
        while top and abs(amplitudes[top - 1]) * np.exp(-(steady + square * top * top) * age) < _INAUDIBLE:
            top -= 1
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
