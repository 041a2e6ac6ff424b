"""Loudness and true peak as ITU-R BS.1770-5 and EBU R 128 measure them, in blocks of any size.

The filter coefficients at 48 kHz are those of BS.1770-5, annex 1, tables 1 and 2; gating follows EBU Tech
3341: blocks of 0.4 s every 0.1 s, an absolute gate at -70 LUFS, a relative one 10 LU below what passes it.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import resample_poly, sosfilt

from pipeline.sound.signal import Signal, let_go

Waves = npt.NDArray[np.float64]

RATE = 48000
TARGET_LUFS, CEILING_DBTP = -16.0, -1.0
K_FILTER = np.array(
    [
        [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585],
        [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621],
    ]
)
SURROUND = (1.0, 1.0, 1.0, 1.41, 1.41)
"""Weights of left, right, centre and the two surrounds."""
ABSOLUTE_GATE, RELATIVE_GATE = -70.0, -10.0
_OFFSET = -0.691
_STEP, _STEPS_A_BLOCK = RATE // 10, 4
OVERSAMPLED = 4
_EDGE = 32
_PIECE = RATE * 10


@dataclass(frozen=True)
class Level:
    """Integrated loudness in LUFS and true peak in dBTP; silence has minus infinity for both."""

    lufs: float
    dbtp: float


def level(sound: Signal | Iterable[Signal]) -> Level:
    """Measure a signal, or one that comes in blocks (48 kHz, the same channels throughout).

    Less than 0.4 s is measured as one block without a gate. Raises ValueError for another rate.
    """
    meter = Meter()
    for block in [sound] if isinstance(sound, Signal) else sound:
        for start in range(0, len(block.samples), _PIECE):
            meter.hear(Signal(block.samples[start : start + _PIECE], block.rate))
            let_go(block.samples)
    return meter.level


def gain_to(measured: Level, lufs: float = TARGET_LUFS, dbtp: float = CEILING_DBTP) -> float:
    """The factor that brings a sound to a loudness, or as near as its true peak lets it come."""
    if measured.lufs == -math.inf:
        return 1.0
    return float(10 ** (min(lufs - measured.lufs, dbtp - measured.dbtp) / 20))


class Meter:
    """Hears blocks one after another and knows the level of all of them together.

    Without `peaks`, which take the most time, its true peak is that of silence.
    """

    def __init__(self, peaks: bool = True) -> None:
        self._with_peaks = peaks
        self._filtered: Waves | None = None
        self._left = np.zeros((0, 1))
        self._tail, self._skip = np.zeros((0, 1)), 0
        self._steps: list[float] = []
        self._peak = 0.0

    def hear(self, block: Signal) -> None:
        if block.rate != RATE:
            raise ValueError(f"loudness is measured at {RATE} samples a second, not {block.rate}")
        wave = block.samples.astype(np.float64)
        if self._with_peaks:
            self._hear_peak(wave)
        if self._filtered is None:
            self._filtered = np.zeros((len(K_FILTER), 2, wave.shape[1]))
            self._left = np.zeros((0, wave.shape[1]))
        weighted, self._filtered = sosfilt(K_FILTER, wave, axis=0, zi=self._filtered)
        pending = np.concatenate([self._left, weighted])
        whole = len(pending) // _STEP * _STEP
        self._left = pending[whole:]
        self._steps.extend(_power(pending[:whole].reshape(-1, _STEP, wave.shape[1])))

    @property
    def level(self) -> Level:
        last = _peak_between(self._tail, self._skip, 0)
        return Level(self._loudness(), _decibels(max(self._peak, last)))

    def _hear_peak(self, wave: Waves) -> None:
        """A cut rings, so what lies near one is measured with the samples of the next block."""
        joined = np.concatenate([self._tail, wave]) if len(self._tail) else wave
        if len(joined) > 2 * _EDGE:
            self._peak = max(self._peak, _peak_between(joined, self._skip, _EDGE))
            joined, self._skip = joined[-2 * _EDGE :], _EDGE
        self._tail = joined

    def _loudness(self) -> float:
        if len(self._steps) < _STEPS_A_BLOCK:
            return self._short_loudness()
        blocks = np.convolve(self._steps, np.ones(_STEPS_A_BLOCK) / _STEPS_A_BLOCK, "valid")
        loud = blocks[_lufs(blocks) > ABSOLUTE_GATE]
        if not len(loud):
            return -math.inf
        kept = loud[_lufs(loud) > _lufs(loud.mean()) + RELATIVE_GATE]
        return float(_lufs(kept.mean()))

    def _short_loudness(self) -> float:
        count = len(self._steps) * _STEP + len(self._left)
        if not count:
            return -math.inf
        rest = float(_power(self._left[None])[0]) * len(self._left) if len(self._left) else 0.0
        return float(_lufs(np.float64((sum(self._steps) * _STEP + rest) / count)))


def _peak_between(wave: Waves, skip: int, spare: int) -> float:
    """The largest size that a sound reaches between its samples, linear; `skip` samples at the start and
    `spare` at the end are not looked at."""
    if len(wave) <= skip + spare:
        return 0.0
    fine = np.abs(resample_poly(wave, OVERSAMPLED, 1, axis=0))
    return float(fine[skip * OVERSAMPLED : len(fine) - spare * OVERSAMPLED].max())


def _power(blocks: Waves) -> Waves:
    """Weighted mean square of blocks (blocks, samples, channels)."""
    weights = np.array(SURROUND[: blocks.shape[2]])
    return np.asarray((blocks**2).mean(axis=1) @ weights, dtype=np.float64)


def _lufs(power: Waves | np.float64) -> Waves:
    return np.asarray(_OFFSET + 10 * np.log10(np.maximum(power, 1e-30)), dtype=np.float64)


def _decibels(size: float) -> float:
    return 20 * math.log10(size) if size > 0 else -math.inf
