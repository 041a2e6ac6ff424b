"""Slow-down: exact lengths, copied attacks, true pitch, steady level, no clicks."""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import welch

from pipeline.sound.signal import Signal
from pipeline.sound.slowmap import stretch_map
from pipeline.sound.stretch import stretch
from pipeline.timing import Span

RATE = 48000
NOTE = 4000  # samples a note: 12 notes a second


def tone(hertz: float, count: int) -> np.ndarray:
    """Decaying harmonics with a noisy start."""
    t = np.arange(count) / RATE
    rng = np.random.default_rng(round(hertz))
    partials = range(1, int(16000 / hertz))
    wave = sum(
        np.cos(2 * np.pi * hertz * k * t + rng.uniform(0, 6)) * np.exp(-t * (2 + k)) / k for k in partials
    )
    wave = wave * np.minimum(1, t / 0.0005) * np.minimum(1, (t[-1] - t) / 0.002)
    return 0.2 * (wave + rng.normal(size=count) * 0.5 * np.exp(-t * 600))


HERTZ = [440 * 2 ** (k / 12) for k in (-17, -12, -9, -5, -2, 0, 3, 7, 10, 12, -14, 5)]
FIRST = 4800
ANCHORS = tuple(Fraction(FIRST + i * NOTE, RATE) for i in range(len(HERTZ)))


@pytest.fixture(scope="module")
def run() -> Signal:
    wave = np.concatenate([np.zeros(FIRST), *(tone(h, NOTE) for h in HERTZ), np.zeros(2400)])
    return Signal(wave.astype(np.float32)[:, None], RATE)


def whole(signal: Signal) -> Span:
    return Span("clip", Fraction(0), signal.duration)


def hertz_of(wave: np.ndarray, near: float) -> float:
    """The peak of a long spectrum near a frequency, by a parabola through its logarithm."""
    size = 2**18
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), size))
    low = int(near * 0.97 / RATE * size)
    peak = low + int(np.argmax(spectrum[low : int(near * 1.03 / RATE * size) + 2]))
    a, b, c = np.log(spectrum[peak - 1 : peak + 2])
    return (peak + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / size


@pytest.mark.parametrize("speed", [Fraction(97, 100), Fraction(1, 2), Fraction(1, 4), Fraction(1, 10)])
def test_attacks_are_the_sources_own_samples_at_the_mapped_places(run: Signal, speed: Fraction) -> None:
    slow = stretch(run, whole(run), speed, ANCHORS, frozenset())
    mapped = stretch_map(whole(run), speed, ANCHORS, frozenset(), RATE)
    assert len(slow.samples) == round(run.duration / speed * RATE)
    for anchor in ANCHORS:
        source = round(anchor * RATE)
        target = mapped(Fraction(source - 96, RATE)) * RATE
        assert target.denominator == 1
        copied = slow.samples[int(target) : int(target) + 1056]
        assert np.array_equal(copied, run.samples[source - 96 : source + 960])


def test_onsets_keep_the_rhythm_to_the_sample() -> None:
    span = Span("clip", Fraction(1, 20), Fraction(1))
    mapped = stretch_map(span, Fraction(3, 10), ANCHORS, frozenset(), RATE)
    assert mapped(span.start) == 0
    assert mapped(span.end) == span.length / Fraction(3, 10)
    for anchor in ANCHORS[:-2]:
        assert abs(mapped(anchor) - (anchor - span.start) / Fraction(3, 10)) <= Fraction(1, RATE)


def test_full_speed_is_the_untouched_cut(run: Signal) -> None:
    span = Span("clip", Fraction(1, 7), Fraction(5, 7))
    assert np.array_equal(
        stretch(run, span, Fraction(1), ANCHORS, frozenset()).samples, run.cut(span.start, span.end).samples
    )
    assert stretch_map(span, Fraction(1), ANCHORS, frozenset(), RATE).points == (
        (Fraction(1, 7), Fraction(0)),
        (Fraction(5, 7), Fraction(4, 7)),
    )


@pytest.mark.parametrize("speed", [Fraction(1, 2), Fraction(1, 4)])
def test_bodies_keep_pitch_and_joins_do_not_click(run: Signal, speed: Fraction) -> None:
    slow = stretch(run, whole(run), speed, ANCHORS, frozenset())
    mapped = stretch_map(whole(run), speed, ANCHORS, frozenset(), RATE)
    cents, steps = [], []
    for anchor, hertz in zip(ANCHORS, HERTZ, strict=True):
        source = round(anchor * RATE)
        begin, end = (round(mapped(Fraction(s, RATE)) * RATE) for s in (source + 960, source + NOTE - 96))
        own = run.samples[source + 960 : source + NOTE - 96, 0]
        heard = hertz_of(slow.samples[begin : end - 300, 0], hertz)
        cents.append(abs(1200 * np.log2(heard / hertz_of(own, hertz))))
        bends = np.abs(np.diff(slow.samples[:, 0], 2))
        step = max(bends[begin - 3 : begin + 150].max(), bends[end - 300 : end + 3].max())
        steps.append(step / np.abs(np.diff(own, 2)).max())
    assert np.median(cents) < 0.5
    assert max(cents) < 2
    assert max(steps) < 1.5


def held(hertz: np.ndarray | float, seconds: float = 1.0) -> Signal:
    """One steady tone with an attack at 0.1 s; its pitch may move."""
    t = np.arange(round(seconds * RATE)) / RATE
    phase = 2 * np.pi * np.cumsum(np.broadcast_to(hertz, t.shape)) / RATE
    wave = sum(np.cos(k * phase + k) / k for k in range(1, 20)) * np.minimum(1, t / 0.001)
    return Signal((0.2 * np.concatenate([np.zeros(FIRST), wave])).astype(np.float32)[:, None], RATE)


@pytest.mark.parametrize("moving", [False, True])
def test_level_is_steady_and_bends_stay_smooth(moving: bool) -> None:
    share = np.clip((np.arange(RATE) / RATE - 0.3) / 0.2, 0, 1) if moving else 0.0
    source = held(220.0 * 2 ** (share * 2 / 12))
    slow = stretch(source, whole(source), Fraction(1, 4), (Fraction(1, 10),), frozenset()).samples[:, 0]
    level = [20 * np.log10(np.std(slow[i : i + 4800])) for i in range(24000, len(slow) - 9600, 2400)]
    assert np.std(level) < 0.3
    assert np.abs(np.diff(slow[24000:], 2)).max() < 1.5 * np.abs(np.diff(source.samples[6000:, 0], 2)).max()


def thirds(wave: np.ndarray) -> np.ndarray:
    """Third-octave levels in dB of the mean spectrum (scipy's Welch) from 100 Hz to 5 kHz."""
    hertz, power = welch(wave, RATE, nperseg=8192)
    edges = 100 * 2 ** (np.arange(18) / 3)
    return np.array([10 * np.log10(power[(hertz >= a) & (hertz < b)].sum()) for a, b in pairwise(edges)])


@pytest.mark.parametrize("speed", [Fraction(1, 2), Fraction(1, 4)])
def test_a_chord_keeps_its_spectrum_within_a_decibel(speed: Fraction) -> None:
    voices = [held(hertz, 0.8).samples for hertz in (110.0, 164.9, 220.3, 277.0, 330.1)]
    chord = Signal(sum(voices, np.zeros_like(voices[0])) / 5, RATE)
    slow = stretch(chord, whole(chord), speed, (Fraction(1, 10),), frozenset()).samples[:, 0]
    body = slow[round(0.15 * RATE / speed) : -round(0.05 * RATE / speed)]
    difference = thirds(body) - thirds(chord.samples[round(0.15 * RATE) : -round(0.05 * RATE), 0])
    assert np.sqrt(np.mean(difference**2)) < 1


def test_anchors_wrong_by_five_milliseconds_degrade_gently(run: Signal) -> None:
    rng = np.random.default_rng(4)
    wrong = tuple(a + Fraction(int(rng.choice([-240, 240])), RATE) for a in ANCHORS)
    slow = stretch(run, whole(run), Fraction(1, 2), wrong, frozenset()).samples[:, 0]
    assert np.abs(slow).max() < 1.3 * np.abs(run.samples).max()
    unlocked = stretch(run, whole(run), Fraction(1, 2), wrong, frozenset(range(len(wrong)))).samples[:, 0]
    assert np.abs(unlocked).max() < 1.5 * np.abs(run.samples).max()


def test_loose_onsets_keep_their_time_but_are_not_copied(run: Signal) -> None:
    mapped = stretch_map(whole(run), Fraction(1, 2), ANCHORS, frozenset({3}), RATE)
    assert mapped(ANCHORS[3]) == 2 * ANCHORS[3]
    around = mapped(ANCHORS[3] + Fraction(1, 1000)) - mapped(ANCHORS[3] - Fraction(1, 1000))
    assert around > Fraction(2, 1000)


def test_without_anchors_the_map_is_straight_and_the_sound_whole(run: Signal) -> None:
    mapped = stretch_map(whole(run), Fraction(1, 2), (), frozenset(), RATE)
    assert mapped(Fraction(1, 3)) == Fraction(2, 3)
    slow = stretch(run, whole(run), Fraction(1, 2), (), frozenset())
    assert len(slow.samples) == 2 * len(run.samples)
    assert np.std(slow.samples) == pytest.approx(np.std(run.samples), rel=0.1)


def test_strummed_onsets_are_one_attack_and_channels_stay_apart() -> None:
    mono = held(220.0)
    stereo = Signal(np.hstack([mono.samples, np.zeros_like(mono.samples)]), RATE)
    close = (Fraction(1, 10), Fraction(104, 1000), Fraction(108, 1000))
    slow = stretch(stereo, whole(stereo), Fraction(1, 2), close, frozenset())
    assert not slow.samples[:, 1].any()
    mapped = stretch_map(whole(stereo), Fraction(1, 2), close, frozenset(), RATE)
    assert mapped(Fraction(108, 1000)) - mapped(Fraction(1, 10)) == Fraction(8, 1000)


@pytest.mark.parametrize("speed", [Fraction(1, 20), Fraction(2)])
def test_a_speed_outside_the_range_is_refused(run: Signal, speed: Fraction) -> None:
    with pytest.raises(ValueError, match="speed"):
        stretch_map(whole(run), speed, (), frozenset(), RATE)


def test_equal_calls_give_equal_sound(run: Signal) -> None:
    one, two = (stretch(run, whole(run), Fraction(1, 2), ANCHORS, frozenset()).samples for _ in range(2))
    assert np.array_equal(one, two)


def test_silence_stays_silent() -> None:
    silent = Signal(np.zeros((RATE, 1), np.float32), RATE)
    assert not stretch(silent, whole(silent), Fraction(1, 2), (Fraction(1, 2),), frozenset()).samples.any()


MOMENTS = st.fractions(Fraction(0), Fraction(2), max_denominator=96000)


@given(
    edges=st.lists(MOMENTS, min_size=2, max_size=2, unique=True).map(sorted),
    anchors=st.lists(MOMENTS, max_size=30).map(tuple),
    loose=st.frozensets(st.integers(0, 30), max_size=6),
    percent=st.integers(10, 100),
    rate=st.sampled_from([44100, 48000]),
)
@settings(max_examples=30, deadline=None)
def test_the_map_rises_from_the_spans_start_to_its_slowed_end(
    edges: list[Fraction],
    anchors: tuple[Fraction, ...],
    loose: frozenset[int],
    percent: int,
    rate: int,
) -> None:
    span, speed = Span("clip", *edges), Fraction(percent, 100)
    mapped = stretch_map(span, speed, anchors, loose, rate)  # a TimeMap refuses to fall
    assert mapped(span.start) == 0
    assert mapped(span.end) == span.length / speed
    for (a, b), (c, d) in pairwise(mapped.points):
        assert d - b >= (c - a) - Fraction(3, rate)


def test_a_strange_span_is_stretched_all_the_same(run: Signal) -> None:
    rng = np.random.default_rng(7)
    for _ in range(8):
        start, end = sorted(Fraction(x).limit_denominator(9973) for x in rng.uniform(0, 1, 2))
        anchors = tuple(Fraction(x).limit_denominator(7000) for x in rng.uniform(0, 1, rng.integers(0, 40)))
        slow = stretch(run, Span("clip", start, end), Fraction(3, 10), anchors, frozenset({1, 2}))
        assert len(slow.samples) == round((end - start) / Fraction(3, 10) * RATE)
        assert np.isfinite(slow.samples).all()


@pytest.mark.parametrize("off", [-5, 5])
def test_marks_five_ms_off_still_copy_the_whole_attack(run: Signal, off: int) -> None:
    """The steep part of each attack, 1 ms before to 4 ms after its start, is there sample for sample."""
    marks = tuple(anchor + Fraction(off, 1000) for anchor in ANCHORS)
    slow = stretch(run, whole(run), Fraction(1, 4), marks, frozenset()).samples
    mapped = stretch_map(whole(run), Fraction(1, 4), marks, frozenset(), RATE)
    for anchor in ANCHORS:
        source, target = round(anchor * RATE), round(mapped(anchor) * RATE)
        assert np.array_equal(slow[target - 48 : target + 192], run.samples[source - 48 : source + 192])
