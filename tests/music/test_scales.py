"""Scales against music21 (BSD-3) as an independent reference, and set classes by their invariants."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.music.scales import SCALES, complement, scales_holding, set_class, transposed_class

# Pitch classes computed with music21 10.5.1 and mingus 0.6.1; the names of the last five from memory.
PUBLISHED = {
    "ionian": (0, 2, 4, 5, 7, 9, 11),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
    "lydian": (0, 2, 4, 6, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "aeolian": (0, 2, 3, 5, 7, 8, 10),
    "locrian": (0, 1, 3, 5, 6, 8, 10),
    "harmonic minor": (0, 2, 3, 5, 7, 8, 11),
    "melodic minor": (0, 2, 3, 5, 7, 9, 11),
    "whole tone": (0, 2, 4, 6, 8, 10),
    "whole-half octatonic": (0, 2, 3, 5, 6, 8, 9, 11),
    "half-whole octatonic": (0, 1, 3, 4, 6, 7, 9, 10),
    "minor pentatonic": (0, 3, 5, 7, 10),
    "major pentatonic": (0, 2, 4, 7, 9),
    "blues": (0, 3, 5, 6, 7, 10),
    "phrygian dominant": (0, 1, 4, 5, 7, 8, 10),
    "lydian dominant": (0, 2, 4, 6, 7, 9, 10),
    "altered": (0, 1, 3, 4, 6, 8, 10),
}
CLASSES = st.sets(st.integers(0, 11), min_size=1, max_size=12)


def test_every_scale_has_a_published_row_and_agrees_with_it() -> None:
    assert {name: scale.intervals for name, scale in SCALES.items()} == PUBLISHED


@pytest.mark.parametrize(
    ("name", "same"),
    [("ionian", "locrian"), ("harmonic minor", "phrygian dominant"), ("melodic minor", "altered")],
)
def test_a_mode_has_the_class_of_its_parent(name: str, same: str) -> None:
    assert set_class(SCALES[name].intervals) == set_class(SCALES[same].intervals)


@given(CLASSES, st.integers(0, 11))
def test_transposition_and_inversion_leave_the_class(classes: set[int], by: int) -> None:
    assert set_class(pitch + by for pitch in classes) == set_class(classes)
    assert transposed_class(pitch + by for pitch in classes) == transposed_class(classes)
    assert set_class(-pitch for pitch in classes) == set_class(classes)


def test_the_complement_of_the_seven_is_the_pentatonic() -> None:
    """Forte 7-35 and 5-35 (music21 forteClass)."""
    assert set_class(complement(PUBLISHED["ionian"])) == set_class(PUBLISHED["minor pentatonic"])


def test_classes_agree_with_music21() -> None:
    chord = pytest.importorskip("music21.chord")
    for name, scale in SCALES.items():
        forte = chord.Chord([60 + interval for interval in scale.intervals])
        assert tuple(forte.primeForm) == set_class(scale.intervals), name
    assert chord.Chord([0, 2, 4, 5, 7, 9, 11]).forteClassTn == "7-35"


def test_degrees_and_notes() -> None:
    dorian = SCALES["dorian"]
    assert dorian.notes(62, 62, 74) == (62, 64, 65, 67, 69, 71, 72, 74)
    assert [dorian.degree(62, note) for note in (62, 65, 66)] == [1, 3, None]


def test_scales_that_hold_given_notes_come_with_the_smallest_first() -> None:
    found = scales_holding((57, 60, 62, 64, 67))
    assert found[:2] == (("C", "major pentatonic"), ("A", "minor pentatonic"))
    assert ("C", "ionian") in found
    assert ("C#", "ionian") not in found
