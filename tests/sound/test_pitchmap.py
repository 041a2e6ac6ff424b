"""Heights of known tones: steady, bent, wrong and silent."""

import numpy as np
import pytest

from pipeline.music.pitch import frequency
from pipeline.sound.pitchmap import GRID, PitchMap, pitch_map, square_difference

RATE = 44100


def tone(notes: np.ndarray) -> np.ndarray:
    """A string-like tone whose height follows `notes`, a value a sample."""
    hertz = 440.0 * 2 ** ((notes - 69) / 12)
    phase = 2 * np.pi * np.cumsum(hertz) / RATE
    return sum(np.sin(partial * phase) / partial for partial in range(1, 9))


def best(map_: PitchMap) -> np.ndarray:
    """The clearest height at each moment."""
    return map_.heights[map_.clarity.argmax(axis=1)]


@pytest.mark.parametrize("note", [40, 47, 55, 64, 76, 88])
def test_a_steady_tone_is_clearest_at_its_height(note: int) -> None:
    map_ = pitch_map(tone(np.full(RATE // 2, float(note))), RATE, 0.1, 0.4, note - 3, note + 3)
    assert np.abs(best(map_) - note).max() <= GRID
    assert map_.along(np.full((1, len(map_.seconds)), float(note)))[0] > 0.95


@pytest.mark.parametrize("note", [40, 64, 88])
def test_a_semitone_beside_it_is_told_apart_high_and_low(note: int) -> None:
    map_ = pitch_map(tone(np.full(RATE // 2, float(note))), RATE, 0.1, 0.4, note - 3, note + 3)
    beside = map_.along(np.array([[note + 1.0], [note - 1.0]]) * np.ones(len(map_.seconds)))
    assert beside.max() < 0.8


def test_a_bend_is_followed() -> None:
    notes = 60 + 2 * np.clip((np.arange(RATE) / RATE - 0.3) / 0.3, 0, 1)
    map_ = pitch_map(tone(notes), RATE, 0.1, 0.9, 57, 64)
    expected = np.interp(map_.seconds, np.arange(RATE) / RATE, notes)
    assert np.abs(best(map_) - expected).max() < 0.25
    courses = np.stack([expected, np.full(len(expected), 60.0), np.full(len(expected), 62.0)])
    assert map_.along(courses).argmax() == 0


def test_noise_is_not_clear() -> None:
    noise = np.random.default_rng(0).normal(size=RATE // 2)
    assert np.median(pitch_map(noise, RATE, 0.1, 0.4, 57, 64).clarity.max(axis=1)) < 0.6
    assert len(pitch_map(noise, RATE, 0.1, 0.1, 57, 64).seconds) == 0


def test_the_square_difference_is_one_at_the_period() -> None:
    period = 100
    wave = np.sin(2 * np.pi * np.arange(1000) / period)
    row = square_difference(wave[None, :600], 300, 250)[0]
    assert row[0] == pytest.approx(1.0, abs=1e-6)
    assert row[period] == pytest.approx(1.0, abs=1e-6)
    assert row[period // 2] == pytest.approx(-1.0, abs=1e-6)


def test_frequency_and_map_share_a_reference() -> None:
    wave = np.sin(2 * np.pi * frequency(69) * np.arange(RATE // 4) / RATE)
    assert best(pitch_map(wave, RATE, 0.1, 0.2, 66, 72)) == pytest.approx(69.0, abs=GRID)


def test_nothing_is_heard_after_the_end() -> None:
    wave = tone(np.full(RATE // 2, 60.0))
    assert pitch_map(wave, RATE, 0.3, 2.0, 57, 63).seconds.max() < 0.5
    assert not len(pitch_map(wave, RATE, 0.6, 2.0, 57, 63).seconds)
