"""Pictures of sound: a tone in its row, a click in its column, peaks between their edges."""

import numpy as np
import pytest

from pipeline.sound.spectrum import RANGE_DB, peaks, row_hertz, spectrogram

RATE = 48000
SHOWN = (70.0, 7000.0)


def tone(hertz: float, seconds: float = 1.0, size: float = 0.5) -> np.ndarray:
    return (size * np.sin(2 * np.pi * hertz * np.arange(round(seconds * RATE)) / RATE)).astype(np.float32)


@pytest.mark.parametrize("hertz", [82.4, 220.0, 659.3, 1318.5, 5000.0])
def test_a_tone_lies_in_its_row(hertz: float) -> None:
    picture = spectrogram(tone(hertz), RATE, np.linspace(0.2, 0.8, 20), 240, *SHOWN)
    row = int(np.argmax(picture[:, 10]))
    assert abs(np.log2(row_hertz(240, *SHOWN)[row] / hertz)) < 1 / 24
    assert picture.max() == 255


def test_levels_are_decibels_below_the_loudest() -> None:
    wave = tone(300) + tone(1200, size=0.05)
    column = spectrogram(wave, RATE, np.array([0.5]), 300, *SHOWN)[:, 0]
    quiet = column[np.argmin(np.abs(row_hertz(300, *SHOWN) - 1200))]
    assert (255 - quiet) / 255 * RANGE_DB == pytest.approx(20, abs=2.5)


def test_a_slip_of_twenty_milliseconds_shows() -> None:
    wave = np.concatenate([tone(2000, 0.3), tone(1780, 0.02), tone(2240, 0.3)])
    picture = spectrogram(wave, RATE, np.array([0.28, 0.31, 0.34]), 400, *SHOWN)
    heard = row_hertz(400, *SHOWN)[np.argmax(picture, axis=0)]
    assert np.abs(np.log2(heard / [2000, 1780, 2240])).max() < 1 / 24


def test_a_click_is_narrow_in_the_upper_rows() -> None:
    click = np.concatenate([np.zeros(4800), np.ones(2), np.zeros(4800)]).astype(np.float32)
    row = spectrogram(click, RATE, np.arange(0.05, 0.15, 0.002), 300, *SHOWN)[20]
    assert np.ptp(np.flatnonzero(row > 200)) * 0.002 < 0.02


def test_silence_is_black_and_equal_calls_are_equal() -> None:
    centres = np.linspace(0, 1, 50)
    assert not spectrogram(np.zeros(RATE, np.float32), RATE, centres, 100, *SHOWN).any()
    assert np.array_equal(*(spectrogram(tone(220), RATE, centres, 100, *SHOWN) for _ in range(2)))
    assert spectrogram(np.zeros(0, np.float32), RATE, centres, 100, *SHOWN).shape == (100, 50)


def test_peaks_hold_the_lowest_and_highest_between_edges() -> None:
    wave = np.array([0, 1, -2, 3, 0.5], np.float32)
    found = peaks(wave, np.array([-4, -2, 0, 2, 4, 4, 5, 9]))
    assert found.tolist() == [[0, 0], [0, 0], [0, 1], [-2, 3], [0.5, 0.5], [0.5, 0.5], [0, 0]]
    assert not peaks(np.zeros(0, np.float32), np.array([0, 1])).any()
