"""Shortcuts that stages and moments take, against the plain way of saying the same."""

import pickle
from dataclasses import replace
from fractions import Fraction

import corpus
from corpus import lead_line, stage_of

from pipeline.views.hand import hand_at, stage_stays
from pipeline.views.sounding import moment_at, stage_line
from pipeline.views.stage import Pass, Stage

STEP = Fraction(1, 7)


def passes_of(stage: Stage) -> tuple[Pass, ...]:
    """The stage's pass three times, with a rest of a second between."""
    one = stage.passes[0]
    wait = one.span.length + 1
    return tuple(replace(one, moments=one.moments.shifted(n * wait)) for n in range(3))


def test_stages_of_equal_content_are_equal_and_share_it() -> None:
    one, other = stage_of(lead_line()), stage_of(lead_line())
    assert one is not other
    assert one == other
    assert hash(one) == hash(other)
    assert one.content is other.content
    assert one != replace(other, width=one.width + 1)


def test_a_stage_sent_to_another_process_and_back_is_equal() -> None:
    stage = stage_of(lead_line())
    hash(stage)
    assert pickle.loads(pickle.dumps(stage)) == stage


def test_the_pass_of_a_moment_is_the_first_that_has_not_ended() -> None:
    stage = stage_of(lead_line())
    stage = replace(stage, passes=passes_of(stage))
    for number in range(int(40 / STEP)):
        t = number * STEP
        plain = next((one for one in stage.passes if t < one.span.end), stage.passes[-1])
        assert stage.pass_at(t) is plain


def test_notes_are_past_when_they_started_in_the_pass_and_do_not_sound() -> None:
    for fragment in corpus.corpus().values():
        stage = stage_of(fragment)
        line = stage_line(stage)
        for number in range(40):
            moment = moment_at(stage, number * STEP)
            for index, start in enumerate(line.starts):
                begun = moment.beat is not None and moment.since <= start < moment.beat
                wanted = begun and index not in moment.sounding
                assert moment.past(line, index) == moment.settled(line).past(line, index) == wanted


def test_the_hand_of_a_pass_is_where_the_same_pass_alone_has_it() -> None:
    stage = stage_of(lead_line())
    first, second, _ = passes_of(stage)
    wait, stays = float(second.span.start - first.span.start), stage_stays(stage)
    for number in range(80):
        t = number / 8
        here, there = hand_at(stays, first, t, 0.28, 0.6), hand_at(stays, second, t + wait, 0.28, 0.6)
        assert here is not None
        assert there is not None
        assert abs(here.position - there.position) < 1e-6
