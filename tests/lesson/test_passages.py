"""Passages from every form a script may give them in."""

from fractions import Fraction
from pathlib import Path

import mido
import pytest

from pipeline.errors import Faulty
from pipeline.lesson.resolve import read_lesson
from pipeline.music.fragment import Fragment

SCRIPT = """\
title: One passage
teacher: Ida Marrow
fragments:
  run: {keys}
segments:
  - id: one
    title: One
    scenes:
      - {{id: only, fragment: run, views: [{{show: tab}}]}}
"""
TAB = "count   1 2 3 4\nE4     |5-7-8-5-|\n"
NOTES = "[{onset: 0, pitch: A4, palm-mute: true}, {onset: 1/3, pitch: B4}]"


def resolved(folder: Path, keys: str) -> Fragment:
    """The passage of a script whose fragment has these keys."""
    path = folder / "lesson.yaml"
    path.write_text(SCRIPT.format(keys=keys), "utf-8")
    return read_lesson(path).fragment("run")


def pitches(fragment: Fragment) -> list[int | None]:
    return [note.pitch for note in fragment.notes]


def test_text_in_a_file_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "run.txt").write_text(TAB, "utf-8")
    fragment = resolved(tmp_path, "{file: run.txt, tempo: 90}")
    assert pitches(fragment) == [69, 71, 72, 69]
    assert fragment.tempo == 90


def test_faults_in_a_file_of_its_own_point_into_it(tmp_path: Path) -> None:
    (tmp_path / "run.txt").write_text(TAB.replace("8", "y"), "utf-8")
    with pytest.raises(Faulty, match=r"run\.txt:2:13: "):
        resolved(tmp_path, "{file: run.txt}")


def test_a_list_of_notes_with_open_strings_is_placed_by_reasoning(tmp_path: Path) -> None:
    """Pitches alone: the best reading says where."""
    fragment = resolved(tmp_path, f"{{notes: {NOTES}}}")
    assert pitches(fragment) == [69, 71]
    assert [note.onset for note in fragment.notes] == [0, Fraction(1, 3)]
    assert [note.palm_mute for note in fragment.notes] == [True, False]
    assert fragment.placed


def test_a_list_of_notes_in_a_file(tmp_path: Path) -> None:
    (tmp_path / "run.yaml").write_text(f"notes: {NOTES}", "utf-8")
    assert pitches(resolved(tmp_path, "{file: run.yaml}")) == [69, 71]
    (tmp_path / "run.yaml").write_text("- 1", "utf-8")
    with pytest.raises(Faulty, match="this is no list of notes; write one key, notes"):
        resolved(tmp_path, "{file: run.yaml}")


def test_a_fault_in_a_list_points_at_its_key(tmp_path: Path) -> None:
    with pytest.raises(Faulty, match=r"lesson\.yaml:4:35: .H4. is no pitch name"):
        resolved(tmp_path, f"{{notes: {NOTES.replace('A4', 'H4')}}}")


def test_a_midi_file(tmp_path: Path) -> None:
    """Written by mido: A4 and B4 a quarter each at 100 quarter notes a minute (Standard MIDI File 1.0)."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(100))])
    for note in (69, 71):
        track += [mido.Message("note_on", note=note, velocity=90, time=0)]
        track += [mido.Message("note_off", note=note, velocity=0, time=480)]
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(tmp_path / "run.mid")
    fragment = resolved(tmp_path, "{file: run.mid}")
    assert pitches(fragment) == [69, 71]
    assert fragment.tempo == 100
    assert fragment.placed
    assert resolved(tmp_path, "{file: run.mid, tempo: 80}").tempo == 80


def test_a_musicxml_file_is_read_as_it_was_written(tmp_path: Path) -> None:
    from pipeline.music.musicxml_out import write_musicxml

    (tmp_path / "run.txt").write_text(TAB, "utf-8")
    fragment = resolved(tmp_path, "{file: run.txt, tempo: 90}")
    written = write_musicxml(fragment)
    data = written if isinstance(written, bytes) else str(written).encode()
    (tmp_path / "run.musicxml").write_bytes(data)
    again = resolved(tmp_path, "{file: run.musicxml}")
    assert [(n.onset, n.string, n.fret) for n in again.notes] == [
        (n.onset, n.string, n.fret) for n in fragment.notes
    ]
    assert again.tempo == 90


@pytest.mark.parametrize(
    ("name", "data", "expected"),
    [
        ("run.mid", b"MThd", "run.mid"),
        ("run.musicxml", b"<a", "run.musicxml"),
        ("run.doc", b"x", r"'run.doc' is of no known kind; use .txt, .yaml, .musicxml"),
        ("run.txt", b"\xff\xfe", "the text is not UTF-8"),
    ],
)
def test_files_that_hold_no_passage(tmp_path: Path, name: str, data: bytes, expected: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(Faulty, match=expected):
        resolved(tmp_path, f"{{file: {name}}}")


@pytest.mark.parametrize("keys", ["{}", "{text: 'a', file: run.txt}", "{tempo: 100}"])
def test_exactly_one_form(tmp_path: Path, keys: str) -> None:
    with pytest.raises(Faulty, match="give exactly one of text, notes and file"):
        resolved(tmp_path, keys)


def guitars(folder: Path, episodes: str, own: str) -> Fragment:
    path = folder / "lesson.yaml"
    keys = f"{{guitar: {{{own}}}, notes: {NOTES}}}"
    path.write_text(SCRIPT.format(keys=keys).replace("fragments:", f"guitar: {{{episodes}}}\nfragments:"))
    return read_lesson(path).fragment("run")


def test_what_a_passages_own_guitar_leaves_out_is_the_episodes(tmp_path: Path) -> None:
    guitar = guitars(
        tmp_path, "handedness: left, frets: 22, scale-length: 628, capo: 2", "strings: D2 A2 D3 G3 B3 E4"
    ).guitar
    assert guitar.strings[-1] == 38
    assert (guitar.left_handed, guitar.frets, guitar.scale_mm, guitar.capo) == (True, 22, 628.0, 2)
    guitar = guitars(tmp_path, "handedness: left, capo: 2", "handedness: right, capo: 0").guitar
    assert (guitar.left_handed, guitar.capo) == (False, 0)


def test_two_guitars_that_do_not_go_together_are_told_where_the_second_stands(tmp_path: Path) -> None:
    with pytest.raises(Faulty, match=r"lesson\.yaml:5:.*the capo lies on fret 12 of 10; write both"):
        guitars(tmp_path, "capo: 12", "frets: 10")
