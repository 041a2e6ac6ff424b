"""The search for fingerings: exact, explained, tied by rule, and keeping to what is fixed."""

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import Faulty
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import BendPoint, Harmonic, Note
from pipeline.reasoning.costs import SCALE
from pipeline.reasoning.fingering import Path, best_path, note_margins, path_counts, placements, readings
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.lattice import Lattice, lattice_of
from pipeline.reasoning.search import through

from fractions import Fraction  # isort: skip

SMALL = Guitar(strings=(64, 59, 55, 50), frets=7)


def small_lattice(pitches: list[int]) -> Lattice:
    notes = tuple(Note(Fraction(i, 4), Fraction(1, 4), p) for i, p in enumerate(pitches))
    fragment = Fragment("small", SMALL, notes, (Measure(Fraction(0), Fraction(4)),))
    return lattice_of(fragment, Habits())


def every_path(lattice: Lattice) -> list[Path]:
    """All paths with their explained costs, the cheapest first and ties by the rule."""
    sizes = [range(int(size)) for size in lattice.chain.size]
    found = []
    for grips in product(*sizes):
        for strokes in product((0, 1), repeat=len(sizes)):
            counts = path_counts(lattice, Path(grips, strokes, 0))
            found.append(Path(grips, strokes, int((counts * lattice.chain.weights).sum())))
    return sorted(
        found, key=lambda p: (p.total, [x for pair in zip(p.grips, p.strokes, strict=True) for x in pair])
    )


@settings(max_examples=8, deadline=None, derandomize=True)
@given(st.lists(st.integers(62, 69), min_size=1, max_size=2))
def test_the_best_path_is_that_of_brute_force(pitches: list[int]) -> None:
    lattice = small_lattice(pitches)
    assert best_path(lattice) == every_path(lattice)[0]


def test_three_notes_equal_brute_force_and_so_do_the_costs_through_each_grip() -> None:
    lattice = small_lattice([71, 68, 70])
    paths = every_path(lattice)
    assert best_path(lattice) == paths[0]
    least = through(lattice.chain)
    offsets = np.concatenate([[0], np.cumsum(lattice.chain.size)])
    for moment, size in enumerate(lattice.chain.size):
        for grip in range(int(size)):
            expected = min(p.total for p in paths if p.grips[moment] == grip)
            assert least[offsets[moment] + grip] == expected


def test_a_chord_between_notes_equals_brute_force() -> None:
    quarter = Fraction(1, 4)
    pitches = ((0, 69), (1, 66), (1, 71), (2, 67))
    notes = tuple(Note(at * quarter, quarter, pitch) for at, pitch in pitches)
    lattice = lattice_of(Fragment("small", SMALL, notes, (Measure(Fraction(0), Fraction(4)),)), Habits())
    assert best_path(lattice) == every_path(lattice)[0]


def test_ties_fall_to_the_rule_and_not_to_rounding() -> None:
    """With every weight zero all paths cost the same, so the first grip of each moment must be taken."""
    notes = tuple(Note(Fraction(i, 4), Fraction(1, 4), p) for i, p in enumerate((64, 66, 67)))
    fragment = Fragment("small", SMALL, notes, (Measure(Fraction(0), Fraction(4)),))
    free = Habits(weights=(0.0,) * len(Habits().weights))
    assert best_path(lattice_of(fragment, free)) == Path((0, 0, 0), (0, 0, 0), 0)


def test_costs_add_up_to_the_total_exactly(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line([69, 72, 74, 76, 79, 81, 79, 76, 60, 62, 64])
    lattice = lattice_of(fragment, Habits())
    path = best_path(lattice)
    first = readings(fragment)[0]
    assert first.total == path.total / SCALE
    assert first.places == placements(lattice, path)


def test_a_shift_is_explained_by_its_length_and_its_time(line) -> None:  # type: ignore[no-untyped-def]
    """Frets 5 and 9 lie 162.47 and 262.58 mm from the nut of a 647.70 mm scale (the printed fret table named
    in checks.md, section 1); four sixteenths a beat at 150 a minute leave 100 ms."""
    fragment = line([(1, 5), (1, 9)], Guitar(scale_mm=647.7), tempo=150)
    fixed = fragment.with_notes(note.but(finger=1, position=note.fret) for note in fragment.notes)
    costs = {cost.cause: cost for cost in readings(fixed, k=1)[0].costs}
    assert costs["shift_length"].because == "shift of 100 mm in 100 ms"
    assert costs["shift_length"].amount == pytest.approx(100 * Habits().weight("shift_length"))
    assert costs["shift_speed"].because == "at 1000 mm a second"


def test_fixed_parts_are_kept_and_the_rest_is_free(line) -> None:  # type: ignore[no-untyped-def]
    notes = list(line([69, 72, 74, 76]).notes)
    notes[1] = notes[1].but(string=3)
    notes[2] = notes[2].but(finger=2)
    notes[3] = notes[3].but(stroke="down")
    for reading in readings(line(notes)):
        assert reading.places[1].string == 3
        assert reading.places[2].finger == 2
        assert reading.places[3].stroke == "down"


def test_rivals_differ_by_place_and_come_in_order(line) -> None:  # type: ignore[no-untyped-def]
    """A pentatonic line that lies in several boxes has a reading in each."""
    found = readings(line([69, 72, 74, 76, 74, 72, 69, 67, 69, 72, 76, 79, 76, 74, 72, 69]), k=4)
    totals = [reading.total for reading in found]
    assert len(found) == 4
    assert totals == sorted(totals)
    for one, other in pairwise(found):
        apart = sum(a.string != b.string for a, b in zip(one.places, other.places, strict=True))
        assert apart >= 2
    hands = [sum(p.position for p in reading.places) / 16 for reading in found]
    assert max(hands) - min(hands) >= 3


def test_every_note_sounds_as_written(line, chord) -> None:  # type: ignore[no-untyped-def]
    for fragment in (line([40, 64, 88, 52, 76]), chord([40, 47, 52, 56, 59, 64])):
        for reading in readings(fragment):
            pitches = [fragment.guitar.pitch(p.string, p.fret) for p in reading.places]
            assert pitches == [note.pitch for note in fragment.notes]


def test_a_chord_lies_on_strings_of_its_own_in_one_grip(chord) -> None:  # type: ignore[no-untyped-def]
    """E major in the first position, 0 2 2 1 0 0 (common practice, no source)."""
    found = readings(chord([40, 47, 52, 56, 59, 64]))[0]
    assert [(p.string, p.fret) for p in found.places] == [(6, 0), (5, 2), (4, 2), (3, 1), (2, 0), (1, 0)]
    assert len({p.position for p in found.places}) == 1


def test_a_barre_chord_needs_one_finger_for_several_strings(chord) -> None:  # type: ignore[no-untyped-def]
    """F major with six strings at the first fret, 1 3 3 2 1 1 (common practice, no source)."""
    found = readings(chord([41, 48, 53, 57, 60, 65]))[0]
    by_fret = {p.fret: {q.finger for q in found.places if q.fret == p.fret} for p in found.places}
    assert [p.fret for p in found.places] == [1, 3, 3, 2, 1, 1]
    assert by_fret[1] == {1}


def test_strings_and_capo_of_any_guitar(line) -> None:  # type: ignore[no-untyped-def]
    """Seven strings with a capo at the second fret: the low B sounds C#2, as MusicXML 4.0 defines a capo."""
    guitar = Guitar(strings=(64, 59, 55, 50, 45, 40, 35), capo=2)
    found = readings(line([37, 40, 44], guitar))[0]
    assert found.places[0].string == 7
    assert found.places[0].fret == 0


def test_hammered_notes_share_a_string_and_change_fingers(line) -> None:  # type: ignore[no-untyped-def]
    notes = list(line([59, 60, 62, 64, 66]).notes)
    played = [notes[0], *(note.but(attack="hammer") for note in notes[1:3]), *notes[3:]]
    for reading in readings(line(played)):
        first = reading.places[:3]
        assert len({p.string for p in first}) == 1
        assert all(a.finger != b.finger for a, b in pairwise(first))
        assert [p.stroke for p in first[1:]] == [None, None]


def test_a_slide_is_one_finger_along_one_string(line) -> None:  # type: ignore[no-untyped-def]
    notes = list(line([60, 64, 67]).notes)
    for reading in readings(line([notes[0], notes[1].but(attack="slide"), notes[2]])):
        a, b = reading.places[:2]
        assert (a.string, a.finger) == (b.string, b.finger)


def test_a_bent_note_is_never_open(line) -> None:  # type: ignore[no-untyped-def]
    bend = (BendPoint(Fraction(0), Fraction(0)), BendPoint(Fraction(1), Fraction(2)))
    note = line([64]).notes[0].but(bend=bend)
    assert all(r.places[0].finger is not None for r in readings(line([note])))


def test_a_natural_harmonic_is_touched_near_its_node(line) -> None:  # type: ignore[no-untyped-def]
    touched = line([55]).notes[0].but(harmonic=Harmonic("natural", 2, Fraction(12)))
    place = readings(line([touched]))[0].places[0]
    assert (place.string, place.fret) == (3, 0)
    assert 8 <= place.position <= 13


def test_a_natural_harmonic_is_never_a_fretted_note(line) -> None:  # type: ignore[no-untyped-def]
    touched = line([64]).notes[0].but(harmonic=Harmonic("natural", 2, Fraction(12)))
    for reading in readings(line([(4, 14), touched])):
        assert (reading.places[1].string, reading.places[1].fret) == (1, 0)


def test_harmonics_of_two_strings_are_touched_where_the_hand_is_written(chord) -> None:  # type: ignore[no-untyped-def]
    both = chord([64, 59])
    octave = Harmonic("natural", 2, Fraction(12))
    written = tuple(note.but(harmonic=octave, position=13) for note in both.notes)
    places = readings(both.but(notes=written))[0].places
    assert [(p.string, p.fret, p.position) for p in places] == [(1, 0, 13), (2, 0, 13)]


def test_a_dead_note_takes_the_string_it_is_written_on(line) -> None:  # type: ignore[no-untyped-def]
    dead = line([64]).notes[0].but(pitch=None, dead=True, string=4)
    assert readings(line([60, dead, 62]))[0].places[1].string == 4


def test_no_notes_have_no_reading(line) -> None:  # type: ignore[no-untyped-def]
    assert readings(line([])) == ()


def test_times_replace_the_tempo(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line([(1, 5), (1, 12)])
    slow = readings(fragment, times=[0.0, 0.8], k=1)[0]
    fast = readings(fragment, times=[0.0, 0.08], k=1)[0]
    assert fast.total > slow.total


@pytest.mark.parametrize(
    ("pitches", "words"),
    [
        ([30, 64], "note 1 (F#1) is not on the neck; this neck goes from E2 to E6"),
        ([64, 95], "note 2 (B6) is not on the neck"),
    ],
)
def test_a_pitch_off_the_neck_is_named(line, pitches: list[int], words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(Faulty) as caught:
        readings(line(pitches))
    assert words in str(caught.value)


def test_fixed_parts_that_contradict_are_named(line) -> None:  # type: ignore[no-untyped-def]
    note = line([64]).notes[0].but(string=2, fret=7)
    with pytest.raises(Faulty) as caught:
        readings(line([note]))
    assert "note 1 (E4) cannot be at string 2, fret 7" in str(caught.value)
    assert "string 2 fret 5" in str(caught.value)


def test_a_chord_no_hand_can_hold_is_named(chord) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(Faulty) as caught:
        readings(chord([41, 42, 43]))
    assert "no hand can hold note 1 (F2), note 2 (F#2), note 3 (G2) together" in str(caught.value)


def test_fixed_strokes_and_slurs_that_contradict_are_named(line) -> None:  # type: ignore[no-untyped-def]
    notes = list(line([60, 60, 62, 64]).notes)
    fixed = [notes[0], notes[1].but(string=2), notes[2].but(string=3, attack="hammer"), notes[3]]
    with pytest.raises(Faulty, match=r"contradict each other at note 3 \(D4\); free one of them"):
        readings(line(fixed))


def test_margins_say_what_another_string_would_cost(line) -> None:  # type: ignore[no-untyped-def]
    """Each margin equals the cost of the best reading with that string fixed, less the best of all."""
    fragment = line([69, 72, 74])
    best = readings(fragment, k=1)[0].total
    for index, strings in enumerate(note_margins(fragment)):
        assert min(strings.values()) == 0
        for string, margin in strings.items():
            notes = (n.but(string=string) if i == index else n for i, n in enumerate(fragment.notes))
            told = readings(fragment.with_notes(notes), k=1)[0].total
            assert margin == pytest.approx(told - best, abs=1e-5)


def test_where_most_strings_are_known_rivals_differ_in_the_rest(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line([69, 72, 74, 76, 74, 72, 69, 67, 69, 72])
    first = readings(fragment, k=1)[0]
    known = [n.but(string=p.string) for n, p in zip(fragment.notes, first.places, strict=True)]
    found = readings(line([*known[:8], *fragment.notes[8:]]), k=3)
    assert len(found) > 1
    assert all(r.places[i].string == first.places[i].string for r in found for i in range(8))


def test_a_region_keeps_the_hand_within_it(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line([69, 72, 74, 76, 74, 72])
    for reading in readings(fragment, region=(12, 14)):
        assert {p.position for p in reading.places} <= {12, 13, 14}
    with pytest.raises(Faulty, match="no reading stays within positions 1 to 2"):
        readings(fragment, region=(1, 2))
