"""What import prints can be pasted: it builds as it stands, on the guitar that the file or the user names."""

from fractions import Fraction
from pathlib import Path

import mido
import pytest

from pipeline.errors import Faulty, Place
from pipeline.lesson.notation import guitar_of, read_notation
from pipeline.lesson.resolve import read_lesson
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.musicxml_out import write_musicxml
from pipeline.music.tabtext import read_tab

LOW = Guitar.tuned("A1 E2 A2 D3 G3 B3 E4")
SCRIPT = """\
title: One passage
teacher: Ida Marrow
guitar: {{strings: E1 A1 D2 G2, frets: 20}}
fragments:
{pasted}
segments:
  - id: one
    title: One
    scenes:
      - {{id: only, fragment: {name}, views: [{{show: tab}}]}}
"""


def pasted(folder: Path, snippet: str, name: str) -> Fragment:
    """The passage of a script, itself for a bass, into which a snippet was pasted."""
    path = folder / "lesson.yaml"
    path.write_text(SCRIPT.format(pasted=snippet, name=name), "utf-8")
    return read_lesson(path).fragment(name)


def midi(path: Path, *pitches: int, tempo: int = 100) -> Path:
    """Quarters, written by mido (Standard MIDI File 1.0)."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo))])
    for pitch in pitches:
        track += [mido.Message("note_on", note=pitch, velocity=90, time=0)]
        track += [mido.Message("note_off", note=pitch, velocity=0, time=480)]
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(path)
    return path


@pytest.mark.parametrize(
    "guitar",
    [Guitar(), LOW, Guitar(capo=3), Guitar(LOW.strings, 27, 686.0, 2, True), Guitar((43, 38, 33, 28), 20)],
)
def test_a_score_brings_its_guitar(guitar: Guitar, tmp_path: Path) -> None:
    lowest = guitar.string_count
    text = f"count 4/4 1 2 3 (4)\n1    |----5-7--------|\n{lowest}    |--------3------|\n"
    fragment = read_tab("low", text, guitar, lambda row, column: Place("low", row)).but(flats=True)
    (tmp_path / "my low.musicxml").write_text(write_musicxml(fragment), "utf-8")
    read = read_notation(tmp_path / "my low.musicxml")
    assert read.lost == ()
    again = pasted(tmp_path, read.as_yaml(), "my-low")
    assert again.notes == fragment.notes
    assert again.guitar == guitar
    assert again.flats


def test_a_midi_file_is_for_the_guitar_that_is_named(tmp_path: Path) -> None:
    path = midi(tmp_path / "con.mid", 33, 40, 45)  # MIDI note 33 is A1, a fifth below E2
    with pytest.raises(Faulty, match=r"notes \(A1\) are not on this guitar, which goes from E2 to E6"):
        read_notation(path)
    guitar = guitar_of({"strings": "A1 E2 A2 D3 G3 B3 E4", "frets": None, "scale-length": 686.0})
    read = read_notation(path, guitar)
    assert read.weighed
    again = pasted(tmp_path, read.as_yaml(), "passage-con")
    assert [note.pitch for note in again.notes] == [33, 40, 45]
    assert again.guitar == Guitar(LOW.strings, 24, 686.0)
    assert again.placed


def test_no_guitar_is_named_without_options() -> None:
    assert guitar_of({"strings": None, "capo": None}) is None


def test_a_guitar_that_is_none_is_told_by_option() -> None:
    with pytest.raises(Faulty) as caught:
        guitar_of({"strings": "E4 E2", "frets": 99, "capo": None})
    assert [str(fault).split(";")[0] for fault in caught.value.faults] == [
        "--frets: 99 is out of range",
        "--strings: 'E4 E2' is no tuning",
    ]


def test_what_a_passage_cannot_hold_is_told(tmp_path: Path) -> None:
    read = read_notation(midi(tmp_path / "fast.mid", 60, 62, tempo=600))
    assert read.fragment.tempo == Fraction(480)
    assert read.lost == ("the tempo of 600: a passage has 10 to 480",)
    pasted(tmp_path, read.as_yaml(), "fast")


def test_a_named_guitar_gives_way_to_the_files_own(tmp_path: Path) -> None:
    fragment = read_tab("low", "A1 |--5--|", LOW, lambda row, column: Place("low", row))
    (tmp_path / "low.xml").write_text(write_musicxml(fragment), "utf-8")
    read = read_notation(tmp_path / "low.xml", Guitar())
    assert read.fragment.guitar == LOW
    assert read.lost == ("the strings named here: the file says how its guitar is strung",)


def test_a_score_without_tuning_is_for_the_guitar_that_is_named(tmp_path: Path) -> None:
    fragment = read_tab("low", "E4 |--5--|\nD3 |--0--|", Guitar(), lambda row, column: Place("low", row))
    text = write_musicxml(fragment)
    start, end = text.index("<staff-details>"), text.index("</staff-details>")
    (tmp_path / "low.xml").write_text(text[:start] + text[end + len("</staff-details>") :], "utf-8")
    drop = Guitar.tuned("D2 A2 D3 G3 B3 E4")
    assert read_notation(tmp_path / "low.xml", drop).fragment.guitar.strings == drop.strings
    assert read_notation(tmp_path / "low.xml").fragment.guitar == Guitar()
