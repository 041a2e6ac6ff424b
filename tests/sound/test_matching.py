"""Sources are matched by the tones of EBU Tech 3341: 1 kHz at -23 dBFS on both sides reads -23.0 LUFS (case
1) and at -33 dBFS -33.0 (case 2), tolerance 0.1 LU. EBU R 128 sets the target level of -23 LUFS."""

import math
from fractions import Fraction

import numpy as np
import pytest

from pipeline.music.fragment import Measure
from pipeline.sound.click import click, count_in
from pipeline.sound.loudness import RATE, level
from pipeline.sound.matching import CLICK_UNDER, SOURCE_LUFS, click_gain, matching_gain
from pipeline.sound.mix import Part, mixed
from pipeline.sound.signal import Signal


def tone(dbfs: float, seconds: float, channels: int) -> Signal:
    wave = 10 ** (dbfs / 20) * np.sin(2 * np.pi * 1000 * np.arange(round(seconds * RATE)) / RATE)
    return Signal(np.repeat(wave.astype(np.float32)[:, None], channels, axis=1), RATE)


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize(("dbfs", "decibels"), [(-23, 0.0), (-33, 10.0)])
def test_the_tones_of_tech_3341_come_to_the_target_of_r_128(
    dbfs: float, decibels: float, channels: int
) -> None:
    """A mix plays one channel on both sides, so its gain is the same."""
    gain = matching_gain(tone(dbfs, 20, channels))
    assert abs(20 * math.log10(gain) - decibels) <= 0.1


def test_a_mix_of_matched_sources_lies_at_the_target() -> None:
    """Short sounds one after another, as a scene lays them: soft and mono, loud and stereo."""
    sounds = [tone(-40, 1.5, 1), tone(-12, 1.5, 2)]
    parts = [Part(one, Fraction(1 + 3 * number), matching_gain(one)) for number, one in enumerate(sounds)]
    assert abs(level(mixed(parts, Fraction(7))).lufs - SOURCE_LUFS) <= 0.1


def test_silence_and_peaks_set_no_gain_that_could_not_be() -> None:
    assert matching_gain() == 1.0
    assert matching_gain(Signal(np.zeros((RATE, 2), np.float32), RATE)) == 1.0
    spike = np.zeros((5 * RATE, 1), np.float32)
    spike[::RATE] = 0.5
    gain = matching_gain(Signal(spike, RATE))
    assert level(Signal(spike * np.float32(gain), RATE)).dbtp <= -1.0


def test_clicks_lie_under_the_music_and_are_gated_out() -> None:
    """Tech 3341: momentary loudness is that of 0.4 s. A count-in changes no scene's loudness by 0.1 LU."""
    window = np.zeros((round(0.4 * RATE), 2), np.float32)
    window[: len(click(True))] = click(True) * click_gain(SOURCE_LUFS)
    assert abs(level(Signal(window, RATE)).lufs - (SOURCE_LUFS - CLICK_UNDER)) < 0.05
    beats = count_in(Measure(Fraction(0), Fraction(4)), Fraction(1, 2))
    clicks = Part(beats, Fraction(0), click_gain(SOURCE_LUFS), Fraction(0), role="click")
    music = Part(tone(-23, 3, 2), Fraction(2))
    counted, alone = (level(mixed(parts, Fraction(5))).lufs for parts in ([clicks, music], [music]))
    assert abs(counted - alone) < 0.1
