"""Finding notes: short phrases on the guide, with all that can go wrong in a lesson's clip."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from pipeline.errors import Faulty
from pipeline.lesson.beats import clip_map
from pipeline.lesson.script import read_script
from pipeline.lesson.tools import find_notes
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Harmonic, Note
from pipeline.sound.align import DOUBTFUL, Alignment, align
from pipeline.sound.align_features import comb
from pipeline.sound.align_marks import anchors_of, marks_of
from pipeline.sound.align_score import events_of, expected, length_scores
from pipeline.sound.amp import amplified
from pipeline.sound.guide import play_dry
from pipeline.sound.signal import Signal
from pipeline.timing import Span, TimeMap
from tests.benchmarks.guided import RATE, guided
from tests.benchmarks.phrases import Phrase, make_phrase, misread, tempo_wrong

DEMO = Path(__file__).parents[2] / "scenes" / "kestrel" / "kestrel.yaml"
NOTES = 16
Clip = tuple[Phrase, Signal]


def signal_of(wave: np.ndarray) -> Signal:
    return Signal(wave.astype(np.float32)[:, None], RATE)


@pytest.fixture(scope="module")
def recorded() -> Callable[[int, float], Clip]:
    """A phrase by its seed and share of slurs, and its recording; made once."""
    made: dict[tuple[int, float], Clip] = {}

    def record(seed: int, slurs: float = 0.0) -> Clip:
        if (seed, slurs) not in made:
            phrase = make_phrase(seed, 10.0, NOTES, slurs)
            made[seed, slurs] = phrase, signal_of(guided(phrase, False, np.random.default_rng(seed)))
        return made[seed, slurs]

    return record


def errors(found: Alignment, phrase: Phrase) -> np.ndarray:
    return np.abs(np.array([float(m) for m in found.moments]) - np.array(phrase.seconds))


@pytest.mark.parametrize("seed", range(5))
def test_every_note_of_a_clean_phrase_is_found(recorded: Callable[..., Clip], seed: int) -> None:
    phrase, signal = recorded(seed)
    found = align(signal, phrase.fragment)
    assert errors(found, phrase).max() < 0.010
    assert np.median(errors(found, phrase)) < 0.0018
    assert found.phrase > 0.8
    assert all(moment.denominator and (moment * RATE).denominator == 1 for moment in found.moments)


def test_slurred_notes_are_found(recorded: Callable[..., Clip]) -> None:
    phrase, signal = recorded(0, 0.8)
    assert any(note.attack == "hammer" for note in phrase.fragment.notes)
    assert errors(align(signal, phrase.fragment), phrase).max() < 0.020


@pytest.mark.parametrize("by", [0.7, 1.3])
def test_a_tempo_wrong_by_thirty_per_cent_does_not_matter(recorded: Callable[..., Clip], by: float) -> None:
    phrase, signal = recorded(3)
    found = align(signal, tempo_wrong(phrase, by).fragment)
    assert errors(found, phrase).max() < 0.010
    assert found.slower == pytest.approx(by, rel=0.15)


@pytest.mark.parametrize("missing", [False, True])
def test_one_wrong_or_missing_note_spoils_no_other(recorded: Callable[..., Clip], missing: bool) -> None:
    phrase, signal = recorded(1)
    wrong, kept = misread(phrase, np.random.default_rng(2), missing)
    found = align(signal, wrong.fragment)
    assert np.mean(errors(found, wrong) < 0.020) >= (len(kept) - 1) / len(kept)


def test_a_wrong_note_is_doubted(recorded: Callable[..., Clip]) -> None:
    phrase, signal = recorded(4)
    notes = list(phrase.fragment.notes)
    notes[7] = notes[7].but(pitch=(notes[7].pitch or 0) + 6)
    found = align(signal, phrase.fragment.with_notes(notes))
    assert 7 in [doubt.note for doubt in found.doubts]
    assert "pitch" in next(doubt.reason for doubt in found.doubts if doubt.note == 7)


def test_noise_and_hum_are_borne(recorded: Callable[..., Clip]) -> None:
    phrase, signal = recorded(2)
    wave = signal.samples[:, 0]
    loud = float(np.sqrt(np.mean(wave**2)))
    noise = np.random.default_rng(1).normal(0, loud * 0.2, len(wave))
    hum = 0.2 * loud * np.sin(2 * np.pi * 50 * np.arange(len(wave)) / RATE)
    assert np.mean(errors(align(signal_of(wave + noise + hum), phrase.fragment), phrase) < 0.020) > 0.9


def test_a_wrong_fragment_is_refused_in_one_line(recorded: Callable[..., Clip]) -> None:
    _, signal = recorded(4)
    other, _ = recorded(3)
    with pytest.raises(Faulty) as caught:
        align(signal, other.fragment)
    assert len(str(caught.value).splitlines()) == 1
    assert "phrase 3" in str(caught.value)


def test_marks_set_by_hand_are_kept_and_bind_the_rest(recorded: Callable[..., Clip]) -> None:
    phrase, signal = recorded(0)
    beat, mark = phrase.fragment.notes[6].onset, Fraction(round(phrase.seconds[6] * 1000) + 30, 1000)
    found = align(signal, phrase.fragment, marks={beat: mark})
    assert found.moments[6] == mark
    assert found.confidence[6] == 1.0
    assert list(found.moments) == sorted(found.moments)


def test_a_span_counts_in_clip_seconds(recorded: Callable[..., Clip]) -> None:
    phrase, signal = recorded(1)
    span = Span("clip", Fraction(1, 4), signal.duration)
    assert errors(align(signal, phrase.fragment, span), phrase).max() < 0.010


def test_the_same_clip_gives_the_same_moments(recorded: Callable[..., Clip]) -> None:
    phrase, signal = recorded(2)
    assert align(signal, phrase.fragment) == align(signal, phrase.fragment)


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        ({Fraction(0): Fraction(99)}, "outside"),
        ({Fraction(0): Fraction(1), Fraction(1): Fraction(1, 2)}, "not after"),
    ],
)
def test_impossible_marks_are_refused(
    recorded: Callable[..., Clip], marks: dict[Fraction, Fraction], words: str
) -> None:
    phrase, signal = recorded(0)
    with pytest.raises(Faulty, match=words):
        align(signal, phrase.fragment, marks=marks)


def test_silence_and_an_hour_are_refused(recorded: Callable[..., Clip]) -> None:
    phrase, _ = recorded(0)
    with pytest.raises(Faulty, match="silent"):
        align(signal_of(np.zeros(RATE * 5)), phrase.fragment)
    with pytest.raises(Faulty, match="span"):
        align(Signal(np.ones((3600 * 100, 1), np.float32), 100), phrase.fragment)


def test_a_passage_longer_than_its_span_is_refused(recorded: Callable[..., Clip]) -> None:
    phrase, signal = recorded(0)
    with pytest.raises(Faulty):
        align(signal, phrase.fragment, Span("clip", Fraction(3, 5), Fraction(9, 10)))


def test_marks_go_back_to_the_lesson_as_plain_pairs(recorded: Callable[..., Clip]) -> None:
    phrase, signal = recorded(3)
    found = align(signal, phrase.fragment)
    marks = marks_of(found, phrase.fragment)
    assert [beat for beat, _, _ in marks] == [note.onset for note in phrase.fragment.notes]
    assert align(signal, phrase.fragment, marks={b: s for b, s, _ in marks}).moments == found.moments


def test_doubtful_anchors_are_loose(recorded: Callable[..., Clip]) -> None:
    phrase, signal = recorded(4)
    notes = list(phrase.fragment.notes)
    notes[7] = notes[7].but(pitch=(notes[7].pitch or 0) + 6)
    fragment = phrase.fragment.with_notes(notes)
    anchors, loose = anchors_of(align(signal, fragment), fragment)
    assert list(anchors) == sorted(set(anchors))
    assert loose == {7}


def chordal(phrase: Phrase) -> Fragment:
    """The phrase's first three notes: a tied chord, then one that is tied to, then a dead note."""
    a, b, c = phrase.fragment.notes[:3]
    upper = Note(a.onset, a.duration, (a.pitch or 0) + 7)
    return phrase.fragment.with_notes([upper, a, b.but(attack="tie"), c.but(dead=True)])


def test_events_are_what_starts(recorded: Callable[..., Clip]) -> None:
    fragment = chordal(recorded(0)[0])
    events = events_of(fragment)
    assert [event.notes for event in events] == [(0, 1), (3,)]
    assert len(events[0].heard) == 2
    assert events[1].heard == ()
    assert events[0].beats == float(fragment.notes[3].onset)


def test_the_expected_length_is_the_likeliest() -> None:
    phrase = make_phrase(0, 10.0, NOTES)
    seconds = expected(events_of(phrase.fragment), 150.0)
    scores = length_scores(seconds, 0.004, 0.2)
    best = np.argmax(scores, axis=1) * 0.004
    assert np.abs(best - seconds).max() < 0.004


def test_a_comb_prefers_its_own_octave() -> None:
    bins = np.fft.rfftfreq(4096, 1 / RATE)[5:560]
    low, high = comb([52.0], bins, 11.0), comb([64.0], bins, 11.0)
    assert np.linalg.norm(low) == pytest.approx(1.0)
    assert low @ high < 0.75


def test_the_demo_s_recording_is_found_where_its_maker_put_it() -> None:
    """The marks in the script are the true onsets; the recording has gone through an amplifier."""
    found = find_notes(DEMO, "take", "kestrel", keep_marks=False)
    clip = read_script(DEMO).episode.clips["take"]
    true = dict(clip_map(clip, found.fragment).points)  # type: ignore[union-attr]
    wrong = [abs(float(second - true[beat])) for beat, second, _ in marks_of(found.alignment, found.fragment)]
    assert len(wrong) == 56
    assert np.median(wrong) < 0.0012
    assert np.percentile(wrong, 90) < 0.005
    assert max(wrong) < 0.020
    assert not found.alignment.doubts


GUITAR = Guitar()
HAND = TimeMap("beat", "clip", ((Fraction(0), Fraction(2, 5)), (Fraction(8), Fraction(22, 5))))
LAST = {
    "natural": Note(Fraction(5), Fraction(3), GUITAR.pitch(1, 0), 1, 12, harmonic=Harmonic("natural", 2)),
    "touched": Note(Fraction(5), Fraction(3), GUITAR.pitch(4, 0), 4, 7, harmonic=Harmonic("natural", 3)),
    "pinched": Note(Fraction(5), Fraction(3), GUITAR.pitch(2, 10), 2, 10, harmonic=Harmonic("pinch", 5)),
    "plain": Note(Fraction(5), Fraction(3), GUITAR.pitch(4, 14), 4, 14),
}


def held(last: Note | None, vibrato: str = "wide") -> Fragment:
    """Four short notes, one held for a second and a half, and a last one that rings long."""
    short = [
        Note(Fraction(i, 2), Fraction(1, 2), GUITAR.pitch(3, f), 3, f) for i, f in enumerate((5, 7, 9, 7))
    ]
    long = Note(Fraction(2), Fraction(3 if last else 6), GUITAR.pitch(4, 14), 4, 14, vibrato=vibrato)  # type: ignore[arg-type]
    bars = (Measure(Fraction(0), Fraction(4)), Measure(Fraction(4), Fraction(4)))
    return Fragment("held", GUITAR, (*short, long, *([last] if last else [])), bars)


@pytest.mark.parametrize("kind", LAST)
@pytest.mark.parametrize("vibrato", ["none", "wide"])
def test_a_last_note_is_found_after_a_long_one(kind: str, vibrato: str) -> None:
    fragment = held(LAST[kind], vibrato)
    found = align(amplified(play_dry(fragment, HAND, Fraction(6))), fragment)
    assert abs(found.moments[-1] - HAND(Fraction(5))) < Fraction(5, 1000)
    assert found.confidence[-1] > 0.8


@pytest.mark.parametrize("kind", LAST)
def test_a_last_note_that_is_not_played_is_doubted(kind: str) -> None:
    found = align(play_dry(held(None), HAND, Fraction(6)), held(LAST[kind]))
    assert found.confidence[-1] < DOUBTFUL
    assert [doubt.note for doubt in found.doubts] == [5]
