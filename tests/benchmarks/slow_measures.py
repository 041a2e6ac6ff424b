"""Measures of a slowed note: when its attack comes, how long it rises, its pitch, its spectrum.

Waves are mono, at `RATE` samples a second.
"""

import numpy as np
import numpy.typing as npt
from scipy.ndimage import uniform_filter1d
from scipy.signal import butter, sosfilt

RATE = 48000
Wave = npt.NDArray[np.float64]
PARTIALS, WITHIN_CENTS = 12, 60.0


def envelope(wave: Wave) -> Wave:
    """The size of what lies above 1 kHz, smoothed over a millisecond."""
    high = sosfilt(butter(2, 1000, "highpass", fs=RATE, output="sos"), wave)
    return np.asarray(np.sqrt(uniform_filter1d(np.asarray(high) ** 2, 48) + 1e-12), dtype=np.float64)


def attack(size: Wave, near: int, reach: int) -> tuple[float, float]:
    """The sample of the steepest rise within `reach`, and the samples from 20 to 80 % of its top."""
    start, step = max(near - reach, 144), 144
    part = size[start : near + reach]
    rise = part[step:] - part[:-step]
    at = start + int(np.argmax(rise)) + step // 2
    piece = size[max(0, at - reach // 2) : at + reach // 2]
    top, floor = float(piece.max()), float(piece[: int(np.argmax(piece)) + 1].min())
    before = piece[: int(np.argmax(piece)) + 1]
    low = int(np.flatnonzero(before <= floor + 0.2 * (top - floor))[-1])
    high = low + int(np.argmax(before[low:] >= floor + 0.8 * (top - floor)))
    return float(at), float(max(high - low, 1))


def lateness(source: Wave, onset: float, out: Wave, moment: float, reach: float) -> float:
    """Seconds by which the place of the output that is most like the source's attack comes late."""
    first, near, spread = round((onset - 0.005) * RATE), round((moment - 0.005) * RATE), round(reach)
    shape = np.diff(source[first : first + round(0.02 * RATE)])
    field = np.diff(out[max(near - spread, 0) : near + spread + len(shape) + 1])
    power = uniform_filter1d(field**2, len(shape), origin=-(len(shape) // 2))[: len(field) - len(shape) + 1]
    likeness = np.correlate(field, shape, "valid") / np.sqrt(power + 1e-9 + 0.01 * power.max())
    return float(int(np.argmax(likeness)) + max(near - spread, 0) - near) / RATE


def copied(source: Wave, onset: float, out: Wave, moment: float, reach: float) -> float | None:
    """Seconds by which the first samples of an attack come late, bit for bit the source's; None if nowhere.

    `lateness` asks what is most like an attack, and in repeated or overdriven notes that may be elsewhere.
    """
    at = round(onset * RATE)
    piece = source[at - 24 : at + 120].astype(np.float32)
    first = max(round(moment * RATE) - 24 - round(reach), 0)
    field = out[first : first + 2 * round(reach) + len(piece)].astype(np.float32)
    starts = np.flatnonzero(field[: len(field) - len(piece) + 1] == piece[0])
    places = [int(s) for s in starts if np.array_equal(field[s : s + len(piece)], piece)]
    late = [(first + 24 + place) / RATE - moment for place in places]
    return min(late, key=abs) if late else None


def pitch_of(wave: Wave, near: float) -> float:
    """The strongest place of a long spectrum within 60 cents of a frequency, in hertz; 0 where none is."""
    size = 1 << 18
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), size))
    low, high = int(near * 0.966 / RATE * size), int(near * 1.035 / RATE * size) + 1
    peak = low + int(np.argmax(spectrum[low:high]))
    a, b, c = np.log(spectrum[peak - 1 : peak + 2] + 1e-12)
    return float((peak + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / size)


def tuned(wave: Wave, near: float) -> float:
    """The fundamental that explains twelve partials best, within 60 cents of a frequency, in hertz.

    The sum of the power at its multiples: approximate non-linear least squares (M. Christensen and
    A. Jakobsson, "Multi-Pitch Estimation", 2009). One partial that wanders does not sway it.
    """
    size = 1 << 18
    power = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), size)) ** 2
    steps = near * 2 ** (np.arange(-WITHIN_CENTS, WITHIN_CENTS + 0.1, 0.25) / 1200)
    count = max(1, min(PARTIALS, int(10000 / near)))
    places = np.arange(1, count + 1)[:, None] * steps * size / RATE
    sums = np.interp(places, np.arange(len(power)), power).sum(axis=0)
    top = min(max(int(np.argmax(sums)), 1), len(steps) - 2)
    a, b, c = sums[top - 1 : top + 2]
    aside = 0.5 * (a - c) / (a - 2 * b + c) if a - 2 * b + c else 0.0
    return float(near * 2 ** ((0.25 * (top + aside) - WITHIN_CENTS) / 1200))


def bands(wave: Wave) -> Wave:
    """Sixth-octave levels in dB from 80 Hz to 10 kHz, 60 dB deep."""
    return _sixths(np.abs(np.fft.rfft(wave * np.hanning(len(wave)), 8192)) ** 2)


def mean_bands(wave: Wave, size: int) -> Wave:
    """The same of the mean power of windows of `size` samples all over the wave."""
    wave = np.pad(wave, (0, max(0, size - len(wave))))
    hop = max(1, min(size // 4, (len(wave) - size) // 8))
    frames = np.lib.stride_tricks.sliding_window_view(wave, size)[::hop] * np.hanning(size)
    return _sixths((np.abs(np.fft.rfft(frames, 8192)) ** 2).mean(axis=0))


def _sixths(power: Wave) -> Wave:
    hertz = np.fft.rfftfreq(8192, 1 / RATE)
    number = np.floor(np.log2(np.maximum(hertz, 1) / 80) * 6).astype(int)
    inside = (number >= 0) & (number < 42)
    level = 10 * np.log10(np.bincount(number[inside], power[inside], 42) + 1e-12)
    return np.asarray(np.maximum(level, level.max() - 60), dtype=np.float64)
