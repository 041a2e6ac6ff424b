"""A guitar amplifier in outline: a tight bass, a tube-like bend, a loudspeaker's roll-off, a little hiss.

Drawn from general practice (common practice, no source); no particular amplifier is meant. Nothing in it
delays the sound by more than a fraction of a millisecond, so onsets stay where they were.
"""

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, iirpeak, resample_poly, sosfilt, tf2sos

from pipeline.sound.signal import Signal

Wave = npt.NDArray[np.float64]

OVERSAMPLED = 4
"""The bend makes harmonics: they are made at four times the rate, so that none fold back."""
BIAS = 0.12
"""Share by which the bend leans to one side, which adds even harmonics."""
TIGHT_HZ, SPEAKER_LOW_HZ, SPEAKER_HIGH_HZ = 130.0, 75.0, 4800.0
HISS = 10 ** (-72 / 20)
CEILING = 0.8


def amplified(signal: Signal, drive: float = 12.0, seed: int = 0) -> Signal:
    """The signal through the amplifier, mono, its peak at `CEILING`; `drive` is 1 (clean) to about 40."""
    rate = signal.rate
    wave = signal.samples.mean(axis=1, dtype=np.float64)
    tight = sosfilt(butter(1, TIGHT_HZ, "highpass", fs=rate, output="sos"), wave)
    peak = float(np.abs(tight).max(initial=0.0))
    bent = _bent(tight / max(peak, 1e-9) * drive)
    hiss = HISS * np.random.default_rng(seed).standard_normal(len(wave))
    heard = _through_speaker(bent + hiss, rate)
    scale = CEILING / max(float(np.abs(heard).max(initial=0.0)), 1e-9) if peak else 1.0
    return Signal((heard * scale).astype(np.float32)[:, None], rate)


def _bent(wave: Wave) -> Wave:
    """The wave squashed softly and a little one-sidedly, without folding."""
    fine = resample_poly(wave, OVERSAMPLED, 1)
    squashed = np.tanh(fine + BIAS) - np.tanh(BIAS)
    return np.asarray(resample_poly(squashed, 1, OVERSAMPLED)[: len(wave)], dtype=np.float64)


def _through_speaker(wave: Wave, rate: int) -> Wave:
    """A loudspeaker in its box: nothing below or far above, a bump in the bass and one where it speaks."""
    steps = [
        butter(2, SPEAKER_LOW_HZ, "highpass", fs=rate, output="sos"),
        butter(4, SPEAKER_HIGH_HZ, "lowpass", fs=rate, output="sos"),
    ]
    for step in steps:
        wave = sosfilt(step, wave)
    for hertz, width, gain in ((115.0, 1.5, 0.5), (2600.0, 1.2, 0.9)):
        wave = wave + gain * sosfilt(tf2sos(*iirpeak(hertz, width, fs=rate)), wave)
    return wave
