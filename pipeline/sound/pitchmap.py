"""How well each height explains each moment of a wave.

The normalised square difference of McLeod and Wyvill ("A smarter way to find pitch", 2005), read only about
the heights that are expected, so that octaves are never mistaken. It is read at several periods of every
height, as far as `REACH_S`, so that neighbouring heights are told apart as well in high notes as in low
ones. Heights are fractional MIDI notes, waves are mono of shape (n,).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, lfilter, sosfiltfilt

from pipeline.music.pitch import frequency

Floats = npt.NDArray[np.float64]
STEP_S = 0.004
GRID = 0.1
"""Semitones from one height to the next."""
PERIODS, SHORTEST_S = 1.6, 0.014
"""A window holds so many of the longest periods, and is at least this long."""
REACH_S = 0.008
DULL_HZ, LIFT = 4000.0, 0.9
"""Partials above are left out; below, high ones are lifted: they tell a small change of height best."""


@dataclass(frozen=True)
class PitchMap:
    """Clarity (moments, heights) from -1 to 1, at moments (seconds in the wave) and heights, each rising."""

    seconds: Floats
    heights: Floats
    clarity: Floats

    def along(self, courses: Floats) -> Floats:
        """The mean clarity (k,) along each of k courses, which are heights of shape (k, moments)."""
        place = np.round((courses - self.heights[0]) / GRID).astype(int)
        place = np.clip(place, 0, len(self.heights) - 1)
        return np.asarray(self.clarity[np.arange(len(self.seconds)), place].mean(axis=1))


def emphasised(wave: Floats, rate: int) -> Floats:
    """A wave as `pitch_map` likes it: without its highest partials, those below lifted by up to 6 dB an
    octave."""
    dull = sosfiltfilt(butter(2, min(DULL_HZ, 0.45 * rate), fs=rate, output="sos"), wave)
    return np.asarray(lfilter([1.0, -LIFT], [1.0], dull), np.float64)


def pitch_map(wave: Floats, rate: int, start: float, end: float, low: float, high: float) -> PitchMap:
    """The clarity of notes `low` to `high` between two seconds of a wave; nothing after its end."""
    heights = np.arange(low, high + GRID / 2, GRID)
    seconds = np.arange(max(0.0, start), min(end, len(wave) / rate), STEP_S)
    if not len(seconds):
        return PitchMap(seconds, heights, np.zeros((0, len(heights))))
    times = max(1, int(REACH_S * frequency((low + high) / 2)))
    longest = rate / frequency(low)
    window, lags = round(max(PERIODS * longest, SHORTEST_S * rate)), int(times * longest) + 3
    rows = square_difference(
        frames_about(wave, np.round(seconds * rate).astype(int), window + lags), window, lags
    )
    periods = rate / np.array([frequency(height) for height in heights])
    return PitchMap(seconds, heights, sum_at(rows, periods, times) / times)


def frames_about(wave: Floats, centres: npt.NDArray[np.int64], span: int) -> Floats:
    """Pieces (n, span) of a wave about each of some rising centres, silence beyond its ends."""
    first, last = int(centres[0]) - span // 2, int(centres[-1]) - span // 2 + span
    piece = np.zeros(last - first)
    known = wave[max(0, first) : max(0, last)]
    piece[max(0, -first) : max(0, -first) + len(known)] = known
    return np.asarray(np.lib.stride_tricks.sliding_window_view(piece, span)[centres - centres[0]])


def square_difference(frames: Floats, window: int, lags: int) -> Floats:
    """The normalised square difference of each frame at lags 0 to `lags - 1`, (frames, lags), 1 at best."""
    size = 1 << (frames.shape[1] + window).bit_length()
    head = np.fft.rfft(frames[:, :window], size)
    cross = np.fft.irfft(np.conj(head) * np.fft.rfft(frames, size), size)[:, :lags]
    power = np.pad(np.cumsum(frames**2, axis=1), ((0, 0), (1, 0)))
    energy = power[:, window : window + lags] - power[:, :lags]
    both = energy[:, :1] + energy
    return np.asarray(2 * cross[:, : energy.shape[1]] / (both + 1e-9 * (1 + both.max())))


def sum_at(rows: Floats, periods: Floats, times: int) -> Floats:
    """The sum of each row at 1 to `times` times each period (in samples), between lags in a straight line."""
    total = np.zeros((len(rows), len(periods)))
    for multiple in range(1, times + 1):
        lag = periods * multiple
        left = np.minimum(lag.astype(int), rows.shape[1] - 2)
        total += rows[:, left] * (1 - lag + left) + rows[:, left + 1] * (lag - left)
    return total
