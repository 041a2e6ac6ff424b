"""The amplifier adds harmonics and takes treble, but keeps onsets; the hand's unevenness is known exactly."""

from fractions import Fraction

import numpy as np

from pipeline.sound.amp import CEILING, amplified
from pipeline.sound.human import loosened, strengths
from pipeline.sound.signal import Signal
from pipeline.timing import TimeMap, rising

RATE = 48000


def burst(hertz: float) -> Signal:
    time = np.arange(RATE) / RATE
    wave = 0.2 * np.sin(2 * np.pi * hertz * time) * (time >= 0.25)
    return Signal(wave.astype(np.float32)[:, None], RATE)


def share_at(signal: Signal, hertz: float) -> float:
    spectrum = np.abs(np.fft.rfft(signal.samples[14400:, 0] * np.hanning(RATE - 14400)))
    return float(spectrum[round(hertz * (RATE - 14400) / RATE)] / spectrum.max())


def test_drive_adds_harmonics_and_the_speaker_takes_the_treble() -> None:
    loud = amplified(burst(400), drive=20)
    assert share_at(loud, 1200) > 0.1
    assert share_at(amplified(burst(400), drive=1), 1200) < 0.5 * share_at(loud, 1200)
    assert share_at(loud, 10000) < 0.003
    assert np.abs(loud.samples).max() <= CEILING + 1e-6


def test_an_onset_stays_where_it_was() -> None:
    loud = np.abs(amplified(burst(400), drive=20).samples[:, 0])
    first = int(np.flatnonzero(loud > 0.1 * loud.max())[0])
    assert 0 <= first - RATE // 4 < 24


def test_nothing_folds_back() -> None:
    # the third harmonic of 9 kHz lies at 27 kHz and would fold to 21 kHz; below the speaker's own roll-off
    assert share_at(amplified(burst(9000), drive=20), 21000) < 1e-4


def test_silence_gives_only_hiss_and_equal_calls_are_equal() -> None:
    silent = Signal(np.zeros((RATE, 2), np.float32), RATE)
    assert np.abs(amplified(silent).samples).max() < 0.01
    assert np.array_equal(amplified(burst(200)).samples, amplified(burst(200)).samples)


def test_a_loosened_map_is_seeded_rising_and_on_whole_samples() -> None:
    straight = TimeMap.linear("beat", "clip", Fraction(0), Fraction(1, 2), Fraction(1, 3))
    onsets = [Fraction(i, 6) for i in range(60)]
    one, two, other = (loosened(straight, onsets, seed, 0.008, RATE) for seed in (1, 1, 2))
    assert one == two != other
    assert rising(second for _, second in one.points)
    moved = [float(one(beat) - straight(beat)) for beat in onsets]
    assert 0.004 < np.std(moved) < 0.009
    assert all((second * RATE).denominator == 1 for _, second in one.points)


def test_strengths_stay_near_one() -> None:
    values = strengths(200, 3)
    assert values == strengths(200, 3)
    assert 0.9 < np.mean(values) < 1.1
    assert min(values) >= 0.6
