"""Pitches against ISO 16, published frequencies and music21."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.music.pitch import frequency, note_of, parse_pitch, pitch_class_name, pitch_name

# Hz of the open strings: music21 Pitch.frequency = pretty_midi = mir_eval; A4 by ISO 16:1975.
PUBLISHED = {
    "E2": (40, 82.4069),
    "A2": (45, 110.0),
    "D3": (50, 146.8324),
    "G3": (55, 195.9977),
    "B3": (59, 246.9417),
    "E4": (64, 329.6276),
    "C4": (60, 261.6256),
    "A4": (69, 440.0),
    "E6": (88, 1318.5102),
}


@pytest.mark.parametrize(("name", "known"), PUBLISHED.items())
def test_published_frequencies(name: str, known: tuple[int, float]) -> None:
    assert parse_pitch(name) == known[0]
    assert frequency(known[0]) == pytest.approx(known[1], abs=0.0001)
    assert pitch_name(known[0]) == name


def test_semitone_ratio() -> None:
    assert frequency(70) / frequency(69) == pytest.approx(1.0594630943592953, abs=1e-15)


@given(st.integers(0, 127), st.booleans())
def test_names_and_frequencies_turn_back(note: int, flats: bool) -> None:
    assert parse_pitch(pitch_name(note, flats)) == note
    assert note_of(frequency(note)) == pytest.approx(note, abs=1e-9)


def test_against_music21() -> None:
    pitch = pytest.importorskip("music21.pitch")
    for note in range(21, 109):
        assert frequency(note) == pytest.approx(pitch.Pitch(midi=note).frequency, rel=1e-9)
        assert parse_pitch(pitch.Pitch(midi=note).nameWithOctave.replace("-", "b")) == note


@pytest.mark.parametrize(("name", "note"), [("Bb3", 58), ("C##4", 62), ("Cb4", 59), ("B#3", 60), ("a-1", 9)])
def test_spellings(name: str, note: int) -> None:
    assert parse_pitch(name) == note


@pytest.mark.parametrize("name", ["", "H4", "E", "E#b4", "E44", "E4 A2", "4E"])
def test_what_is_no_pitch_name(name: str) -> None:
    with pytest.raises(ValueError, match="is no pitch name"):
        parse_pitch(name)


def test_class_names() -> None:
    assert [pitch_class_name(61), pitch_class_name(61, flats=True)] == ["C#", "Db"]
