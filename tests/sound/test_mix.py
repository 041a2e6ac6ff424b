"""The mix: exact places, fades without clicks, ducking under a voice, blocks that join."""

from fractions import Fraction

import numpy as np
import pytest

from pipeline.music.fragment import Measure
from pipeline.sound.click import click, clicks, count_in, count_in_length, counts
from pipeline.sound.mix import DUCK_DB, Part, looped, mix_blocks, mixed
from pipeline.sound.signal import Signal
from pipeline.timing import TimeMap

RATE = 48000


def steady(seconds: float, size: float = 0.5, hertz: float = 0) -> Signal:
    time = np.arange(round(seconds * RATE)) / RATE
    wave = size * np.cos(2 * np.pi * hertz * time)
    return Signal(wave.astype(np.float32)[:, None], RATE)


def test_parts_lie_at_their_exact_samples_even_at_the_end_of_an_hour() -> None:
    mark = Signal(np.ones((1, 1), np.float32), RATE)
    at = Fraction(3599) + Fraction(1001, 30000)
    part = Part(mark, at, fade_in=Fraction(0), fade_out=Fraction(0))
    start = 0
    for block in mix_blocks([part], Fraction(3600)):
        if found := np.flatnonzero(block.samples[:, 0]).tolist():
            assert [start + place for place in found] == [round(at * RATE)]
        start += len(block.samples)
    assert start == 3600 * RATE


def test_length_is_exact_and_what_hangs_over_is_cut() -> None:
    length = Fraction(1001, 480)
    out = mixed([Part(steady(3), Fraction(-1)), Part(steady(3), Fraction(1))], length)
    assert out.samples.shape == (round(length * RATE), 2)
    assert np.array_equal(out.samples[:, 0], out.samples[:, 1])


def test_cut_sounds_start_and_end_without_a_click() -> None:
    out = mixed([Part(steady(1), Fraction(1, 2))], Fraction(2)).samples[:, 0]
    assert np.abs(np.diff(out)).max() < 0.5 * np.pi / 2 / 240 * 1.1


def test_a_cross_fade_keeps_the_power() -> None:
    rng = np.random.default_rng(1)
    one, two = (Signal(rng.normal(0, 0.1, (RATE, 1)).astype(np.float32), RATE) for _ in range(2))
    half = Fraction(1, 2)
    parts = [Part(one, Fraction(0), fade_out=half), Part(two, half, fade_in=half)]
    out = mixed(parts, Fraction(3, 2)).samples[RATE // 10 : -RATE // 10, 0]
    level = np.sqrt(np.mean(out[: len(out) // 4800 * 4800].reshape(-1, 4800) ** 2, axis=1))
    assert np.abs(20 * np.log10(level / 0.1)).max() < 0.5


def test_excerpts_go_down_smoothly_before_a_voice_and_come_back() -> None:
    voice = Part(steady(1, 0.2, 300), Fraction(2), role="voice", gain=0.0001)
    loud = Part(steady(1, 0.2, 300), Fraction(2), role="voice")
    for part, lowest in ((voice, 0.0), (loud, DUCK_DB)):
        out = mixed([Part(steady(6), Fraction(0)), part], Fraction(6)).samples[:, 0]
        bare = out - mixed([part], Fraction(6)).samples[:, 0]
        gain = 20 * np.log10(bare[RATE // 2 : -RATE // 2] / 0.5)
        assert gain.min() == pytest.approx(lowest, abs=0.01)
        assert gain[0] == gain[-1] == pytest.approx(0, abs=1e-4)
        assert np.abs(np.diff(gain)).max() < 0.01
    assert gain[round(1.5 * RATE) - 200] == pytest.approx(DUCK_DB, abs=0.2)


def test_a_short_pause_of_the_voice_keeps_excerpts_down() -> None:
    words = [Part(steady(1, 0.2, 300), Fraction(at), role="voice") for at in (1, Fraction(23, 10))]
    out = mixed([Part(steady(6), Fraction(0)), *words], Fraction(6)).samples[:, 0]
    pause = out[round(2.1 * RATE) : round(2.2 * RATE)]
    assert np.allclose(20 * np.log10(pause / 0.5), DUCK_DB, atol=0.1)


def test_clicks_and_voices_are_not_ducked() -> None:
    voice = Part(steady(2, 0.2, 300), Fraction(0), role="voice")
    mark = Part(steady(1, 0.1), Fraction(1, 2), role="click")
    out = mixed([voice, mark], Fraction(2)).samples - mixed([voice], Fraction(2)).samples
    assert out[RATE, 0] == pytest.approx(0.1, abs=1e-6)


def test_another_rate_is_refused() -> None:
    with pytest.raises(ValueError, match="44100"):
        mixed([Part(Signal(np.zeros((10, 1), np.float32), 44100), Fraction(0))], Fraction(1))


def test_loops_follow_each_other_to_the_sample() -> None:
    lead = Signal(np.full((100, 1), 0.25, np.float32), RATE)
    out = looped(steady(0.1), 3, Fraction(1, 100), lead).samples[:, 0]
    assert len(out) == 3 * (100 + 4800 + 480)
    assert (out[5380:5480] == 0.25).all()
    assert np.array_equal(out[:5380], out[5380:10760])


def bar(length: Fraction = Fraction(4), beats: int = 4, unit: int = 4) -> Measure:
    return Measure(Fraction(0), length, beats, unit)


def test_counts_follow_the_meter_and_a_pick_up_has_its_last_ones() -> None:
    assert [a for _, a in counts(bar())] == [True, False, False, False]
    eighths = list(counts(bar(Fraction(3), 6, 8)))
    assert [beat for beat, _ in eighths] == [Fraction(i, 2) for i in range(6)]
    assert list(counts(bar(Fraction(3, 2)))) == [(Fraction(1, 2), False)]
    assert list(counts(bar(Fraction(1)))) == [(Fraction(0), False)]


def onsets(signal: Signal) -> list[int]:
    heard = np.abs(signal.samples[:, 0]) > 1e-4
    starts = np.flatnonzero(heard & ~np.concatenate([[False], heard[:-1]]))
    return [int(s) for i, s in enumerate(starts) if i == 0 or s - starts[i - 1] > 2400]


def test_clicks_stand_on_their_samples_with_the_accent_on_one() -> None:
    moments = TimeMap.linear("beat", "clip", Fraction(0), Fraction(1, 10), Fraction(1, 2))
    out = clicks([bar(), Measure(Fraction(4), Fraction(4))], moments, Fraction(5))
    assert [abs(o - round((0.1 + 0.5 * i) * RATE)) <= 3 for i, o in enumerate(onsets(out))] == [True] * 8
    assert np.abs(click(True)).max() > 1.4 * np.abs(click(False)).max()


def test_a_count_in_ends_where_the_passage_starts() -> None:
    half = Fraction(1, 2)
    assert count_in_length(bar(), half) == 2
    assert len(count_in(bar(), half).samples) == 2 * RATE
    assert len(onsets(count_in(bar(), half, bars=2))) == 8
    pickup = bar(Fraction(1))
    assert count_in_length(pickup, half) == Fraction(7, 2)
    assert len(onsets(count_in(pickup, half))) == 7
