"""Ways to slow a recording down: ours, and other permissive ones where they are installed.

A route gives its output and where a second of the source lies in it.
"""

from collections.abc import Callable
from fractions import Fraction
from importlib import import_module

import numpy as np

from pipeline.sound.slowmap import stretch_map
from pipeline.sound.stretch import stretch
from pipeline.timing import Span
from tests.benchmarks.slow_measures import RATE, Wave, envelope
from tests.benchmarks.slow_takes import Take

Slowed = tuple[Wave, Callable[[float], float]]
Route = Callable[[Take, Fraction], Slowed]


def ours(take: Take, speed: Fraction) -> Slowed:
    anchors = tuple(Fraction(round(s * RATE), RATE) for s in take.onsets)
    return _ours(take, speed, anchors)


def ours_off(take: Take, speed: Fraction) -> Slowed:
    """With every onset 5 ms early or late."""
    rng = np.random.default_rng(1)
    anchors = tuple(Fraction(round((s + rng.choice((-0.005, 0.005))) * RATE), RATE) for s in take.onsets)
    return _ours(take, speed, anchors)


def ours_bare(take: Take, speed: Fraction) -> Slowed:
    return _ours(take, speed, ())


def _ours(take: Take, speed: Fraction, anchors: tuple[Fraction, ...]) -> Slowed:
    signal = take.signal
    span = Span("clip", Fraction(0), signal.duration)
    moments = stretch_map(span, speed, anchors, frozenset(), RATE)
    out = stretch(signal, span, speed, anchors, frozenset()).samples[:, 0].astype(np.float64)
    return out, lambda second: float(moments(Fraction(second)))


def libtsm_split(take: Take, speed: Fraction) -> Slowed:
    out = import_module("libtsm").hps_tsm(take.wave, float(1 / speed), Fs=RATE)
    return straight(take, np.asarray(out, np.float64)[:, 0], speed)


def libtsm_locked(take: Take, speed: Fraction) -> Slowed:
    out = import_module("libtsm").pv_tsm(take.wave, float(1 / speed), Fs=RATE, phase_locking=True)
    return straight(take, np.asarray(out, np.float64)[:, 0], speed)


def signalsmith(take: Take, speed: Fraction) -> Slowed:
    engine = import_module("python_stretch").Signalsmith.Stretch()
    engine.configure(1, 2048, 512)
    engine.setTimeFactor(float(speed))
    padded = np.pad(take.wave, (0, 8192)).astype(np.float32)
    return straight(take, np.asarray(engine.process(padded[None]), np.float64)[0], speed)


def librosa_vocoder(take: Take, speed: Fraction) -> Slowed:
    out = import_module("librosa").effects.time_stretch(take.wave, rate=float(speed))
    return straight(take, np.asarray(out, np.float64), speed)


def straight(take: Take, out: Wave, speed: Fraction) -> Slowed:
    """A route with a straight map; the constant delay that suits it best is taken off."""
    step = RATE // 500
    coarse = np.repeat(envelope(take.wave)[::step], round(1 / speed))
    slowed = envelope(out)[::step][: len(coarse)]
    size = 1 << (2 * len(coarse)).bit_length()
    likeness = np.fft.irfft(np.fft.rfft(slowed, size) * np.fft.rfft(coarse[: len(slowed)], size).conj())
    lags = np.r_[-50:101]
    late = int(lags[np.argmax(likeness[lags])]) * step / RATE
    return out, lambda second: second / float(speed) + late


ROUTES: dict[str, tuple[Route, str]] = {
    "ours": (ours, "numpy"),
    "ours, onsets 5 ms off": (ours_off, "numpy"),
    "ours, no onsets": (ours_bare, "numpy"),
    "libtsm, split": (libtsm_split, "libtsm"),
    "libtsm, locked": (libtsm_locked, "libtsm"),
    "Signalsmith 2048": (signalsmith, "python_stretch"),
    "librosa": (librosa_vocoder, "librosa"),
}
