"""What a stroke leaves in the sound, so that its absence can be heard.

A pick adds a short burst of high partials and noise, and the burst dies away at once; a finger that comes
down or leaves adds little. How bright a burst is depends on the guitar, the amplifier and the height, so
every measure of a note is taken against the other notes of its clip.
"""

from collections.abc import Sequence
from dataclasses import astuple, dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, sosfiltfilt

from pipeline.sound.onsets import Curve, flux

Floats = npt.NDArray[np.float64]
HOP_S = 0.001
BURST_HZ, BURST_S = 6000.0, 0.003
EDGE_HZ, EDGE_S = 4500.0, 0.008
"""Lower end of a band, and over how long its power is smoothed: for the burst, and for how it dies away."""
WHOLE_HZ = 60.0
"""Below is no guitar."""
FLOOR = 1e-7
"""The share of the loudest under which levels are not told apart (-70 dB)."""
FINE, COARSE = (0.004, 3, 0.02), (0.010, 5, 0.3)
"""Window in seconds, lag in frames and floor of the two fluxes."""
EARLY_S, LATE_S = 0.006, 0.016
"""What belongs to a start: from so long before its moment to so long after."""
DEAD_S = (0.035, 0.055)
"""When a burst is over, from the start, if the note lasts so long."""
USUAL = 60
"""The percentile of a clip's notes that counts as usual: a picked one, unless most are slurred."""


@dataclass(frozen=True)
class Stroke:
    """A start against the clip's usual one: the burst's level for its height and its fall (dB), the
    logarithms of the spectral flux through a fine and a coarse window, and how little the whole sound sinks
    between the two notes (dB, 0 where it does not)."""

    burst: float
    fall: float
    fine: float
    coarse: float
    dip: float


def strokes(
    wave: Floats, rate: int, starts: Sequence[float], ends: Sequence[float], heights: Sequence[float]
) -> list[Stroke]:
    """The strokes of notes (seconds; MIDI notes) in a mono wave."""
    burst, edge = levels(wave, rate, BURST_HZ, BURST_S), levels(wave, rate, EDGE_HZ, EDGE_S)
    fine, coarse = (fluxes(wave, rate, *kind) for kind in (FINE, COARSE))
    whole = levels(wave, rate, WHOLE_HZ, BURST_S)
    rows = [
        (
            peak_at(burst, start),
            fall_at(edge, start, end),
            flux_at(fine, start),
            flux_at(coarse, start),
            dip_at(whole, start),
        )
        for start, end in zip(starts, ends, strict=True)
    ]
    table = np.array(rows)
    table[:, 0] -= trend(np.asarray(heights, np.float64), table[:, 0])
    return [Stroke(*map(float, row)) for row in table - np.percentile(table, USUAL, axis=0)]


def levels(wave: Floats, rate: int, low: float, seconds: float) -> Curve:
    """The power above a frequency in dB, smoothed over some seconds."""
    sos = butter(2, min(low, 0.4 * rate), "highpass", fs=rate, output="sos")
    window = np.hanning(round(seconds * rate) + 2)[1:-1]
    hop = max(1, round(HOP_S * rate))
    power = np.convolve(sosfiltfilt(sos, wave) ** 2, window / window.sum(), "same")[::hop]
    return Curve(10 * np.log10(np.abs(power) + FLOOR * np.percentile(power, 99) + 1e-15), hop / rate)


def fluxes(wave: Floats, rate: int, window: float, lag: int, floor: float) -> Curve:
    """Spectral flux every millisecond."""
    hop = max(1, round(HOP_S * rate))
    return Curve(flux(wave, hop, round(window * rate), lag, floor), hop / rate)


def part(curve: Curve, start: float, end: float) -> Floats:
    """The values between two seconds, one at least."""
    first = min(max(0, round(start / curve.hop)), len(curve.values) - 1)
    return curve.values[first : max(first, round(end / curve.hop)) + 1]


def peak_at(curve: Curve, start: float) -> float:
    """The highest value about a start."""
    return float(part(curve, start - EARLY_S, start + LATE_S).max())


def fall_at(edge: Curve, start: float, end: float) -> float:
    """How many dB a start's highest level lies over that after its burst."""
    early, late = (
        min(start + after, end - before) for after, before in zip(DEAD_S, (0.015, 0.004), strict=True)
    )
    return peak_at(edge, start) - float(part(edge, early, late).mean())


def flux_at(curve: Curve, start: float) -> float:
    """The logarithm of the highest flux about a start, over its median of the 100 ms about it."""
    near, about = part(curve, start - 0.006, start + 0.010), part(curve, start - 0.05, start + 0.05)
    return float(np.log(max(near.max() - np.median(about), 0.02)))


def dip_at(whole: Curve, start: float) -> float:
    """How far the lowest level about a start lies over the lower of those before and after it, in dB."""
    before, after = part(whole, start - 0.04, start - 0.02), part(whole, start + 0.01, start + 0.03)
    return float(part(whole, start - 0.02, start + 0.01).min() - min(before.mean(), after.mean()))


def trend(heights: Floats, values: Floats) -> Floats:
    """What a straight line through values over heights gives at each height; level for a few notes."""
    slope = len(heights) >= 8 and np.ptp(heights) > 0
    return np.asarray(np.polyval(np.polyfit(heights, values, 1 if slope else 0), heights), np.float64)


def measures(stroke: Stroke) -> tuple[float, ...]:
    """The numbers in their order."""
    return astuple(stroke)
