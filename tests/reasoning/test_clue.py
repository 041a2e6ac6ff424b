"""Clues: what each kind demands, soft and hard, and sets that no reading can meet together."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import Faulty
from pipeline.music.clues import KINDS
from pipeline.music.fragment import ClueMark
from pipeline.reasoning.clue import KNOWN, all_limits, clue_limits, kept
from pipeline.reasoning.conflict import conflicts
from pipeline.reasoning.fingering import placements, readings, rivals
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.lattice import lattice_of

LICK = [69, 72, 74, 76, 76, 74, 72, 69]


def first(fragment):  # type: ignore[no-untyped-def]
    return readings(fragment, k=1)[0]


def test_every_kind_of_the_text_has_a_meaning_here() -> None:
    assert set(KNOWN) == {kind.kind for kind in KINDS}


def test_a_slurred_note_stays_on_its_string_and_takes_no_stroke(line) -> None:  # type: ignore[no-untyped-def]
    for reading in readings(line(LICK).but(clues=(ClueMark(2, "slurred"),))):
        assert reading.places[2].string == reading.places[1].string
        assert reading.places[2].stroke is None
        assert reading.met == (0,)


def test_a_slur_keeps_the_fingers_in_order_along_its_string(line) -> None:  # type: ignore[no-untyped-def]
    """A pull-off uncovers a lower finger on a lower fret, a hammer-on sets a higher one down on a higher
    (common practice, no source)."""
    down, up = [(2, 12), (2, 10), (2, 8), (2, 7), (2, 5)], [(2, 5), (2, 7), (2, 8), (2, 10), (2, 12)]
    for frets in (down, up):
        slurred = tuple(ClueMark(i, "slurred") for i in (1, 2, 4))
        for reading in readings(line(frets).but(clues=slurred)):
            for clue in reading.met:
                a, b = (reading.places[slurred[clue].note + step] for step in (-1, 0))
                assert a.finger == b.finger or (b.finger - a.finger) * (b.fret - a.fret) > 0


def test_a_slide_is_one_finger_along_one_string(line) -> None:  # type: ignore[no-untyped-def]
    places = first(line(LICK).but(clues=(ClueMark(3, "slide"),))).places
    assert (places[2].string, places[2].finger) == (places[3].string, places[3].finger)


def test_a_slip_before_a_repeated_note_shifts_to_another_finger(line) -> None:  # type: ignore[no-untyped-def]
    places = first(line(LICK).but(clues=(ClueMark(4, "slip"),))).places
    assert (places[3].string, places[3].fret) == (places[4].string, places[4].fret)
    assert places[3].finger != places[4].finger
    assert places[3].position != places[4].position


def test_the_next_pattern_down_repeats_no_pitch_on_one_finger(line) -> None:  # type: ignore[no-untyped-def]
    """Three notes a string down by steps into the next pattern, the shift on a repeated note (common
    practice, no source)."""
    notes = [(1, 12), (1, 10), (1, 8), (1, 8), (1, 7), (1, 5), (2, 8), (2, 6), (2, 5)]
    for clues in ((ClueMark(3, "slip"),), ()):
        places = first(line(notes).but(clues=clues)).places
        assert places[2].finger != places[3].finger
        assert places[2].position > places[3].position


def test_an_open_string_is_open(line) -> None:  # type: ignore[no-untyped-def]
    place = first(line([67, 64, 67]).but(clues=(ClueMark(1, "open"),))).places[1]
    assert (place.string, place.fret, place.finger) == (1, 0, None)


def test_the_same_pitch_in_another_tone_lies_on_another_string(line) -> None:  # type: ignore[no-untyped-def]
    places = first(line(LICK).but(clues=(ClueMark(4, "same-pitch"),))).places
    assert places[3].string != places[4].string
    told = first(line(LICK).but(clues=(ClueMark(4, "same-pitch", "3"),))).places
    assert told[4].string == 3
    assert told[3].string != 3


def test_a_bend_needs_a_finger(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line([64]).but(clues=(ClueMark(0, "bend"),))
    assert all(r.places[0].finger is not None for r in readings(fragment))


def test_strokes_heard_fix_strokes(line) -> None:  # type: ignore[no-untyped-def]
    places = first(line(LICK).but(clues=(ClueMark(0, "up"), ClueMark(3, "up")))).places
    assert (places[0].stroke, places[3].stroke) == ("up", "up")


def test_a_hand_that_was_seen_is_there(line) -> None:  # type: ignore[no-untyped-def]
    for reading in readings(line(LICK).but(clues=(ClueMark(5, "seen", "12"),))):
        assert reading.places[5].position == 12
    for reading in readings(line(LICK).but(clues=(ClueMark(5, "seen", "7-9"),))):
        assert 7 <= reading.places[5].position <= 9


def test_a_noise_names_a_string_or_a_shift(line) -> None:  # type: ignore[no-untyped-def]
    assert first(line(LICK).but(clues=(ClueMark(1, "noise", "3"),))).places[1].string == 3
    places = first(line(LICK).but(clues=(ClueMark(4, "noise"),))).places
    assert places[3].position != places[4].position


def test_a_soft_clue_costs_in_proportion_to_its_strength(line) -> None:  # type: ignore[no-untyped-def]
    clue = Habits().weight("clue")
    weak = first(line([69, 76]).but(clues=(ClueMark(0, "open", strength=0.25),)))
    assert weak.broken == (0,)
    assert [c.amount for c in weak.costs if c.cause == "clue"] == [pytest.approx(0.25 * clue)]
    assert "open on note 1 (A4) is not met" in {c.because for c in weak.costs}


def test_a_soft_clue_moves_a_reading_that_is_nearly_as_cheap(line) -> None:  # type: ignore[no-untyped-def]
    free = first(line(LICK))
    moved = first(line(LICK).but(clues=(ClueMark(0, "seen", "12", 0.9),)))
    assert free.places[0].position != 12
    assert moved.places[0].position == 12


def test_no_reading_breaks_a_hard_clue(line) -> None:  # type: ignore[no-untyped-def]
    clues = (ClueMark(2, "slurred"), ClueMark(5, "seen", "9-13"), ClueMark(4, "slip"), ClueMark(0, "up"))
    found = readings(line(LICK).but(clues=clues))
    assert found
    assert all(reading.broken == () for reading in found)


def test_what_the_search_counts_as_met_is_what_is_said_to_be_met(line) -> None:  # type: ignore[no-untyped-def]
    """The total holds the cost of a soft clue where, and only where, the reading is said to break it."""
    kinds = ("slurred", "slide", "slip", "open", "same-pitch", "bend", "natural", "down", "up", "noise")
    for kind in kinds:
        fragment = line(LICK).but(clues=(ClueMark(4, kind, strength=0.5),))
        limits = clue_limits(fragment, Habits())
        lattice = lattice_of(fragment, Habits(), all_limits(limits))
        for path, reading in zip(rivals(lattice, 4), readings(fragment), strict=True):
            assert reading.total == path.total / 1_000_000
            assert kept(limits[0], fragment, placements(lattice, path)) == (reading.met == (0,))


def refused(fragment) -> str:  # type: ignore[no-untyped-def]
    with pytest.raises(Faulty) as caught:
        readings(fragment)
    return str(caught.value)


@pytest.mark.parametrize(
    ("clue", "words"),
    [
        (ClueMark(40, "slip"), "slip on note 41: there is no such note; the fragment has 8 notes"),
        (ClueMark(1, "slpi"), "no clue is called 'slpi'; did you mean 'slip'?"),
        (ClueMark(0, "slide"), "slide on note 1 (A4): no note is before it"),
        (ClueMark(2, "same-pitch"), "same-pitch on note 3 (D5): the note before has another pitch"),
        (ClueMark(2, "noise", "9"), "its value '9' is no string; write a number from 1 to 6"),
        (ClueMark(2, "seen", "high"), "its value 'high' is no fret; write a fret, or two as in 5-8"),
        (ClueMark(2, "seen", "9-5"), "'9-5' is not on the neck"),
        (ClueMark(2, "open", strength=2.0), "its strength is 2; give more than 0 and at most 1"),
    ],
)
def test_a_clue_that_means_nothing_is_named(line, clue: ClueMark, words: str) -> None:  # type: ignore[no-untyped-def]
    assert words in refused(line(LICK).but(clues=(clue,)))


def test_one_clue_that_cannot_be_met_is_named_alone(line) -> None:  # type: ignore[no-untyped-def]
    clues = (ClueMark(2, "slurred"), ClueMark(0, "open"), ClueMark(5, "seen", "9-13"))
    assert refused(line(LICK).but(clues=clues)) == (
        "line: no reading can meet open on note 1 (A4); take it away or make it soft"
    )


def test_the_smallest_set_that_conflicts_is_named(line) -> None:  # type: ignore[no-untyped-def]
    clues = (
        ClueMark(2, "slurred"),
        ClueMark(5, "seen", "12"),
        ClueMark(5, "seen", "5-8"),
        ClueMark(0, "down"),
    )
    told = refused(line(LICK).but(clues=clues))
    assert "no reading can meet 2 clues together: seen 12 on note 6 (D5) and seen 5-8 on note 6 (D5)" in told


def test_smaller_sets_come_before_larger_ones(line) -> None:  # type: ignore[no-untyped-def]
    clues = (
        ClueMark(1, "noise", "1"),
        ClueMark(2, "slurred"),
        ClueMark(2, "noise", "2"),
        ClueMark(0, "open"),
    )
    fragment = line(LICK).but(clues=clues)
    assert conflicts(fragment, Habits(), clue_limits(fragment, Habits())) == ((3,), (0, 1, 2))


def test_a_stroke_heard_on_a_hammered_note_contradicts_it(line) -> None:  # type: ignore[no-untyped-def]
    notes = list(line([59, 60, 62]).notes)
    for kind in ("down", "up"):
        fragment = line([notes[0], notes[1].but(attack="hammer"), notes[2]]).but(clues=(ClueMark(1, kind),))
        assert f"no reading can meet {kind} on note 2 (C4)" in refused(fragment)


def test_a_slur_over_another_voice_does_not_stop_the_search(line) -> None:  # type: ignore[no-untyped-def]
    notes = list(line([(3, 5), (1, 5), (3, 7)]).notes)
    assert readings(line([notes[0], notes[1], notes[2].but(attack="hammer")]))


PER_NOTE = ("slurred", "slide", "slip", "open", "bend", "natural", "pinched", "down", "up", "noise")
clue_marks = st.builds(
    ClueMark,
    note=st.integers(1, 7),
    kind=st.sampled_from(PER_NOTE),
    strength=st.sampled_from((1.0, 1.0, 0.5)),
)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(clue_marks, max_size=4), st.lists(st.integers(62, 72), min_size=8, max_size=8))
def test_hard_clues_are_met_or_their_conflict_is_named(line, clues, pitches) -> None:  # type: ignore[no-untyped-def]
    fragment = line(pitches).but(clues=tuple(clues))
    hard = [i for i, clue in enumerate(clues) if clue.strength == 1]
    if conflicts(fragment, Habits(), clue_limits(fragment, Habits())):
        assert hard
        assert "no reading can meet" in refused(fragment)
        return
    for reading in readings(fragment):
        assert all(fragment.clues[i].strength < 1 for i in reading.broken)
        assert sorted(reading.met + reading.broken) == list(range(len(clues)))
