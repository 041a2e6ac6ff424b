"""Clues heard on the guide: each kind where it is played, and none where nothing is."""

from fractions import Fraction

import numpy as np
import pytest

from pipeline.music.clues import KINDS
from pipeline.music.fragment import ClueMark, Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Harmonic, Note
from pipeline.sound.align import Alignment
from pipeline.sound.guide import play
from pipeline.sound.hearing import HIGHEST, LEAST, hear, strength_of
from pipeline.sound.hearing_evidence import EVIDENCE
from pipeline.sound.hearing_weights import WEIGHTS
from pipeline.timing import TimeMap
from tests.benchmarks.phrases import whole_bend

RATE = 44100
PLACES = ((2, 5), (2, 7), (2, 8), (1, 5), (1, 7), (1, 8), (1, 7), (1, 5))


def fragment_of(
    changes: dict[int, dict[str, object]], places: tuple[tuple[int, int], ...] = PLACES
) -> Fragment:
    """Eighths at these places, some of them changed."""
    guitar, notes = Guitar(), list[Note]()
    for number, (string, fret) in enumerate(places):
        note = Note(Fraction(number, 2), Fraction(1, 2), guitar.pitch(string, fret), string, fret)
        notes.append(note.but(**changes.get(number, {})))
    return Fragment("eighths", guitar, tuple(notes), (Measure(Fraction(0), Fraction(4)),))


def heard(fragment: Fragment) -> tuple[ClueMark, ...]:
    """What is heard where the fragment is played at 4 notes a second and its plain notes are known."""
    moments = TimeMap.linear("beat", "clip", Fraction(0), Fraction(3, 10), Fraction(1, 2))
    signal = play(fragment, moments, Fraction(5, 2), RATE)
    known = tuple(moments(note.onset) for note in fragment.notes)
    ones = (1.0,) * len(known)
    plain = [
        n.but(attack="pick", bend=(), harmonic=None, slide_in=None, vibrato="none") for n in fragment.notes
    ]
    return hear(signal, fragment.with_notes(plain), Alignment(known, ones, 1.0, (), ones, 0.0, 1.0))


def strong(clues: tuple[ClueMark, ...]) -> set[tuple[int, str]]:
    return {(clue.note, clue.kind) for clue in clues if clue.strength >= 0.5}


def test_plain_picking_gives_no_strong_clue() -> None:
    assert strong(heard(fragment_of({}))) == set()


def test_a_hammered_note_has_no_stroke() -> None:
    assert strong(heard(fragment_of({1: {"attack": "hammer"}}))) == {(1, "slurred")}


def test_a_slide_glides_without_a_stroke() -> None:
    assert (4, "slide") in strong(heard(fragment_of({4: {"attack": "slide"}})))


@pytest.mark.parametrize("semitones", [1, 2])
def test_a_bend_is_heard_with_its_size(semitones: int) -> None:
    clues = heard(fragment_of({5: {"bend": whole_bend(semitones)}}))
    assert (5, "bend") in strong(clues)
    assert next(c.value for c in clues if c.kind == "bend" and c.note == 5) == str(semitones)


def test_a_note_repeated_after_a_bend_is_neither_slid_nor_slipped() -> None:
    places = (*PLACES[:4], PLACES[3], *PLACES[5:])
    clues = strong(heard(fragment_of({3: {"bend": whole_bend(2)}}, places)))
    assert (3, "bend") in clues
    assert not {kind for number, kind in clues if number == 4} & {"slide", "slip"}


def test_a_slip_before_a_repeated_note() -> None:
    places = (*PLACES[:4], PLACES[3], *PLACES[5:])
    assert (4, "slip") in strong(heard(fragment_of({4: {"slide_in": "below"}}, places)))


def test_a_pinch_harmonic_is_heard_with_its_partial() -> None:
    clues = heard(fragment_of({2: {"harmonic": Harmonic("pinch", 4)}}))
    assert [(c.note, c.value) for c in clues if c.kind == "pinched"] == [(2, "4")]


def test_an_open_string_rings_on() -> None:
    places = ((3, 0), (2, 5), (3, 0), (2, 6), *PLACES[4:])
    rings = {n: {"let_ring": True} for n in (0, 2)}
    assert {(0, "open"), (2, "open")} <= strong(heard(fragment_of(rings, places)))


def test_a_stopped_note_of_an_open_string_does_not() -> None:
    places = ((4, 5), (2, 5), (4, 5), (2, 6), *PLACES[4:])
    assert not {k for _, k in strong(heard(fragment_of({}, places)))} & {"open"}


def test_doubtful_starts_and_chords_say_nothing() -> None:
    fragment = fragment_of({1: {"attack": "hammer"}})
    signal = play(
        fragment, TimeMap.linear("beat", "clip", Fraction(0), Fraction(0), Fraction(1, 2)), Fraction(2), RATE
    )
    moments, zeros = tuple(note.onset / 2 for note in fragment.notes), (0.0,) * len(fragment.notes)
    assert hear(signal, fragment, Alignment(moments, zeros, 1.0, (), zeros, 0.0, 1.0)) == ()
    chord = fragment.with_notes(note.but(onset=Fraction(0)) for note in fragment.notes)
    ones = (1.0,) * len(fragment.notes)
    assert hear(signal, chord, Alignment((Fraction(0),) * 8, ones, 1.0, (), ones, 0.0, 1.0)) == ()


def test_strengths_stay_in_their_bounds_and_kinds_are_known() -> None:
    clues = heard(fragment_of({1: {"attack": "hammer"}, 5: {"bend": whole_bend(2)}}))
    assert {clue.kind for clue in clues} <= {kind.kind for kind in KINDS}
    assert all(LEAST <= clue.strength <= HIGHEST for clue in clues)
    assert strength_of(1.0) == HIGHEST


def test_every_kind_has_evidence_and_weights_for_it() -> None:
    assert set(EVIDENCE) == set(WEIGHTS)
    for weights in WEIGHTS.values():
        assert len(weights.names) == len(weights.weights)
        chances = [weights.chance([x] * len(weights.names)) for x in (-1e6, 0.0, 1e6)]
        assert all(0 <= chance <= 1 for chance in chances)


def test_a_brighter_and_sharper_start_speaks_for_a_stroke() -> None:
    usual = np.array(WEIGHTS["slurred"].weights)
    assert WEIGHTS["slurred"].names == ("burst", "fall", "fine", "coarse", "dip", "far")
    assert np.all(usual[[0, 2, 3, 5]] < 0)


@pytest.mark.parametrize("width", ["narrow", "wide"])
def test_vibrato_is_no_bend(width: str) -> None:
    places = PLACES[:6]
    fragment = fragment_of({5: {"vibrato": width, "duration": Fraction(2)}}, places)
    assert not {k for _, k in strong(heard(fragment))} & {"bend", "slip", "slide"}
