"""The pick's way: over every stroke in its place, clear of numbers that it does not strike."""

from fractions import Fraction
from itertools import pairwise

import corpus
import pytest
import reading

from pipeline.drawing.bounds import ink
from pipeline.drawing.picture import Colour, Path, Stroke
from pipeline.music.fragment import Fragment
from pipeline.views.strokes import Plan, Strokes, plan_of

F = Fraction


def planned(fragment: Fragment) -> Plan:
    plan = plan_of(Strokes(), corpus.stage_of(fragment))
    assert plan is not None
    return plan


def test_every_stroke_is_drawn_with_its_string_graces_included() -> None:
    """Two raked strings before the first beat, another inside the bar: no stroke that is written is lost."""
    fragment = corpus.rake()
    plan = planned(fragment)
    drawn = [(fragment.notes[i].string, stop.stroke) for stop in plan.way.stops for i in stop.notes]
    written = [(note.string, note.stroke) for note in fragment.notes]
    assert sorted(drawn, key=str) == sorted(written, key=str)
    assert set(plan.ys) == {note.string for note in fragment.notes}


def test_a_dead_note_is_a_cross() -> None:
    stage = corpus.stage_of(corpus.rake())
    assert stage.fragment is not None
    for t in (F(0), stage.passes[0].moments(F(5, 4))):
        marks = [mark for mark, _ in reading.walk(Strokes().picture(stage, t).marks)]
        for index, note in enumerate(stage.fragment.notes):
            own = [mark for mark in marks if mark.name == f"fret {index}"]
            assert all(isinstance(mark, Path) == note.dead for mark in own)
            assert own or not note.dead


def test_a_rake_before_the_first_beat_sounds_before_it() -> None:
    stage = corpus.stage_of(corpus.rake())
    start = stage.passes[0].span.start
    lit = [reading.sounding(Strokes().picture(stage, start - F(n, 200))) for n in (40, 10, 1)]
    assert lit == [set(), {0, 1}, {0, 1}]
    assert reading.sounding(Strokes().picture(stage, start)) == {2}


@pytest.mark.parametrize("name", ["rake", "lead line", "every technique"])
def test_the_way_crosses_no_number_that_is_not_struck(name: str) -> None:
    """At the column of a hammered or pulled note the pick rests between two strings."""
    fragment = corpus.corpus()[name]
    plan = planned(fragment)
    for stop in plan.way.stops[1:]:
        if stop.stroke is None:
            apart = min(
                abs(plan.way.y_at(stop.x) - plan.ys[fragment.notes[i].string or 1]) for i in stop.notes
            )
            assert apart >= plan.gap * 0.4, stop


def test_the_drawn_way_is_the_way_of_the_pick() -> None:
    plan = planned(corpus.rake())
    for before, after in pairwise(plan.way.strokes):
        box = ink(Path(plan.way.travel(before, after), stroke=Stroke(Colour(0, 0, 0), 0.1)))
        low, high = sorted((before.to_y, after.from_y))
        assert box is not None
        assert (box.y, box.bottom) == pytest.approx((low, high), abs=0.6)
        middle = (after.since + after.x) / 2
        assert plan.way.y_at(middle) == pytest.approx((before.to_y + after.from_y) / 2)


def test_the_word_of_a_change_stands_where_the_pick_changes() -> None:
    plan = planned(corpus.rake())
    changes = [(place, stop) for place, stop in enumerate(plan.way.stops) if stop.change]
    assert changes
    for place, stop in changes:
        assert stop.since == plan.way.stops[place - 1].x
