"""Attacks without marks: heard where they are, kept bit for bit, and none where the sound goes on."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.sound.attacks import BLOCK_S, completed, heard_onsets
from pipeline.sound.signal import Signal
from pipeline.sound.slowmap import fences, planned, stretch_map
from pipeline.sound.stretch import stretch
from pipeline.timing import Span

RATE = 48000
STARTS = (14400, 24000, 31200, 43200, 50400, 60000)


def tone(hertz: np.ndarray | float, count: int) -> np.ndarray:
    """A held tone of many partials; its pitch may move."""
    phase = 2 * np.pi * np.cumsum(np.broadcast_to(hertz, count)) / RATE
    return np.asarray(sum(np.cos(k * phase + k) / k for k in range(1, 20)))


def signal_of(wave: np.ndarray) -> Signal:
    return Signal((0.2 * wave).astype(np.float32)[:, None], RATE)


def plucks() -> Signal:
    """Notes of rising pitch, each cutting the one before short."""
    wave = np.zeros(76800)
    for number, (start, end) in enumerate(pairwise((*STARTS, len(wave)))):
        t = np.arange(end - start) / RATE
        note = tone(220 * 2 ** (number / 6), end - start) * np.exp(-6 * t)
        wave[start:end] = note * np.minimum(1, t / 0.0005) * np.minimum(1, (t[-1] - t) / 0.002)
    return signal_of(wave)


def whole(signal: Signal) -> Span:
    return Span("clip", Fraction(0), signal.duration)


def test_attacks_are_heard_where_they_are() -> None:
    signal = plucks()
    found = heard_onsets(signal, 0, len(signal.samples))
    assert len(found) == len(STARTS)
    assert np.abs(np.subtract(found, STARTS)).max() < 0.002 * RATE


@pytest.mark.parametrize("speed", [Fraction(1, 2), Fraction(1, 4), Fraction(1, 10)])
def test_unmarked_attacks_are_copied_to_the_moment_of_the_straight_map(speed: Fraction) -> None:
    signal = plucks()
    slow = stretch(signal, whole(signal), speed, (), frozenset()).samples[:, 0]
    mapped = stretch_map(whole(signal), speed, (), frozenset(), RATE)
    heard = heard_onsets(signal, 0, len(signal.samples))
    for start, onset in zip(STARTS, heard, strict=True):
        place = round(mapped(Fraction(onset, RATE)) * RATE) + start - onset
        piece = signal.samples[start - 96 : start + 480, 0]
        assert any(np.array_equal(slow[at - 96 : at + 480], piece) for at in (place - 1, place, place + 1))


def test_a_note_between_two_marks_keeps_its_attack() -> None:
    signal = plucks()
    marks = (Fraction(STARTS[0], RATE), Fraction(STARTS[-1], RATE))
    plan = planned(whole(signal), Fraction(1, 4), marks, frozenset(), RATE)
    more = completed(plan, heard_onsets(signal, 0, len(signal.samples)), RATE)
    assert set(plan.attacks) < set(more.attacks)
    assert len(more.attacks) == len(STARTS)


@pytest.mark.parametrize(
    "cents",
    [
        pytest.param(lambda t: 0 * t, id="steady"),
        pytest.param(lambda t: 50 * np.sin(2 * np.pi * 5.5 * t), id="vibrato"),
        pytest.param(lambda t: 200 * np.clip((t - 1) / 0.3, 0, 1), id="bend"),
    ],
)
def test_nothing_starts_in_a_note_that_goes_on(cents: object) -> None:
    assert callable(cents)
    wave = tone(220 * 2 ** (cents(np.arange(2 * RATE) / RATE) / 1200), 2 * RATE)
    assert heard_onsets(signal_of(wave), RATE // 10, 2 * RATE - RATE // 10) == []


def test_noise_and_silence_have_no_attacks() -> None:
    noise = np.random.default_rng(3).normal(0, 0.1, 2 * RATE)
    assert len(heard_onsets(signal_of(noise), 0, 2 * RATE)) <= 2
    assert heard_onsets(signal_of(np.zeros(RATE)), 0, RATE) == []


@pytest.mark.parametrize("count", [1, 100, 1000, 3000])
def test_a_scrap_of_sound_has_no_attacks_and_is_slowed_all_the_same(count: int) -> None:
    scrap = signal_of(tone(220.0, count))
    assert heard_onsets(scrap, 0, count) == []
    slow = stretch(scrap, whole(scrap), Fraction(1, 2), (), frozenset())
    assert len(slow.samples) == 2 * count


def test_the_same_attacks_are_heard_whatever_is_cut() -> None:
    one = plucks()
    silence = np.zeros((BLOCK_S * RATE - 40000, 1), np.float32)
    signal = Signal(np.concatenate([silence, one.samples, one.samples]), RATE)
    count = len(signal.samples)
    heard = heard_onsets(signal, 0, count)
    assert len(heard) == 2 * len(STARTS)  # some on each side of the border between two blocks
    middle = count - len(one.samples)
    assert heard_onsets(signal, 0, middle) + heard_onsets(signal, middle, count) == heard


@given(
    marks=st.lists(st.integers(0, RATE), max_size=12),
    loose=st.frozensets(st.integers(0, 11), max_size=4),
    heard=st.lists(st.integers(0, RATE), max_size=20, unique=True).map(sorted),
    percent=st.integers(10, 99),
)
@settings(max_examples=60, deadline=None)
def test_copied_attacks_never_meet(
    marks: list[int], loose: frozenset[int], heard: list[int], percent: int
) -> None:
    span = Span("clip", Fraction(0), Fraction(1))
    anchors = tuple(Fraction(mark, RATE) for mark in marks)
    plan = planned(span, Fraction(percent, 100), anchors, loose, RATE)
    more = completed(plan, heard, RATE)
    assert set(plan.attacks) <= set(more.attacks)
    for before, after in pairwise(fences(more)):
        assert before.first <= before.last <= after.first
        assert before.end <= after.target
