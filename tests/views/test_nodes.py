"""Nodes count from where the string is stopped: places, pitches, the touched node, after published tables."""

from fractions import Fraction
from typing import Any

import corpus
import pytest
import reading

from pipeline.drawing.bounds import ink
from pipeline.drawing.picture import Picture
from pipeline.music.guitar import Guitar
from pipeline.music.note import Harmonic
from pipeline.views.nodes import Nodes, Stop, pitch_words, plan_of, stop_at
from pipeline.views.stage import Stage

F = Fraction
SQUEAL = (corpus.on(3, 7, harmonic=Harmonic("pinch", 4)), corpus.on(4, 7, harmonic=Harmonic("pinch", 3)))


def staged(*notes: corpus.On, **more: Any) -> Stage:
    items = [(F(1), note) for note in notes]
    return corpus.stage_of(corpus.written("bells", corpus.PLAIN, items), **more)


def at(view: Nodes, stage: Stage, beat: Fraction) -> Picture:
    return view.picture(stage, stage.passes[0].moments(beat))


def pitches(picture: Picture) -> dict[str, str]:
    return {mark.name: mark.text for mark, _ in reading.texts(picture) if mark.name.startswith("pitch")}


def middles(picture: Picture, name: str) -> list[float]:
    boxes = (ink(mark, place) for mark, place in reading.walk(picture.marks) if mark.name == name)
    return [box.centre[0] for box in boxes if box is not None]


def test_a_pinch_harmonic_shows_the_pitches_of_its_stopped_string() -> None:
    """Fret 7 of the third string is D4; its fourth partial is two octaves higher, D6 (1200 * log2(4) = 2400
    cents), and the third partial of A3 is E5, 2 cents sharp (Fillmore, "Harmonics on the Guitar", 2008)."""
    stage = staged(*SQUEAL)
    assert pitches(at(Nodes(), stage, F(0)))["pitch 4"] == "D6"
    assert pitches(at(Nodes(), stage, F(1)))["pitch 3"] == "E5 +2 ¢"


def test_nodes_divide_what_is_left_of_the_string() -> None:
    """Node n/k lies at n/k of the length from the stop to the bridge: for k = 4 over 4.980 and 24.000 frets
    above the stop (fret equivalents of the nodes, -12 * log2(1 - j/k), computed)."""
    stage = staged(*SQUEAL)
    plan = plan_of(Nodes(), stage, Stop(3, 7))
    quarter, last = (middles(at(Nodes(), stage, F(0)), f"node {j}/4")[0] for j in (1, 3))
    assert quarter == pytest.approx(plan.fret_x(7 + 4.980), abs=0.5)
    assert last == pytest.approx(plan.fret_x(7 + 24.0), abs=0.5)
    assert plan.fret_x(7) == plan.x(0.0)
    assert plan.fret_x(19) == pytest.approx(plan.x(0.5))


def test_an_artificial_harmonic_is_touched_above_its_stop() -> None:
    """MusicXML 4.0, `harmonic`, its example: C4 stopped, F4 touched, C6 sounds: partial 4."""
    stage = staged(corpus.on(2, 1, harmonic=Harmonic("artificial", 4, F(6))))
    picture = at(Nodes(), stage, F(0))
    assert pitches(picture)["pitch 4"] == "C6"
    colour = stage.look.colour("sounding")
    lit = [m.name for m, _ in reading.walk(picture.marks) if getattr(m, "fill", None) == colour]
    assert lit == ["node 1/4"]


def test_a_natural_harmonic_is_of_the_open_string() -> None:
    stage = staged(corpus.on(3, 7, harmonic=Harmonic("natural", 3, F(7))))
    assert pitches(at(Nodes(), stage, F(0)))["pitch 3"] == "D5 +2 ¢"


def test_the_next_harmonic_is_shown_before_it_sounds_and_the_last_one_stays() -> None:
    stage = staged(corpus.on(1, 3), *SQUEAL)
    shown = [stop_at(Nodes(), stage, stage.passes[0].moments(F(beat))) for beat in (0, 1, 2, 3)]
    assert shown == [Stop(3, 7), Stop(3, 7), Stop(4, 7), Stop(4, 7)]


def test_a_stop_that_is_named_stays_and_lights_only_its_own() -> None:
    stage, view = staged(*SQUEAL), Nodes(string=3, fret=0)
    assert stop_at(view, stage, stage.passes[0].moments(F(0))) == Stop(3, 0)
    assert reading.sounding(at(view, stage, F(0))) == set()
    assert reading.sounding(at(Nodes(), stage, F(0))) == {0}


def test_pitches_are_spelled_as_the_passage_is() -> None:
    assert pitch_words(Guitar(), 3, 3, 2, flats=True) == "B♭4"
    assert pitch_words(Guitar(), 3, 3, 2) == "A♯4"
