"""What the aligner listens to: how well each pitch explains each moment, and where something starts.

Salience is a harmonic sum over a whitened short-time spectrum, written as a correlation with a comb of
partials (weights h ** -0.6), so that an octave too low is punished for the partials that are missing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import uniform_filter1d
from scipy.special import logsumexp

from pipeline.music.pitch import frequency
from pipeline.sound.onsets import flux, frames_of

Floats = npt.NDArray[np.float64]
HOP_S = 0.004
PITCH_WINDOW_S = 0.046
ONSET_WINDOW_S = 0.012
HIGHEST_HZ = 6000.0
PARTIALS = 14
SHARPNESS = 10.0
"""How much one unit of correlation weighs in the log of a pitch's likelihood."""
WORST, ENOUGH = -3.0, 2.0
"""Bounds of a frame's fit. The upper one is low: that a pitch is there matters, not that it drowns the
notes that still ring."""
RISE_REACH_S = 0.024
QUIET_DB = -50.0
DETUNINGS = tuple(cents / 100 for cents in range(-40, 51, 10))


@dataclass(frozen=True)
class Features:
    """Frames of one excerpt, `HOP_S` apart; frame n is centred on `n * hop` samples.

    `fit` has the shape (pitch sets, frames): the log-likelihood of a set over a pitch picked at random, in
    nats. `rise` (pitch sets, frames) is how much louder that pitch is just after than just
    before, `flux` (frames,) how much is new in the spectrum, both about 1 at a clear attack; `level` is in
    dB under the loudest frame.
    """

    fit: Floats
    rise: Floats
    flux: Floats
    level: Floats
    hop: int
    rate: int
    detuning: float
    """Semitones by which the recording lies above 440 Hz."""

    @property
    def frames(self) -> int:
        return len(self.flux)


def comb(notes: Sequence[float], bins: Floats, width: float) -> Floats:
    """The partials of notes that sound together, at the frequencies `bins`: zero mean, length 1."""
    template = np.zeros_like(bins)
    for note in notes:
        for partial in range(1, PARTIALS + 1):
            centre = frequency(note) * partial
            near = np.exp(-0.5 * ((bins - centre) / max(width, 0.006 * centre)) ** 2)
            template = np.maximum(template, partial**-0.6 * near)
    template -= template.mean()
    return np.asarray(template / (np.linalg.norm(template) + 1e-12))


def spectra(wave: Floats, rate: int, hop: int) -> tuple[Floats, npt.NDArray[np.float32]]:
    """Frequencies up to `HIGHEST_HZ` and the magnitudes there, frames by bins (float32)."""
    window = round(PITCH_WINDOW_S * rate)
    size = 1 << (2 * window - 1).bit_length()
    bins = np.fft.rfftfreq(size, 1 / rate)
    kept = (bins > 50.0) & (bins < HIGHEST_HZ)
    blocks = [np.abs(np.fft.rfft(b, size))[:, kept].astype(np.float32) for b in frames_of(wave, hop, window)]
    return np.asarray(bins[kept], np.float64), np.concatenate(blocks)


def whitened(magnitudes: npt.NDArray[np.float32], spacing: float) -> Floats:
    """Magnitudes over their neighbourhood of 600 Hz, compressed, each frame of zero mean and length 1."""
    near = uniform_filter1d(magnitudes, max(3, round(600 / spacing)), axis=1, mode="nearest")
    shape = np.log1p(3.0 * magnitudes / (near + 1e-3 * magnitudes.max() + 1e-12))
    shape -= shape.mean(axis=1, keepdims=True)
    return np.asarray(shape / (np.linalg.norm(shape, axis=1, keepdims=True) + 1e-9))


def find_detuning(shape: Floats, level: Floats, bins: Floats, notes: Floats, width: float) -> float:
    """Semitones by which a chromatic scale fits the loud frames best.

    The scale and not the expected notes: a fragment a semitone off must not be met half-way.
    """
    loud = shape[level > -30.0][::5]
    best = [
        np.max(loud @ np.stack([comb([note + by], bins, width) for note in notes]).T, axis=1).mean()
        for by in DETUNINGS
    ]
    return DETUNINGS[int(np.argmax(best))]


def rises(magnitudes: npt.NDArray[np.float32], templates: Floats, ladder: Floats, reach: int) -> Floats:
    """How much of what is new around each frame fits each template, about 1 at a clear attack.

    New is what a bin's log magnitude gains from `reach` frames before to `reach` frames after; the attacks
    of the pitches of `ladder` set the scale.
    """
    logs = np.log1p(magnitudes / (0.01 * np.percentile(magnitudes.max(axis=1), 95) + 1e-9))
    padded = np.pad(logs, ((reach, reach), (0, 0)), mode="edge")
    new = np.maximum(0.0, padded[2 * reach :] - padded[: -2 * reach]).T
    clear = np.percentile(np.max(ladder @ new, axis=0), 90)
    return np.asarray(np.maximum(0.0, templates @ new) / (clear + 1e-9))


def listen(wave: Floats, rate: int, sets: Sequence[tuple[float, ...]]) -> Features:
    """The features of a mono wave for these sets of sounding notes (an empty set: no pitch)."""
    hop = max(1, round(HOP_S * rate))
    bins, magnitudes = spectra(wave, rate, hop)
    power = np.sqrt((magnitudes**2).sum(axis=1))
    level = 20 * np.log10(power / (power.max() + 1e-12) + 1e-9)
    shape, width = whitened(magnitudes, bins[1] - bins[0]), 0.5 / PITCH_WINDOW_S
    pitches = sorted({note for notes in sets for note in notes}) or [64.0]
    ladder = np.arange(np.floor(pitches[0]) - 7, np.ceil(pitches[-1]) + 8)
    by = find_detuning(shape, level, bins, ladder, width)
    scale = np.stack([comb([note + by], bins, width) for note in ladder])
    chance = logsumexp(SHARPNESS * (scale @ shape.T), axis=0) - np.log(len(ladder))
    templates = np.stack([comb([note + by for note in notes], bins, width) for notes in sets])
    fit = np.clip(SHARPNESS * (templates @ shape.T) - chance, WORST, ENOUGH)
    fit[[not notes for notes in sets]] = 0.0
    fit[:, level < QUIET_DB] = -1.0
    rise = rises(magnitudes, templates, scale, round(RISE_REACH_S / HOP_S))
    new = flux(wave, hop, round(ONSET_WINDOW_S * rate), 2, 0.02)
    return Features(fit, rise, new, level, hop, rate, by)
