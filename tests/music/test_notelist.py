"""Fragments made of plain notes: times, open readings, every fault at once."""

import re
import sys
from dataclasses import fields
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
from fragments import QUICK, fragments

from pipeline.errors import Fault, Faulty, Place
from pipeline.music.fragment import ClueMark, Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.note import BendPoint, Harmonic, Note
from pipeline.music.notekeys import NOTE_KEYS, NoteKey
from pipeline.music.notelist import plain_notes, read_notes
from pipeline.music.tabtext import print_tab, read_tab


def at(index: int, key: str) -> Place:
    return Place(f"notes[{index}].{key}", 1, 1)


def read(*notes: Any, **options: Any) -> Fragment:
    return read_notes("made", notes, Guitar(), at, **options)


def test_pitches_alone_leave_the_strings_open() -> None:
    made = read({"onset": 0, "pitch": "E4"}, {"onset": "1/3", "pitch": 67}, {"onset": 0.5, "pitch": "Bb3"})
    assert [(note.onset, note.duration) for note in made.notes] == [
        (Fraction(0), Fraction(1, 3)),
        (Fraction(1, 3), Fraction(1, 6)),
        (Fraction(1, 2), Fraction(1)),
    ]
    assert [note.pitch for note in made.notes] == [64, 67, 58]
    assert not made.placed


def test_string_and_fret_give_the_pitch_and_notes_are_sorted() -> None:
    made = read(
        {"onset": 1, "string": 2, "fret": 5},
        {"onset": 0, "string": 1, "fret": 0},
        {"onset": 1, "string": 1, "fret": 3},
    )
    assert [(note.string, note.pitch) for note in made.notes] == [(1, 64), (1, 67), (2, 64)]
    assert made.placed


def test_grace_notes_keep_their_order() -> None:
    made = read(
        {"onset": 0, "string": 3, "fret": 5},
        {"onset": 0, "string": 5, "fret": 3, "grace": True},
        {"onset": 0, "string": 4, "fret": 4, "grace": True},
    )
    assert [(note.string, note.grace) for note in made.notes] == [(5, True), (4, True), (3, False)]


def test_every_field_may_be_given() -> None:
    made = read(
        {
            "onset": 0,
            "string": 3,
            "fret": 7,
            "finger": 3,
            "position": 5,
            "stroke": "up",
            "vibrato": "wide",
            "accent": True,
            "palm-mute": True,
            "slide-out": "down",
            "clues": "s?6 b{0.5}",
        }
        | {"bend": [[0, 0], ["1/2", 2]], "harmonic": {"kind": "pinch", "partial": 3}}
    )
    note = made.notes[0]
    assert (note.finger, note.position, note.stroke, note.vibrato, note.accent) == (3, 5, "up", "wide", True)
    assert (note.palm_mute, note.slide_out) == (True, "down")
    assert made.clues == (ClueMark(0, "slurred", "", 0.6), ClueMark(0, "bend", "0.5", 1.0))
    assert note.bend == (BendPoint(Fraction(0), Fraction(0)), BendPoint(Fraction(1, 2), Fraction(2)))
    assert note.harmonic == Harmonic("pinch", 3, None)


def test_a_string_and_a_pitch_give_the_fret() -> None:
    assert read({"onset": 0, "string": 4, "pitch": "E4"}).notes[0].fret == 14
    with pytest.raises(Faulty, match=re.escape("notes[0].fret:1:1: fret 38 is beyond the neck")):
        read({"onset": 0, "string": 6, "pitch": "F#5"})


def test_a_pickup_is_a_short_first_bar() -> None:
    made = read({"onset": 0, "pitch": 64}, {"onset": 1, "pitch": 65}, pickup=Fraction(1))
    assert [measure.length for measure in made.measures] == [1, 4]


@pytest.mark.parametrize(
    ("note", "expected"),
    [
        ({"pitch": 64}, "notes[0].:1:1: a note without an onset; say at which beat"),
        ({"onset": 0}, "notes[0].:1:1: a note without pitch; give pitch, or string and fret"),
        ({"onset": float("nan"), "pitch": 64}, "notes[0].onset:1:1: onset nan is no number"),
        ({"onset": float("inf"), "pitch": 64}, "notes[0].onset:1:1: onset inf is no number"),
        ({"onset": "1/0", "pitch": 64}, "notes[0].onset:1:1: onset 1/0 is no number"),
        ({"onset": -1, "pitch": 64}, "notes[0].onset:1:1: onset -1 is out of reach"),
        ({"onset": 0, "pitch": "H4"}, "notes[0].pitch:1:1: 'H4' is no pitch name"),
        ({"onset": 0, "pitch": 30}, "notes[0].pitch:1:1: MIDI note 30 is not on this guitar"),
        ({"onset": 0, "string": 7, "fret": 3}, "notes[0].string:1:1: this guitar has no string 7"),
        ({"onset": 0, "string": 1, "fret": 30}, "notes[0].fret:1:1: fret 30 is beyond the neck"),
        (
            {"onset": 0, "string": 1, "fret": 3, "pitch": 60},
            "notes[0].pitch:1:1: string 1 fret 3 is MIDI note 67",
        ),
        (
            {"onset": 0, "pitch": 64, "storke": "up"},
            "notes[0].storke:1:1: a note has no 'storke'; did you mean 'stroke'?",
        ),
        (
            {"onset": 0, "pitch": 64, "let_ring": True},
            "notes[0].let_ring:1:1: a note has no 'let_ring'; did you mean 'let-ring'?",
        ),
        ({"onset": 0, "string": 9, "dead": True}, "notes[0].string:1:1: this guitar has no string 9"),
        ({"onset": "1e99999999", "pitch": 64}, "notes[0].onset:1:1: onset 1e99999999 is no number"),
        ({"onset": 0, "pitch": 64, "clues": "s q"}, "notes[0].clues:1:1: 'q' is no clue; write signs such"),
        ({"onset": 0, "pitch": 64, "clues": 7}, "notes[0].clues:1:1: clues are no text; write signs such"),
        (
            {"onset": 0, "pitch": 64, "stroke": "dwn"},
            "notes[0].stroke:1:1: stroke cannot be 'dwn'; did you mean",
        ),
        ({"onset": 0, "pitch": 64, "accent": 1}, "notes[0].accent:1:1: accent is neither true nor false"),
        (
            {"onset": 0, "pitch": 64, "bend": [[1, 0], [0, 2]]},
            "notes[0].bend:1:1: the shares of a bend do not rise",
        ),
        (
            {"onset": 0, "pitch": 64, "bend": [[0, 0], [1, 13]]},
            "notes[0].bend:1:1: a bend goes below its fret or more than an octave above",
        ),
        (
            {"onset": 0, "pitch": 64, "bend": [[0, 0], [1, -1]]},
            "notes[0].bend:1:1: a bend goes below its fret or more than an octave above",
        ),
        (
            {"onset": 0, "pitch": 64, "attack": "tap", "stroke": "up"},
            "notes[0].stroke:1:1: a stroke on a note that is not picked; take stroke or attack away",
        ),
        (
            {"onset": 0, "string": 1, "dead": True, "bend": [[0, 0], [1, 1]]},
            "notes[0].bend:1:1: a bend starts from an unknown fret",
        ),
        ({"onset": 0, "pitch": 64, "duration": 0}, "notes[0].duration:1:1: the note lasts no time; write"),
        ({"onset": 0, "pitch": 64, "bend": [[1, 2]]}, "notes[0].bend:1:1: a bend does not begin at share 0"),
        (
            {"onset": 0, "pitch": 64, "harmonic": {"kind": "natural"}},
            "notes[0].harmonic:1:1: a natural harmonic without a touch",
        ),
        (
            {"onset": 0, "string": 1, "fret": 12, "harmonic": {"kind": "natural", "touch": 12}},
            "notes[0].fret:1:1: a natural harmonic on a stopped string; write fret: 0",
        ),
        (
            {"onset": 0, "pitch": 64, "harmonic": {"kind": "artificial", "touch": -5}},
            "notes[0].harmonic:1:1: touch -5 is out of reach",
        ),
        (
            {"onset": 0, "string": 1, "fret": 5, "attack": "slide"},
            "notes[0].attack:1:1: no note stands before it on its string",
        ),
        (
            {"onset": 0, "string": 1, "fret": 5, "shift-slide": True},
            "notes[0].shift-slide:1:1: no note stands before it on its string",
        ),
        ({"onset": 0, "pitch": 64, "attack": "tie"}, "notes[0].attack:1:1: no note stands before it; write"),
        ({"onset": 0, "pitch": 64, "grace": True}, "notes[0].grace:1:1: a grace note before no note; write"),
        ("E4", "notes[0].:1:1: a note is not a mapping"),
    ],
)
def test_a_fault_names_the_note_and_the_key(note: Any, expected: str) -> None:
    with pytest.raises(Faulty) as caught:
        read(note)
    assert any(str(fault).startswith(expected) for fault in caught.value.faults), caught.value


def test_two_notes_cannot_share_a_string() -> None:
    with pytest.raises(Faulty, match="a second note at beat 0 on string 1"):
        read({"onset": 0, "string": 1, "fret": 3}, {"onset": 0, "string": 1, "fret": 5})


@pytest.mark.parametrize(
    ("attack", "expected"),
    [("pull", "a pull-off from 5 to 7; hammer goes up"), ("tie", "fret 7 cannot continue 5; tie the same")],
)
def test_a_note_comes_from_the_one_before_as_it_can(attack: str, expected: str) -> None:
    with pytest.raises(Faulty, match=re.escape(f"notes[1].attack:1:1: {expected}")):
        read({"onset": 0, "string": 1, "fret": 5}, {"onset": 1, "string": 1, "fret": 7, "attack": attack})


def test_all_faults_come_at_once() -> None:
    with pytest.raises(Faulty) as caught:
        read({"onset": 0}, {"onset": "x", "pitch": 64}, {"onset": 1, "pitch": "Z"})
    assert len(caught.value.faults) == 3  # of a name that is no pitch nothing follows


@settings(max_examples=15, **QUICK)
@given(fragments())
def test_plain_notes_are_read_back(fragment: Fragment) -> None:
    again = read_notes("made", plain_notes(fragment), fragment.guitar, at)
    assert again.notes == fragment.notes
    assert again.clues == fragment.clues


def test_an_open_pitch_is_written_by_name() -> None:
    made = read({"onset": "1/3", "pitch": 64})
    assert plain_notes(made) == [{"onset": "1/3", "duration": 1, "pitch": "E4"}]


def test_every_field_of_a_note_has_a_key() -> None:
    assert {key.field for key in NOTE_KEYS} == {field.name for field in fields(Note)} | {"clues"}


@pytest.mark.parametrize("key", [key for key in NOTE_KEYS if key.kind in ("number", "word")])
def test_a_key_without_a_value_is_as_if_it_were_not_there(key: NoteKey) -> None:
    assert read({"onset": 0, "pitch": 64, key.name: None}).notes == read({"onset": 0, "pitch": 64}).notes


ODD = st.sampled_from([None, True, -1, 10**9, 0.1, "", "x", "1e999999", "1/0", [], [[0]], {}, {"kind": 1}])
GOOD: dict[str, st.SearchStrategy[Any]] = {
    "beats": st.sampled_from([0, 1, "1/2", "7/3", 0.25, 2]),
    "pitch": st.sampled_from(["E4", "A2", "Bb3", 64]),
    "number": st.integers(0, 12),
    "flag": st.booleans(),
    "bend": st.sampled_from([[[0, 0], ["1/2", 2]], [[0, 1], [1, 0]], []]),
    "harmonic": st.sampled_from(
        [{"kind": "natural", "touch": 12}, {"kind": "pinch"}, {"kind": "artificial"}]
    ),
    "clues": st.sampled_from(["s", "s?6", "b{0.5}", "@7"]),
}


@st.composite
def lists(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Notes with whatever keys, now and then with a value that is none."""
    made = []
    for _ in range(draw(st.integers(1, 4))):
        keys = draw(st.lists(st.sampled_from(NOTE_KEYS), max_size=5, unique_by=lambda key: key.name))
        place = draw(st.sampled_from([{"pitch": "E4"}, {"string": 2, "fret": 5}, {"string": 3, "fret": 0}]))
        note = {"onset": draw(GOOD["beats"]), **place}
        for key in keys:
            usual = st.sampled_from(key.words) if key.kind == "word" else GOOD[key.kind]
            note[key.name] = draw(ODD if draw(st.integers(0, 15)) == 0 else usual)
        made.append(note)
    return made


def attempt(notes: list[dict[str, Any]]) -> tuple[Fragment | None, tuple[Fault, ...]]:
    try:
        return read(*notes), ()
    except Faulty as error:
        return None, error.faults


@settings(max_examples=150, **QUICK)
@given(lists())
def test_any_list_is_read_or_refused_and_what_is_read_can_be_written(notes: list[dict[str, Any]]) -> None:
    made, found = attempt(notes)
    assert all(fault.place.line and fault.remedy for fault in found)
    if made is None:
        return
    assert read(*plain_notes(made)).notes == made.notes
    if made.placed:
        again = read_tab("made", print_tab(made), Guitar(), lambda row, column: Place("text", row + 1))
        assert [(n.onset, n.string, n.fret) for n in again.notes] == [
            (n.onset, n.string, n.fret) for n in made.notes
        ]
