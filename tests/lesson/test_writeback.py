"""Writing back: the one block changes, and not a byte, a permission or a link beside it."""

from fractions import Fraction
from pathlib import Path

import pytest

from pipeline.errors import Faulty, Place
from pipeline.lesson.splice import at_path
from pipeline.lesson.writeback import write_fragment, write_marks
from pipeline.music.fragment import ClueMark, Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.notelist import read_notes
from pipeline.music.tabtext import read_tab
from pipeline.source import Source, read_yaml

SCRIPT = """title: Café  # the title
clips:
  take:
    file: a.wav
    marks:
      1:1: 9.0
    gain: 0
fragments:
  run:
    text: |
      E4|-1-|
    tempo: 90
"""
MARKS = [(Fraction(0), Fraction(1, 2), 1.0), (Fraction(1), Fraction(3, 2), 0.2)]


def passage(row: str) -> Fragment:
    return read_tab("run", row, Guitar(), lambda row, column: Place("run", row, column))


def test_marks_take_the_place_of_marks(tmp_path: Path) -> None:
    script = tmp_path / "a.yaml"
    script.write_text(SCRIPT, "utf-8")
    write_marks(script, "take", passage("E4|-5-|"), MARKS)
    new = "      1:1: 0.500000\n      1:2: 1.500000  # doubtful (0.20): listen again\n"
    assert script.read_text("utf-8") == SCRIPT.replace("      1:1: 9.0\n", new)


@pytest.mark.parametrize("header", ["|", "|-", "|4", "|  # mine"])
def test_of_a_passage_only_what_changed_is_written(header: str, tmp_path: Path) -> None:
    """Here two cells and two rows: an indentation, columns, an empty line and a far string stay."""
    text = f"""fragments:
  run:
    text: {header}
        count    1   2
             E4|-5---7---|
            \x20
             E4|-8---|
             E2|---3-|
        fingers  4
    tempo: 90
"""
    script = tmp_path / "a.yaml"
    script.write_text(text, "utf-8")
    before = passage(read_yaml(script).data["fragments"]["run"]["text"])
    notes = [before.notes[0], before.notes[1].but(finger=2), before.notes[2].but(finger=3), before.notes[3]]
    new = before.but(notes=tuple(notes), clues=(ClueMark(0, "bend", "0.5", 0.6),))
    write_fragment(script, "run", new)
    wanted = text.replace("        fingers  4\n", "        fingers  3\n").replace(
        "7---|\n", "7---|\n        fingers      2\n        clues    b{0.5}?6\n"
    )
    assert script.read_text("utf-8") == wanted
    assert passage(read_yaml(script).data["fragments"]["run"]["text"]) == new


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_bytes_permissions_and_links_beside_it_stay(ends: str, mark: str, tmp_path: Path) -> None:
    script, link = tmp_path / "a.yaml", tmp_path / "link.yaml"
    script.write_bytes((mark + SCRIPT.replace("\n", ends)).encode())
    script.chmod(0o640)
    link.symlink_to(script.name)
    write_fragment(link, "run", passage("E4|-7-|"))
    before, after = SCRIPT.split("      E4|-1-|\n")
    written = script.read_bytes().decode()
    assert written.startswith((mark + before).replace("\n", ends))
    assert written.endswith(after.replace("\n", ends))
    assert "7" in written.removeprefix((mark + before).replace("\n", ends))[: -len(after)]
    assert link.is_symlink()
    assert script.stat().st_mode & 0o777 == 0o640


LISTED = """title: Café  # the title
fragments:
  run:  # mine
    notes:
      - {onset: 1, pitch: C4 }  # the second
      - {onset: 0, pitch: A3,}
      - onset: 2
        bend: [[0, 0],
          [1, 2]]
        # held
        finger:
        pitch: D4
      - onset: 3
        string: 6  # no
        pitch: "E4"
        clues: b

    tempo: 90
"""
WRITTEN = """title: Café  # the title
fragments:
  run:  # mine
    notes:
      - {onset: 1, pitch: C4, string: 4, fret: 10, finger: 4, stroke: up }  # the second
      - {onset: 0, pitch: A3, string: 4, fret: 7, finger: 1}
      - onset: 2
        bend: [[0, 0],
          [1, 2]]
        # held
        finger: 1
        pitch: D4
        string: 3
        fret: 7
      - onset: 3
        string: 3  # no
        pitch: "E4"
        clues: "bs?6"
        fret: 9
        position: 7

    tempo: 90
"""
FOUND: list[dict[str, object]] = [
    {"string": 4, "fret": 7, "finger": 1},
    {"string": 4, "fret": 10, "finger": 4, "stroke": "up"},
    {"string": 3, "fret": 7, "finger": 1},
    {"string": 3, "fret": 9, "position": 7},
]


def listed(source: Source, *at: str) -> Fragment:
    return read_notes("run", at_path(source.data, at), Guitar(), lambda index, key: Place("run", index))


def with_found(before: Fragment) -> Fragment:
    """A passage with strings, frets and fingers, and one clue more."""
    notes = [note.but(**found) for note, found in zip(before.notes, FOUND, strict=True)]
    return before.but(notes=tuple(notes), clues=(*before.clues, ClueMark(3, "slurred", "", 0.6)))


def test_into_a_list_of_notes_only_what_changed_is_written(tmp_path: Path) -> None:
    """The list may be in any order, a note in brackets or a key a line; remarks and the rest stay."""
    script = tmp_path / "a.yaml"
    script.write_text(LISTED, "utf-8")
    at = ("fragments", "run", "notes")
    new = with_found(listed(read_yaml(script), *at))
    assert write_fragment(script, "run", new) == script
    assert script.read_text("utf-8") == WRITTEN
    assert listed(read_yaml(script), *at) == new
    write_fragment(script, "run", new)
    assert script.read_text("utf-8") == WRITTEN


def test_a_value_that_is_no_more_is_emptied(tmp_path: Path) -> None:
    script = tmp_path / "a.yaml"
    text = "fragments:\n  run: {notes: [{onset: 0, string: 1, fret: 3, finger: 2, clues: s}]}"
    script.write_text(text, "utf-8")
    before = listed(read_yaml(script), "fragments", "run", "notes")
    write_fragment(script, "run", before.but(notes=(before.notes[0].but(finger=None),), clues=()))
    assert script.read_text("utf-8") == text.replace("finger: 2, clues: s", 'finger: null, clues: ""')


def test_a_list_that_cannot_be_changed_without_harm_is_left(tmp_path: Path) -> None:
    script = tmp_path / "a.yaml"
    text = "fragments:\n  run:\n    notes:\n      - &n {onset: 0, pitch: E4}\n      - *n\n"
    script.write_text(text.replace("- *n", "- {onset: 1, pitch: E4, # mine\n      }"), "utf-8")
    before = listed(read_yaml(script), "fragments", "run", "notes")
    after = before.but(notes=tuple(note.but(string=1, fret=0) for note in before.notes))
    held = script.read_text("utf-8")
    with pytest.raises(Faulty, match="write each note out, on lines without remarks or aliases"):
        write_fragment(script, "run", after)
    assert script.read_text("utf-8") == held


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_passage_in_a_file_of_its_own_is_written_there(ends: str, tmp_path: Path) -> None:
    script, text, notes = tmp_path / "a.yaml", tmp_path / "run.txt", tmp_path / "run.yaml"
    script.write_text("fragments:\n  t: {file: run.txt}\n  n: {file: run.yaml}\n", "utf-8")
    text.write_bytes(f"       E4|-1---3-|  {ends}{ends}       E4|-5-|{ends}".encode())
    notes.write_bytes(f"notes:{ends}  - {{onset: 0, pitch: E4}}".encode())
    passages = passage("       E4|-1---3-|\n\n       E4|-5-|"), listed(read_yaml(notes), "notes")
    after = [p.but(notes=(*p.notes[:-1], p.notes[-1].but(finger=2))) for p in passages]
    assert write_fragment(script, "t", after[0]) == text
    assert write_fragment(script, "n", after[1]) == notes
    assert (
        text.read_bytes().decode()
        == f"       E4|-1---3-|  {ends}{ends}       E4|-5-|{ends}fingers    2{ends}"
    )
    assert notes.read_bytes().decode() == f"notes:{ends}  - {{onset: 0, pitch: E4, finger: 2}}"


def test_files_of_other_programs_are_never_written(tmp_path: Path) -> None:
    script, score = tmp_path / "a.yaml", tmp_path / "run.musicxml"
    script.write_text("fragments:\n  run: {file: run.musicxml}\n", "utf-8")
    score.write_text("<score/>", "utf-8")
    with pytest.raises(Faulty, match=r"put what `fretscene import .*run\.musicxml` prints in the script"):
        write_fragment(script, "run", passage("E4|-7-|"))
    assert score.read_text("utf-8") == "<score/>"


ROWS = "1:1: 0.500000", "1:2: 1.500000"
DOUBT = "  # doubtful (0.20): listen again"
LINES = f"    marks:\n      {ROWS[0]}\n      {ROWS[1]}{DOUBT}\n"
BRACKETS = f"marks: {{\n      {ROWS[0]},\n      {ROWS[1]},{DOUBT}\n    }}"


@pytest.mark.parametrize(
    ("clip", "wanted"),
    [
        ("  take: {file: a.wav, rights: mine}\n", f"  take: {{file: a.wav, rights: mine, {BRACKETS}}}\n"),
        (
            "  take: {file: a.wav, rights: m, }  # x\n",
            f"  take: {{file: a.wav, rights: m, {BRACKETS}}}  # x\n",
        ),
        ("  take: {file: a.wav, tempo: 100, gain: 2}\n", f"  take: {{file: a.wav, {BRACKETS}, gain: 2}}\n"),
        ("  take: {file: a, marks: {1:1: 9}, tempo: 9}\n", f"  take: {{file: a, {BRACKETS}}}\n"),
        ("  take: {tempo: 9, marks: {1:1: 9}, file: a}\n", f"  take: {{{BRACKETS}, file: a}}\n"),
        ("  take: {file: a, marks: , gain: 1}\n", f"  take: {{file: a, {BRACKETS}, gain: 1}}\n"),
        ("  take: {file: a, marks: {}}\n  b: {}\n", f"  take: {{file: a, {BRACKETS}}}\n  b: {{}}\n"),
        (
            "  take:\n    file: a  # here\n    rights: >\n      my\n      own\n\n",
            f"  take:\n    file: a  # here\n    rights: >\n      my\n      own\n{LINES}\n",
        ),
        (
            "  take:\n    file: a\n    tempo: 100\n    rights: m  # mine\n",
            f"  take:\n    file: a\n{LINES}    rights: m  # mine\n",
        ),
        ("  take:\n    file: a\n    marks:\n    gain: 1\n", f"  take:\n    file: a\n{LINES}    gain: 1\n"),
        (
            "  take:\n    marks: {}  # none\n    file: a\n",
            f"  take:\n{LINES.replace('marks:', 'marks:  # none', 1)}    file: a\n",
        ),
        (
            "  take:\n    marks:  # mine\n      1:1: 9\n      2:1: 10\n    tempo: 80\n    file: a\n",
            f"  take:\n{LINES.replace('marks:', 'marks:  # mine', 1)}    file: a\n",
        ),
        (
            "  take:\n    file: a.wav\n    marks: {1:1: 9.0,\n    1:2: 10.0}\n    gain: 0\n",
            f"  take:\n    file: a.wav\n{LINES}    gain: 0\n",
        ),
        ("  take:\n    marks:\n      {1:1: 9}\n    file: a\n", f"  take:\n{LINES}    file: a\n"),
    ],
)
@pytest.mark.parametrize("after", ["title: x\n", ""])
def test_marks_are_written_as_their_clip_is(clip: str, wanted: str, after: str, tmp_path: Path) -> None:
    script = tmp_path / "a.yaml"
    before = "# clips\nclips:  # all\n"
    script.write_text(before + clip + after, "utf-8")
    write_marks(script, "take", passage("E4|-5-|"), MARKS)
    assert script.read_text("utf-8") == before + wanted + after
    marks = read_yaml(script).data["clips"]["take"]["marks"]
    assert marks == {"1:1": 0.5, "1:2": 1.5}


@pytest.mark.parametrize(
    "clip",
    ["  b: &b {file: a.wav}\n  take: *b\n", "  take: {file: a, marks: &m {1:1: 9}}\n  b: {marks: *m}\n"],
)
def test_marks_that_would_harm_others_are_told_and_nothing_is_written(clip: str, tmp_path: Path) -> None:
    script = tmp_path / "a.yaml"
    text = f"clips:\n{clip}title: x\n"
    script.write_text(text, "utf-8")
    with pytest.raises(Faulty, match="with a key a line and without aliases"):
        write_marks(script, "take", passage("E4|-5-|"), MARKS)
    assert script.read_text("utf-8") == text
