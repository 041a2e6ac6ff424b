"""Sampled guitars taken apart into partials, which can be played at any tempo: what an ideal slow-down gives.

A note of a bank is read as partials whose sizes and frequencies move slowly (each one brought down to 0 Hz
and smoothed over four periods). Played in time they are a recording to slow down; along an exported map
they are what a perfect stretcher would make of it, so every measure can be held against its own floor: how
far the ideal lies from its source by the same measure. Noise is left out, for its ideal is not known.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.signal import fftconvolve, resample_poly

from pipeline.music.pitch import frequency
from tests.benchmarks import sampled
from tests.benchmarks.phrases import Phrase

RATE, GRID = 48000, 48
"""Partials are known at every millisecond."""
HIGHEST_HZ = 12000.0
SMOOTHED = 21
"""Milliseconds over which frequencies are smoothed."""
RISE_S, FALL_S = 0.001, 0.02
SHAPES = (
    (0, 7, 12),
    (0, 7, 12, 16, 19, 24),
    (0, 7, 12, 15, 19),
    (0, 7, 10, 16, 19),
    (0, 4, 7),
    (0, 3, 7, 10),
    (0, 5, 10, 15),
)
"""Semitones over the lowest note of common chords."""
Wave = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Played:
    """A note of a bank: its second, how long it sounds, its MIDI pitch, its size."""

    start: float
    length: float
    pitch: int
    level: float


@dataclass(frozen=True)
class Partials:
    """Sizes and frequencies (hertz) of shape (partials, milliseconds)."""

    sizes: Wave
    hertz: Wave


def picked(phrase: Phrase, random: np.random.Generator, ring: float = 0.01) -> list[Played]:
    """A phrase of single notes, each ringing a little into the next."""
    ends = [*phrase.seconds[1:], phrase.seconds[-1] + 0.6]
    notes = zip(phrase.seconds, ends, phrase.fragment.notes, strict=True)
    return [Played(s, e - s + ring, n.pitch or 0, random.uniform(0.6, 1.0)) for s, e, n in notes]


def strummed(count: int, a_second: float, random: np.random.Generator) -> list[list[Played]]:
    """Chords of three to six notes, 2 ms from string to string, all damped by the next."""
    starts = 0.3 + np.arange(count + 1) / a_second + random.uniform(-0.01, 0.01, count + 1)
    return [_chord(float(a), float(b - a), random) for a, b in pairwise(starts)]


def _chord(start: float, length: float, random: np.random.Generator) -> list[Played]:
    root, shape = int(random.integers(40, 56)), SHAPES[random.integers(len(SHAPES))]
    return [
        Played(start + 0.002 * i, length - 0.002 * i + 0.01, root + step, random.uniform(0.6, 1.0))
        for i, step in enumerate(shape)
    ]


@cache
def lone(font: Path, program: int, pitch: int) -> Wave:
    """A note of a bank from its audible start."""
    note = sampled.bank(font, program)[pitch]
    return np.asarray(resample_poly(note.wave[note.start :], 160, 147), np.float64)


def recorded(notes: Sequence[Played], font: Path, program: int, seconds: float) -> Wave:
    """The notes played with the bank's own samples."""
    out = np.zeros(round(seconds * RATE))
    for note in notes:
        at = round(note.start * RATE)
        wave = lone(font, program, note.pitch)[: min(round((note.length + FALL_S) * RATE), len(out) - at)]
        out[at : at + len(wave)] += note.level * shape(np.arange(len(wave)) / RATE, note.length) * wave
    return out


def modelled(notes: Sequence[Played], font: Path, program: int, moments: Wave) -> Wave:
    """The notes played by their partials, sample n showing the second `moments[n]` of the music."""
    random, out = np.random.default_rng(1), np.zeros(len(moments))
    for note in notes:
        first, last = np.searchsorted(moments, (note.start, note.start + note.length + FALL_S))
        seconds, phases = moments[first:last] - note.start, random.uniform(0, 2 * np.pi, 400)
        wave = sum(_voices(partials(font, program, note.pitch), seconds, phases), np.zeros(last - first))
        out[first:last] += note.level * shape(seconds, note.length) * wave
    return out


def shape(seconds: Wave, length: float) -> Wave:
    """A note's edges: a rise of a millisecond, and a fall after its length."""
    fall = np.clip((length + FALL_S - seconds) / FALL_S, 0, 1) ** 2
    return np.asarray(np.clip(seconds / RISE_S, 0, 1) * fall, np.float64)


def _voices(parts: Partials, seconds: Wave, phases: Wave) -> Iterator[Wave]:
    """Each partial; its phase is the sum of its frequencies over the samples that are made."""
    grid = np.arange(parts.sizes.shape[1]) * GRID / RATE
    for size, hertz, phase in zip(parts.sizes, parts.hertz, phases, strict=False):
        turned = 2 * np.pi * np.cumsum(np.interp(seconds, grid, hertz)) / RATE
        yield np.interp(seconds, grid, size) * np.cos(turned + phase)


@cache
def partials(font: Path, program: int, pitch: int) -> Partials:
    """The partials of a note of a bank up to 12 kHz."""
    wave, hertz = lone(font, program, pitch), frequency(pitch)
    smooth = np.hanning((round(4 * RATE / hertz) | 1) + 2)[1:-1]
    found = [_partial(wave, hertz * k, smooth / smooth.sum()) for k in range(1, int(HIGHEST_HZ / hertz) + 1)]
    sizes, frequencies = zip(*found, strict=True)
    return Partials(np.stack(sizes), np.stack(frequencies))


def _partial(wave: Wave, hertz: float, smooth: Wave) -> tuple[Wave, Wave]:
    """The size and the frequency of what lies around `hertz`, a value every millisecond."""
    reach = len(smooth) // 2
    beaten = wave * np.exp(-2j * np.pi * hertz * np.arange(len(wave)) / RATE)
    mirrored = np.pad(beaten, reach, mode="symmetric")
    slow = fftconvolve(mirrored, smooth, "valid")[::GRID]
    steps, power = np.gradient(np.unwrap(np.angle(slow))), np.abs(slow) ** 2
    mean = np.hanning(SMOOTHED + 2)[1:-1]
    drift = np.convolve(steps * power, mean, "same") / (np.convolve(power, mean, "same") + 1e-20)
    return 2 * np.abs(slow), hertz + drift * RATE / GRID / (2 * np.pi)
