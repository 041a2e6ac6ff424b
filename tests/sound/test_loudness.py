"""Loudness by the signals of EBU Tech 3341, true peaks by theirs, and what the gain makes of them.

EBU Tech 3341 v4 (2023), table 1: cases 1-6 (integrated loudness, tolerance +-0.1 LU) and 15-19 (true peak,
tolerance +0.2 / -0.4 dB). The official files may not be passed on, so the signals are made here.
"""

import math

import numpy as np
import pyloudnorm
import pytest

from pipeline.sound.limit import limited
from pipeline.sound.loudness import RATE, Level, gain_to, level
from pipeline.sound.signal import Signal


def tone(parts: list[tuple[float, float]], channels: int = 2, hertz: float = 1000) -> Signal:
    """A sine in (dBFS peak, seconds) parts, the same in all channels."""
    sizes = np.concatenate([np.full(round(s * RATE), 10 ** (db / 20)) for db, s in parts])
    wave = sizes * np.sin(2 * np.pi * hertz * np.arange(len(sizes)) / RATE)
    return Signal(np.repeat(wave.astype(np.float32)[:, None], channels, axis=1), RATE)


CASES = {
    1: ([(-23, 20)], -23.0),
    2: ([(-33, 20)], -33.0),
    3: ([(-36, 10), (-23, 60), (-36, 10)], -23.0),
    4: ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23.0),
    5: ([(-26, 20), (-20, 20.1), (-26, 20)], -23.0),
}


@pytest.mark.parametrize("case", CASES)
def test_integrated_loudness_of_tech_3341(case: int) -> None:
    parts, wanted = CASES[case]
    assert abs(level(tone(parts)).lufs - wanted) <= 0.1


def test_five_channels_of_tech_3341_case_6() -> None:
    wave = tone([(0, 20)], 1).samples
    sizes = 10 ** (np.array([-28, -28, -24, -30, -30]) / 20)
    assert abs(level(Signal((wave * sizes).astype(np.float32), RATE)).lufs + 23) <= 0.1


@pytest.mark.parametrize(
    ("divisor", "size", "degrees", "wanted"),
    [(4, 0.5, 0, -6.0), (4, 0.5, 45, -6.0), (6, 0.5, 60, -6.0), (8, 0.5, 67.5, -6.0), (4, 1.41, 45, 3.0)],
)
def test_true_peaks_of_tech_3341(divisor: int, size: float, degrees: float, wanted: float) -> None:
    count, ramp = RATE, round(0.01 * RATE)
    wave = size * np.sin(2 * np.pi * np.arange(count) / divisor + np.radians(degrees))
    wave[:ramp] *= np.linspace(0, 1, ramp)
    wave[-ramp:] *= np.linspace(1, 0, ramp)
    peak = level(Signal(wave.astype(np.float32)[:, None], RATE)).dbtp
    assert wanted - 0.4 <= peak <= wanted + 0.2


def test_one_channel_at_full_scale_as_in_bs_1770() -> None:
    # ITU-R BS.1770-5: a 0 dBFS sine of 997 Hz in one front channel reads -3.01 LKFS
    assert abs(level(tone([(0, 10)], 1, 997)).lufs + 3.01) < 0.02


def test_noise_reads_as_in_another_meter() -> None:
    wave = np.random.default_rng(2).normal(0, 0.1, (RATE * 8, 2)) * np.repeat([1, 0.05], RATE * 4)[:, None]
    other = pyloudnorm.Meter(RATE, filter_class="DeMan").integrated_loudness(wave)
    assert abs(level(Signal(wave.astype(np.float32), RATE)).lufs - other) < 0.05


def test_blocks_of_any_size_give_the_same_level() -> None:
    whole = tone([(-20, 2), (-30, 1.3)])
    blocks = [Signal(whole.samples[i : i + 7777], RATE) for i in range(0, len(whole.samples), 7777)]
    one, two = level(whole), level(blocks)
    assert one.lufs == pytest.approx(two.lufs, abs=1e-9)
    assert one.dbtp == pytest.approx(two.dbtp, abs=0.001)


def test_short_and_silent_sounds_are_measured_too() -> None:
    assert abs(level(tone([(-23, 0.3)])).lufs + 23) < 0.2
    assert level(Signal(np.zeros((RATE, 1), np.float32), RATE)) == Level(-math.inf, -math.inf)
    assert level(Signal(np.zeros((0, 1), np.float32), RATE)).lufs == -math.inf
    assert gain_to(Level(-math.inf, -math.inf)) == 1.0


def test_the_gain_reaches_the_loudness_or_stops_at_the_peak() -> None:
    quiet = tone([(-30, 5)])
    gained = Signal((quiet.samples * gain_to(level(quiet))).astype(np.float32), RATE)
    assert abs(level(gained).lufs + 16) < 0.05
    assert gain_to(Level(-30.0, -3.0)) == pytest.approx(10 ** (2 / 20))


def test_another_rate_is_refused() -> None:
    with pytest.raises(ValueError, match="44100"):
        level(Signal(np.zeros((100, 1), np.float32), 44100))


def spiky() -> Signal:
    rng = np.random.default_rng(5)
    wave = 0.2 * np.sin(2 * np.pi * 220 * np.arange(RATE * 3) / RATE)
    for at in rng.integers(0, RATE * 3 - 200, 30):
        wave[at : at + 100] += rng.normal(0, 0.9, 100)
    return Signal(np.stack([wave, wave * 0.7], axis=1).astype(np.float32), RATE)


def test_limited_peaks_stay_under_the_ceiling_wherever_the_blocks_are_cut() -> None:
    source = spiky()
    assert level(source).dbtp > 3
    whole = next(limited([source], -1.0))
    assert level(whole).dbtp <= -1.0
    cut = [Signal(source.samples[i : i + 20000], RATE) for i in range(0, len(source.samples), 20000)]
    pieces = np.concatenate([block.samples for block in limited(cut, -1.0)])
    assert pieces.shape == source.samples.shape
    assert np.abs(pieces - whole.samples).max() < 1e-5


def test_what_is_quiet_enough_is_left_alone() -> None:
    quiet = tone([(-20, 1)])
    assert np.array_equal(next(limited([quiet], -1.0)).samples, quiet.samples)
