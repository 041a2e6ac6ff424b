"""Tapped notes belong to the picking hand, dead notes have no pitch: neither moves or colours the fretting
hand's reading (common practice, no source)."""

from fractions import Fraction

import pytest

from pipeline.errors import Faulty, Place
from pipeline.lesson.answers import freed
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.note import Harmonic
from pipeline.music.tabtext import read_tab
from pipeline.music.tapping import tapped
from pipeline.reasoning.explain import by_cause
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.reach import out_of_hand
from pipeline.reasoning.reading import Reading
from pipeline.reasoning.shifts import shifts

MOVES = {"shift", "shift_length", "shift_speed", "free_shift"}


def passage(text: str) -> Fragment:
    return read_tab("run", text, Guitar(), lambda row, column: Place("run", row, column))


def read(text: str) -> tuple[Fragment, Reading]:
    fragment = passage(text)
    return fragment, readings(fragment, k=1)[0]


def test_a_tap_takes_no_finger_no_stroke_and_no_shift() -> None:
    fragment, reading = read("B3|-t17-p8-h12-t17-p8-h12-t19-p8-h12--|")
    taps = [place for place in reading.places if place.fret in (17, 19)]
    assert [(place.finger, place.stroke) for place in taps] == [(None, None)] * 3
    assert {place.position for place in reading.places} == {8}
    assert shifts(fragment, reading.places) == ()
    assert not MOVES & set(by_cause(reading.costs))


def test_a_tap_at_the_start_leaves_the_first_stroke_to_the_first_picked_note() -> None:
    _, reading = read("B3|-t12-p5-7-5--|")
    assert [place.stroke for place in reading.places] == [None, None, "down", "up"]
    assert "upstroke_start" not in by_cause(reading.costs)


def test_the_picking_hand_pays_for_its_way_to_a_tap_and_back() -> None:
    def paid(text: str) -> float:
        return by_cause(read(text)[1].costs).get("over_neck", 0.0)

    there = paid("B3|-5-t12-p5-h7--|")
    assert there > 0
    assert paid("B3|-5-t12-5-h7--|") == pytest.approx(2 * there)
    assert paid("B3|-5-h7-t12-p5--|") == 0, "a slurred note lies between"
    assert paid("B3|-5-t19-p5-h7--|") < there, "fret 19 lies nearer the bridge"


def test_a_tap_frees_the_way_for_a_place_that_no_finger_would_share() -> None:
    fragment = freed(passage("B3|-5-t17-p5-h8-5--|"))
    first = readings(fragment, k=1)[0]
    assert len({place.string for place in first.places}) == 1
    assert {place.position for place in first.places} == {first.places[0].position}


def test_what_a_tapping_finger_slides_to_or_holds_is_the_picking_hands_too() -> None:
    fragment, reading = read("count   1   2   3   4\n   B3|-t14-/15-=15-p5--|")
    assert tapped(fragment.notes) == (True, True, True, False)
    assert [place.finger for place in reading.places[:3]] == [None] * 3


def test_a_tapped_artificial_harmonic_is_stopped_by_the_fretting_hand() -> None:
    note = passage("B3|-t5--|").notes[0]
    harmonic = Harmonic("artificial", 2, Fraction(17))
    assert tapped([note.but(harmonic=harmonic)]) == (False,)


def test_a_chord_of_two_hands_fingers_only_what_the_fretting_hand_stops() -> None:
    fragment = passage("count   1\n   E4|-t12-|\n   G3|--5--|")
    reading = readings(fragment, k=1)[0]
    assert [(p.fret, p.finger is None) for p in reading.places] == [(12, True), (5, False)]
    assert reading.places[0].stroke is None
    assert reading.places[1].stroke == "down"


def test_a_finger_on_a_tapped_note_is_told() -> None:
    found = list(out_of_hand(passage("fingers  1  4\n     B3|-5-t12-|")))
    assert [(one.note, one.wrong) for one in found] == [(1, "a tapped note has a finger")]


def test_dead_notes_are_no_open_strings_and_no_repeated_pitch() -> None:
    """A rake: one stroke through damped strings into a note."""
    _, reading = read("strokes   d  d d\nB3     |-------8~-|\nG3     |----gx----|\nD3     |-gx-------|")
    assert not {"open_string", "moved_repeat"} & set(by_cause(reading.costs))
    assert "open_string" in by_cause(read("B3|-0-5--|")[1].costs)


def test_a_slide_may_end_in_a_dead_note() -> None:
    fragment, reading = read("B3|-8/x-5--|")
    assert fragment.notes[1].attack == "slide"
    assert [place.string for place in reading.places] == [2, 2, 2]


def test_a_same_pitch_clue_between_dead_notes_is_refused() -> None:
    fragment = passage("B3   |-x-x-|\nclues    =")
    with pytest.raises(Faulty, match="another pitch"):
        readings(fragment, k=1)
