"""Writing back: the one block changes, and not a byte, a permission or a link beside it."""

from fractions import Fraction
from pathlib import Path

import pytest

from pipeline.errors import Faulty, Place
from pipeline.lesson.writeback import write_fragment, write_marks
from pipeline.music.fragment import ClueMark, Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.tabtext import read_tab
from pipeline.source import read_yaml

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
