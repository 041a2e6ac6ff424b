"""Heights of known tones: steady, bent and silent."""

import numpy as np
import pytest

from pipeline.music.pitch import frequency
from pipeline.sound.pitchtrack import square_difference, track

RATE = 44100


def tone(notes: np.ndarray) -> np.ndarray:
    """A string-like tone whose height follows `notes`, a value a sample."""
    hertz = 440.0 * 2 ** ((notes - 69) / 12)
    phase = 2 * np.pi * np.cumsum(hertz) / RATE
    return sum(np.sin(partial * phase) / partial for partial in range(1, 9))


@pytest.mark.parametrize("note", [40, 47, 55, 64, 76, 88])
def test_a_steady_tone_is_right_to_a_cent_or_two(note: int) -> None:
    found = track(tone(np.full(RATE // 2, float(note))), RATE, 0.1, 0.4, note - 3, note + 3)
    assert np.abs(found.heights - note).max() < 0.02
    assert found.clarity.min() > 0.95


def test_a_bend_is_followed() -> None:
    notes = 60 + 2 * np.clip((np.arange(RATE) / RATE - 0.3) / 0.3, 0, 1)
    found = track(tone(notes), RATE, 0.1, 0.9, 57, 64)
    expected = np.interp(found.seconds, np.arange(RATE) / RATE, notes)
    assert np.abs(found.heights - expected).max() < 0.12


def test_noise_is_not_clear() -> None:
    noise = np.random.default_rng(0).normal(size=RATE // 2)
    assert np.median(track(noise, RATE, 0.1, 0.4, 57, 64).clarity) < 0.6
    assert len(track(noise, RATE, 0.1, 0.1, 57, 64).heights) == 0


def test_the_square_difference_is_one_at_the_period() -> None:
    period = 100
    wave = np.sin(2 * np.pi * np.arange(1000) / period)
    row = square_difference(wave[None, :600], 300, 250)[0]
    assert row[0] == pytest.approx(1.0, abs=1e-6)
    assert row[period] == pytest.approx(1.0, abs=1e-6)
    assert row[period // 2] == pytest.approx(-1.0, abs=1e-6)


def test_frequency_and_track_share_a_reference() -> None:
    wave = np.sin(2 * np.pi * frequency(69) * np.arange(RATE // 4) / RATE)
    assert track(wave, RATE, 0.1, 0.2, 66, 72).heights == pytest.approx(69.0, abs=0.02)


def test_nothing_is_heard_after_the_end() -> None:
    wave = tone(np.full(RATE // 2, 60.0))
    assert track(wave, RATE, 0.3, 2.0, 57, 63).seconds.max() < 0.5
    assert not len(track(wave, RATE, 0.6, 2.0, 57, 63).seconds)
