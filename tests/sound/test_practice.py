"""The tempo ladder as data and as sound."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note
from pipeline.sound.loudness import level
from pipeline.sound.practice import (
    BREAK,
    FEWEST,
    REST,
    Passage,
    Plan,
    Step,
    guided,
    planned,
    practised,
    recorded,
    sounds,
    tempo_speeds,
)
from pipeline.sound.signal import Signal
from pipeline.timing import Span, TimeMap

RATE = 48000
GUITAR = Guitar()


@pytest.fixture(scope="module")
def passage() -> Fragment:
    notes = (Note(Fraction(i, 2), Fraction(1, 2), GUITAR.pitch(3, 5 + i % 3), 3, 5 + i % 3) for i in range(8))
    return Fragment("run", GUITAR, tuple(notes), (Measure(Fraction(0), Fraction(4)),), Fraction(240))


def test_a_plan_goes_from_slow_to_fast_within_its_minutes() -> None:
    plan = planned(Fraction(160), Fraction(8), minutes=15)
    assert [step.percent for step in plan.steps] == [40, 50, 60, 75, 90, 100]
    assert plan.steps[0].tempo == 64
    assert plan.seconds <= 15 * 60
    assert [step.rest for step in plan.steps] == [REST] * 5 + [0]
    assert [step.rest for step in planned(Fraction(160), Fraction(8), minutes=30).steps][2] == BREAK * 60


@pytest.mark.parametrize("seconds", [1, 8, 600])
@pytest.mark.parametrize("minutes", [1, 5, 15, 30, 60])
def test_a_plan_adds_up_to_the_time_it_states(seconds: int, minutes: int) -> None:
    plan = planned(Fraction(120), Fraction(seconds), minutes=minutes)
    taken = sum(step.repetitions * seconds / step.speed + step.rest for step in plan.steps)
    assert plan.seconds == taken
    assert abs(plan.minutes * 60 - taken) <= 30
    longest = max(FEWEST * seconds / step.speed + step.rest for step in plan.steps)
    assert taken <= max(minutes * 60, len(plan.steps) * longest)


def test_repetitions_stay_between_three_and_twelve() -> None:
    """Three, since a step is left when it was easy three times running."""
    assert {step.repetitions for step in planned(Fraction(120), Fraction(600)).steps} == {FEWEST} == {3}
    assert {step.repetitions for step in planned(Fraction(120), Fraction(1)).steps} == {12}


def test_a_passage_is_planned_with_a_count_in_each_time(passage: Fragment) -> None:
    """Four quarters at 240 a minute last a second, and so does the bar before them."""
    (step,) = practised(passage, (Fraction(1),), 1).steps
    assert (step.tempo, step.repetitions) == (240, 12)
    assert practised(passage, (Fraction(1),), 1).seconds == 12 * 2


def test_cautions_tell_of_steps_rest_pain_and_hearing() -> None:
    words = " ".join(planned(Fraction(120), Fraction(4)).cautions)
    for needed in ("step", "rest", "hurts", "doctor", "teacher", "volume"):
        assert needed in words


def test_tempos_in_beats_a_minute() -> None:
    speeds = tempo_speeds(Fraction(160), 80, 125, 20)
    assert [speed * 160 for speed in speeds] == [80, 100, 120, 125]
    with pytest.raises(ValueError, match="steps"):
        tempo_speeds(Fraction(160), 100, 80, 5)
    with pytest.raises(ValueError, match="speed"):
        planned(Fraction(120), Fraction(4), ())


def test_each_step_is_counted_in_clicked_and_looped_to_the_sample(passage: Fragment) -> None:
    plan = Plan(
        (Step(Fraction(1, 2), Fraction(120), 2, 30), Step(Fraction(1), Fraction(240), 3, 30)), Fraction(300)
    )
    made = dict(sounds(guided(passage), plan))
    assert list(made) == ["run-01-050-percent-120-bpm", "run-02-100-percent-240-bpm"]
    slow, full = made.values()
    assert len(slow.samples) == 2 * 2 * 2 * RATE
    assert len(full.samples) == 3 * 2 * RATE
    assert np.array_equal(slow.samples[: 4 * RATE], slow.samples[4 * RATE :])


def test_steps_match_in_loudness_and_do_not_clip(passage: Fragment) -> None:
    plan = planned(passage.tempo, Fraction(2), (Fraction(1, 2), Fraction(1)))
    slow, full = (level(sound) for _, sound in sounds(guided(passage), plan, click=False, lead=False))
    assert abs(full.lufs - slow.lufs) < 0.1
    assert max(slow.dbtp, full.dbtp) <= -0.5


def test_clicks_on_top_of_loud_notes_do_not_clip(passage: Fragment) -> None:
    """True peaks stay under -1 dBTP (EBU R 128), where an accent falls on a note's attack."""
    spiky = guided(passage)
    click = np.zeros((round(2 * RATE), 2), np.float32)
    click[::9600] = 1.0
    loud = replace(spiky, sound=lambda speed: Signal(click, RATE), moments=spiky.moments)
    (sound,) = (one for _, one in sounds(loud, planned(passage.tempo, Fraction(2), (Fraction(1),))))
    assert level(sound).dbtp <= -0.9


def test_a_recorded_passage_follows_the_stretched_sound(passage: Fragment) -> None:
    signal = guided(passage).sound(Fraction(1))
    marks = TimeMap.linear("beat", "clip", Fraction(0), Fraction(0), Fraction(1, 4))
    anchors = tuple(marks(note.onset) for note in passage.notes)
    recording: Passage = recorded(passage, signal, marks, Span("clip", Fraction(0), Fraction(1)), anchors)
    half = Fraction(1, 2)
    assert recording.sound(half).duration == 2
    for note in passage.notes:
        assert abs(recording.moments(half)(note.onset) - note.onset / 2) <= Fraction(1, RATE)
