"""Windows after what sounds, and the pitch that they are chosen by."""

import numpy as np
import pytest

from pipeline.music.pitch import frequency
from pipeline.sound.periodicity import periodicity
from pipeline.sound.window import window_for

RATE = 48000


def notes(*pitches: int, count: int = RATE // 2) -> np.ndarray:
    t = np.arange(count) / RATE
    waves = [np.cos(2 * np.pi * frequency(p) * k * t + k + p) / k for p in pitches for k in range(1, 15)]
    return np.asarray(sum(waves))


@pytest.mark.parametrize("pitch", [40, 45, 52, 64, 76, 84])
def test_a_note_is_periodic_at_its_pitch(pitch: int) -> None:
    heard = periodicity(notes(pitch), RATE)
    assert heard.clarity > 0.9
    assert abs(12 * np.log2(heard.hertz / frequency(pitch))) < 0.5


def test_noise_is_not_periodic_and_silence_tells_nothing() -> None:
    assert periodicity(np.random.default_rng(2).normal(size=RATE), RATE).clarity < 0.5
    assert periodicity(np.zeros(RATE), RATE).clarity == 1.0


def test_the_window_shortens_with_the_pitch_of_a_note() -> None:
    sizes = [window_for(notes(pitch), RATE) for pitch in (40, 55, 76)]
    assert sizes == sorted(sizes, reverse=True)
    assert len(set(sizes)) == 3


def test_a_chord_takes_a_long_window_where_it_is_long_itself() -> None:
    held = notes(45, 51, 58, 61, 66)
    assert window_for(held, RATE) > window_for(notes(45), RATE)
    assert window_for(held[: RATE // 20], RATE) < window_for(held, RATE)
