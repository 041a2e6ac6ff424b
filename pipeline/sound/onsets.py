"""Where something starts: short-time frames, spectral flux, and onsets sharpened to the millisecond.

Spectral flux is the half-wave rectified rise of a compressed spectrum (Bello et al. 2005, "A tutorial on
onset detection in music signals", section III.A). Waves are mono, of shape (n,).
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
CHUNK = 2048
FINE_HOP_S = 0.001
FINE_WINDOW_S = 0.006
FINE_LAG = 3
"""Frames between the two spectra that the fine flux compares."""
FINE_DELAY_S = 0.0025
"""How early the foot of the fine flux lies: half a window, less the lag's centre (measured on clicks)."""
BEFORE_S, AFTER_S = 0.035, 0.020
PULL_S = 0.008
"""The spread of the preference for a peak near the moment that was asked for."""
FOOT = 0.15
"""The share of its height at which a peak begins."""
LONGEST_RISE_S = 0.015
STRONG = 0.4
"""The least height of a step that is worth snapping to, where a clear attack is 1."""


@dataclass(frozen=True)
class Curve:
    """A curve of shape (n,) with a value every `hop` seconds from 0."""

    values: Floats
    hop: float


def mono(samples: npt.NDArray[np.float32]) -> Floats:
    """One channel of float64 from samples of shape (n, channels)."""
    return np.asarray(samples.mean(axis=1), np.float64)


def frames_of(wave: Floats, hop: int, window: int) -> Iterator[Floats]:
    """Windowed frames centred on multiples of `hop` samples, in blocks of (at most CHUNK, window)."""
    padded = np.pad(wave, (window // 2, window))
    shape = np.hanning(window + 2)[1:-1]
    starts = np.arange(0, len(wave), hop)
    view = np.lib.stride_tricks.sliding_window_view(padded, window)
    for first in range(0, len(starts), CHUNK):
        yield view[starts[first : first + CHUNK]] * shape


def flux(wave: Floats, hop: int, window: int, lag: int, floor: float, least: float = 0.0) -> Floats:
    """The mean rise of the log spectrum over `lag` frames, scaled so that a clear attack reaches 1.

    The value of frame n compares frames n - lag / 2 and n + lag / 2. Magnitudes under `floor` times the
    loudest are pressed towards nothing. Where no rise passes `least`, that counts as a clear attack.
    """
    blocks = [np.abs(np.fft.rfft(b))[:, 1:].astype(np.float32) for b in frames_of(wave, hop, window)]
    magnitudes = np.concatenate(blocks)
    logs = np.log1p(magnitudes / (floor * np.percentile(magnitudes.max(axis=1), 95) + 1e-9))
    rise = np.maximum(0.0, logs[lag:] - logs[:-lag]).mean(axis=1, dtype=np.float64)
    before = (lag + 1) // 2
    curve = np.pad(rise, (before, len(logs) - len(rise) - before))
    return np.asarray(curve / (max(peak_height(curve), least) + 1e-9))


def peak_height(curve: Floats) -> float:
    """What a clear peak reaches: the 80th percentile of the local maxima above the mean."""
    inner = curve[1:-1]
    peaks = inner[(inner > curve[:-2]) & (inner >= curve[2:]) & (inner > curve.mean())]
    return float(np.percentile(peaks, 80)) if len(peaks) else 1.0


def fine_flux(wave: Floats, rate: int) -> Curve:
    """Spectral flux every millisecond, for `sharpen`."""
    hop = max(1, round(FINE_HOP_S * rate))
    values = flux(wave, hop, round(FINE_WINDOW_S * rate), FINE_LAG, 0.1)
    return Curve(values, hop / rate)


def sharpen(curve: Curve, moments: Floats) -> tuple[Floats, Floats]:
    """Moved moments (seconds), each to the foot of the strong step beside it, and the height of each step.

    A moment without a strong step nearby, or with one that climbs too slowly to have a foot, stays; its
    height is 0. No moment reaches the middle between it and a neighbour.
    """
    out, heights = moments.copy(), np.zeros(len(moments))
    middles = (moments[1:] + moments[:-1]) / 2
    for number, moment in enumerate(moments):
        first = max(moment - BEFORE_S, middles[number - 1] if number else 0.0)
        last = min(moment + AFTER_S, middles[number] if number < len(middles) else np.inf)
        found = step_near(curve, float(moment), float(first), float(last))
        if found is not None:
            out[number], heights[number] = found
    return out, heights


def step_near(curve: Curve, moment: float, first: float, last: float) -> tuple[float, float] | None:
    """The foot (seconds) and height of the best step of [first, last), or None."""
    values, hop = curve.values, curve.hop
    index = np.arange(max(0, int(first / hop)), min(len(values) - 1, int(last / hop) + 1))
    if not len(index):
        return None
    floor = np.median(values[max(0, int((moment - 0.05) / hop)) : int((moment + 0.05) / hop) + 1])
    pulled = (values[index] - floor) * np.exp(-0.5 * ((index * hop - moment) / PULL_S) ** 2)
    top = int(index[np.argmax(pulled)])
    while top + 1 < len(values) and values[top + 1] > values[top]:
        top += 1
    height = float(values[top] - floor)
    foot = foot_of(values, top, float(floor + FOOT * height), round(LONGEST_RISE_S / hop))
    if height < STRONG or foot is None:
        return None
    second = foot * hop + FINE_DELAY_S
    return (second, height) if first <= second < last else None


def foot_of(values: Floats, top: int, threshold: float, reach: int) -> float | None:
    """Where the climb to `top` passes a threshold, in fractions of a frame; None beyond `reach` frames."""
    for at in range(top - 1, max(-1, top - reach - 1), -1):
        if values[at] <= threshold:
            return float(at + (threshold - values[at]) / (values[at + 1] - values[at] + 1e-12))
    return None
