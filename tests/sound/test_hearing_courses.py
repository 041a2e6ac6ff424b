"""Courses of a height that are known to the sample: each kind is told from the others."""

import numpy as np
import pytest

from pipeline.sound.hearing_courses import bent, eased, gain, slid, slipped
from pipeline.sound.pitchmap import PitchMap, emphasised, pitch_map

RATE = 44100
TIME = np.arange(RATE // 2) / RATE


def mapped(heights: np.ndarray, start: float, end: float) -> PitchMap:
    """What is seen of a string-like tone whose height follows `heights`, a value a sample."""
    phase = 2 * np.pi * np.cumsum(440.0 * 2 ** ((heights - 69) / 12)) / RATE
    wave = sum(np.sin(partial * phase) / partial**1.5 for partial in range(1, 12))
    return pitch_map(emphasised(wave, RATE), RATE, start, end, heights.min() - 2, heights.max() + 4)


def jump(low: float, high: float) -> np.ndarray:
    return np.where(TIME < 0.25, low, high)


def glide(low: float, high: float, seconds: float) -> np.ndarray:
    return low + (high - low) * eased((TIME - 0.25 + seconds) / seconds)


@pytest.mark.parametrize(("low", "high"), [(52, 54), (60, 57), (70, 74)])
def test_a_glide_is_told_from_a_jump(low: int, high: int) -> None:
    glided = slid(mapped(glide(low, high, 0.06), 0.12, 0.32), low, high, 0.25)
    assert glided.gain > 0.2
    assert glided.seconds == pytest.approx(0.06, abs=0.021)
    assert slid(mapped(jump(low, high), 0.12, 0.32), low, high, 0.25).gain < 0.1


@pytest.mark.parametrize("away", [-3.0, 2.0])
def test_a_slip_leaves_a_repeated_height(away: float) -> None:
    heights = 60 + away * np.where(TIME < 0.25, 0, 1 - eased((TIME - 0.25) / 0.05))
    assert slipped(mapped(heights, 0.2, 0.35), 60.0, 0.25) > 0.3
    assert slipped(mapped(np.full(len(TIME), 60.0), 0.2, 0.35), 60.0, 0.25) < 0.0


@pytest.mark.parametrize("semitones", [0.5, 1.0, 2.0, 3.0])
def test_a_bend_rises_and_stays(semitones: float) -> None:
    found = bent(mapped(60 + semitones * eased((TIME - 0.15) / 0.1), 0.1, 0.45), 60.0)
    assert found.semitones == semitones
    assert found.gain > 0.3


@pytest.mark.parametrize("hertz", [4.5, 5.6, 7.0])
@pytest.mark.parametrize("upwards", [True, False])
def test_a_swing_is_no_bend(hertz: float, upwards: bool) -> None:
    swing = np.sin(2 * np.pi * hertz * TIME)
    found = bent(mapped(60 + 0.5 * (swing**2 if upwards else swing), 0.05, 0.45), 60.0)
    assert found.gain < 0.0


def test_an_early_start_of_the_next_note_is_no_bend() -> None:
    map_ = mapped(np.where(TIME < 0.18, 60.0, 62.0), 0.05, 0.26)
    assert bent(map_, 60.0).gain > 0.2
    assert bent(map_, 60.0, onward=62.0).gain < 0.0


def test_a_slide_on_to_the_next_note_is_no_bend() -> None:
    map_ = mapped(glide(60, 62, 0.1), 0.1, 0.25)
    assert bent(map_, 60.0, onward=62.0).gain < min(0.0, bent(map_, 60.0).gain)


def test_a_level_note_out_of_tune_is_no_bend() -> None:
    assert bent(mapped(np.full(len(TIME), 60.3), 0.1, 0.4), 60.0).gain < 0.05


def test_where_little_sounds_nothing_is_said() -> None:
    short = mapped(np.full(len(TIME), 60.0), 0.2, 0.22)
    assert slid(short, 58.0, 60.0, 0.2).seconds == 0.0
    assert slipped(short, 60.0, 0.2) == 0.0
    assert bent(short, 60.0).semitones == 0.0


def test_a_gain_is_a_logarithm_of_what_stays_unexplained() -> None:
    assert gain(0.9, 0.9) == 0.0
    assert gain(0.79, 0.89) == pytest.approx(np.log(22 / 12))
    assert gain(0.9, 0.8) < 0
