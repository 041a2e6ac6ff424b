"""Sound as a picture's numbers: peaks for a waveform, and a spectrogram over a logarithmic scale of pitch.

Low rows are measured with a long window and high rows with a short one, so that both a bass note's pitch and
a pick's instant are seen.
"""

from functools import cache

import numpy as np
import numpy.typing as npt
from numpy.fft import rfft

Wave = npt.NDArray[np.float32]
Image = npt.NDArray[np.uint8]

RANGE_DB = 65.0
"""From the loudest place down to black."""
WINDOWS = ((110.0, 0.085), (440.0, 0.043), (1760.0, 0.021))
"""Hertz and the window in seconds that is right there; between them two pictures are blended."""
_BLOCK = 256


def peaks(wave: Wave, edges: npt.NDArray[np.int64]) -> npt.NDArray[np.float32]:
    """Lowest and highest sample (columns, 2) of a mono wave between each pair of neighbouring edges.

    Edges are sample numbers in rising order; a column without a sample takes the one at its left edge, and
    what lies outside the wave is silence.
    """
    if not len(wave):
        return np.zeros((len(edges) - 1, 2), np.float32)
    starts = np.clip(edges[:-1], 0, len(wave) - 1)
    ends = np.clip(edges[1:], starts + 1, len(wave))
    bounds = np.stack([starts, ends], axis=1).ravel()
    padded = np.append(wave, wave[-1])
    low = np.minimum.reduceat(padded, bounds)[::2]
    high = np.maximum.reduceat(padded, bounds)[::2]
    outside = (edges[1:] <= 0) | (edges[:-1] >= len(wave))
    found = np.stack([low, high], axis=1)
    found[outside] = 0
    return np.asarray(found, dtype=np.float32)


def row_hertz(rows: int, low: float, high: float) -> npt.NDArray[np.float64]:
    """The frequency at the middle of each row, the top row first."""
    share = (np.arange(rows)[::-1] + 0.5) / rows
    return np.asarray(low * (high / low) ** share, dtype=np.float64)


def spectrogram(
    wave: Wave,
    rate: int,
    centres: npt.NDArray[np.float64],
    rows: int,
    low: float,
    high: float,
) -> Image:
    """Levels (rows, columns) from 0 to 255 of a mono wave around the given seconds, high rows on top.

    255 is the loudest place and 0 lies `RANGE_DB` or more below it. Silence is all 0.
    """
    hertz = row_hertz(rows, low, high)
    levels = [_levels(wave, rate, centres, hertz, seconds) for _, seconds in WINDOWS]
    picture = np.zeros((rows, len(centres)))
    for share, part in zip(_shares(hertz), levels, strict=True):
        picture += share[:, None] * part
    top = picture.max(initial=0.0)
    if top <= 0:
        return np.zeros(picture.shape, np.uint8)
    decibels = 10 * np.log10(np.maximum(picture / top, 1e-12))
    return np.asarray(np.rint(np.clip(1 + decibels / RANGE_DB, 0, 1) * 255), dtype=np.uint8)


def _shares(hertz: npt.NDArray[np.float64]) -> list[npt.NDArray[np.float64]]:
    """How much each window counts at each frequency."""
    steps = np.log2([h for h, _ in WINDOWS])
    place = np.interp(np.log2(hertz), steps, np.arange(len(steps)))
    return [np.clip(1 - np.abs(place - number), 0, 1) for number in range(len(steps))]


def _levels(
    wave: Wave,
    rate: int,
    centres: npt.NDArray[np.float64],
    hertz: npt.NDArray[np.float64],
    seconds: float,
) -> npt.NDArray[np.float64]:
    """Power (rows, columns) with one window, scaled so that a steady tone reads the same with any."""
    size = round(seconds * rate) // 2 * 2
    taper = np.hanning(size + 1)[:-1]
    padded = 4 * _power_of_two(size)
    weights = _row_weights(tuple(hertz), padded, rate)
    middle = np.rint(centres * rate).astype(np.int64)
    framed = np.pad(wave.astype(np.float64), size)
    out = np.zeros((len(hertz), len(centres)))
    for start in range(0, len(centres), _BLOCK):
        first = np.clip(middle[start : start + _BLOCK] + size // 2, 0, len(framed) - size)
        frames = framed[first[:, None] + np.arange(size)] * taper
        power = np.abs(rfft(frames, padded, axis=1)) ** 2
        out[:, start : start + _BLOCK] = weights @ power.T
    return np.asarray(out / taper.sum() ** 2, dtype=np.float64)


def _power_of_two(size: int) -> int:
    return 1 << (size - 1).bit_length()


@cache
def _row_weights(hertz: tuple[float, ...], padded: int, rate: int) -> npt.NDArray[np.float64]:
    """For each row its weight on every bin: the mean over the row's width, or between two bins."""
    bins = np.arange(padded // 2 + 1) * rate / padded
    rows = np.array(hertz)
    half = max(float(np.sqrt(rows[0] / rows[1])), 1.0001) if len(rows) > 1 else 1.03
    width = np.maximum(rows * (half - 1 / half) / 2, rate / padded)
    weights = np.clip(1 - np.abs(bins[None, :] - rows[:, None]) / width[:, None], 0, None)
    return np.asarray(weights / np.maximum(weights.sum(axis=1, keepdims=True), 1e-12), dtype=np.float64)
