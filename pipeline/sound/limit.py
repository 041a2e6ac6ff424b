"""A limiter that looks ahead: true peaks stay under a ceiling, without distortion or a step in the level.

The gain at each sample depends only on the samples near it, so that pieces cut anywhere give the same sound.
"""

from collections.abc import Iterable, Iterator

import numpy as np
import numpy.typing as npt
from scipy.ndimage import minimum_filter1d
from scipy.signal import oaconvolve, resample_poly

from pipeline.sound.loudness import OVERSAMPLED
from pipeline.sound.signal import Signal

Waves = npt.NDArray[np.float64]

REACH = 480
"""Samples before and after a peak over which the gain goes down and up again: 10 ms at 48 kHz."""
_SAFETY = 10 ** (-0.1 / 20)
_MARGIN = 2 * REACH + 64


def limited(blocks: Iterable[Signal], dbtp: float) -> Iterator[Signal]:
    """The same sound in the same blocks, its true peaks at most `dbtp`.

    Every block but the last must be longer than twice `REACH` and a little.
    """
    ceiling = 10 ** (dbtp / 20) * _SAFETY
    behind: Signal | None = None
    lead = 0
    for block in blocks:
        if behind is not None:
            yield _inner(behind, lead, block.samples[:_MARGIN], ceiling)
            kept = behind.samples[-_MARGIN:]
            lead = len(kept)
            block = Signal(np.concatenate([kept, block.samples]), block.rate)
        behind = block
    if behind is not None:
        yield _inner(behind, lead, behind.samples[:0], ceiling)


def _inner(block: Signal, lead: int, after: npt.NDArray[np.float32], ceiling: float) -> Signal:
    """The block without the samples before and after that only help to find its gain."""
    wave = np.concatenate([block.samples, after]).astype(np.float64)
    turned = wave * _gain(wave, ceiling)[:, None]
    return Signal(turned[lead : len(block.samples)].astype(np.float32), block.rate)


def _gain(wave: Waves, ceiling: float) -> Waves:
    """A smooth gain (0 to 1) that is low enough wherever a peak lies."""
    fine = np.abs(resample_poly(wave, OVERSAMPLED, 1, axis=0)).max(axis=1)
    peaks = fine.reshape(-1, OVERSAMPLED).max(axis=1)
    peaks = np.maximum(peaks, np.append(peaks[1:], 0.0))
    if peaks.max(initial=0.0) <= ceiling:
        return np.ones(len(wave))
    wanted = np.minimum(1.0, ceiling / np.maximum(peaks, 1e-9))
    held = minimum_filter1d(wanted, 2 * REACH + 1, mode="nearest")
    taper = np.hanning(2 * REACH + 3)[1:-1]
    smooth = oaconvolve(np.pad(held, REACH, mode="edge"), taper / taper.sum(), mode="valid")
    return np.asarray(np.minimum(smooth, 1.0), dtype=np.float64)
