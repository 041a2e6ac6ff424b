"""The height of a single note from moment to moment.

The normalised square difference of McLeod and Wyvill ("A smarter way to find pitch", 2005), searched only
about the height that is expected, so that octaves are never mistaken. Heights are fractional MIDI notes,
waves are mono of shape (n,).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.music.pitch import frequency

Floats = npt.NDArray[np.float64]
STEP_S = 0.004
PERIODS, SHORTEST_S = 2.2, 0.016
"""A window holds so many of the longest periods searched, and is at least this long."""
CLEAR = 0.8
"""The clarity from which a height is to be believed."""


@dataclass(frozen=True)
class Track:
    """Heights at moments (seconds in the wave), each with its clarity (0 to 1), all of shape (n,)."""

    seconds: Floats
    heights: Floats
    clarity: Floats

    def between(self, start: float, end: float) -> "Track":
        """The part whose moments lie in [start, end)."""
        kept = (self.seconds >= start) & (self.seconds < end)
        return Track(self.seconds[kept], self.heights[kept], self.clarity[kept])

    @property
    def clear(self) -> "Track":
        """The part that is to be believed."""
        kept = self.clarity >= CLEAR
        return Track(self.seconds[kept], self.heights[kept], self.clarity[kept])


def track(wave: Floats, rate: int, start: float, end: float, low: float, high: float) -> Track:
    """The heights between two seconds of a wave, searched from note `low` to note `high`; none after its
    end."""
    longest, shortest = rate / frequency(low), rate / frequency(high)
    window = round(max(PERIODS * longest, SHORTEST_S * rate))
    span = window + int(longest) + 2
    centres = np.arange(max(0.0, start), min(end, len(wave) / rate), STEP_S)
    if not len(centres):
        return Track(centres, centres, centres)
    first = np.round(centres * rate).astype(int)
    padded = np.pad(wave, (span, span))
    frames = np.stack([padded[at + span - span // 2 : at + 2 * span - span // 2] for at in first])
    likeness = square_difference(frames, window, int(longest) + 2)
    found = [peak(row, shortest, longest) for row in likeness]
    lags, clarity = np.array([lag for lag, _ in found]), np.array([clear for _, clear in found])
    return Track(centres, 69.0 + 12.0 * np.log2(rate / lags / 440.0), clarity)


def square_difference(frames: Floats, window: int, lags: int) -> Floats:
    """The normalised square difference of each frame at lags 0 to `lags - 1`, (frames, lags), 1 at best."""
    size = 1 << (frames.shape[1] + window).bit_length()
    head = np.fft.rfft(frames[:, :window], size)
    cross = np.fft.irfft(np.conj(head) * np.fft.rfft(frames, size), size)[:, :lags]
    power = np.pad(np.cumsum(frames**2, axis=1), ((0, 0), (1, 0)))
    energy = power[:, window : window + lags] - power[:, :lags]
    both = energy[:, :1] + energy
    return np.asarray(2 * cross[:, : energy.shape[1]] / (both + 1e-9 * (1 + both.max())))


def peak(row: Floats, shortest: float, longest: float) -> tuple[float, float]:
    """The best lag (in fractions of a sample) of a row within bounds, and its height."""
    low, high = max(1, int(np.floor(shortest))), min(len(row) - 2, int(np.ceil(longest)))
    at = low + int(np.argmax(row[low : high + 1]))
    before, here, after = row[at - 1], row[at], row[min(at + 1, len(row) - 1)]
    curve = before - 2 * here + after
    shift = 0.5 * (before - after) / curve if curve < -1e-12 else 0.0
    return float(at + np.clip(shift, -0.5, 0.5)), float(np.clip(here, 0.0, 1.0))
