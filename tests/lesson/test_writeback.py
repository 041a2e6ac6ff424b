"""Writing back: the one block changes, and not a byte, a permission or a link beside it."""

from fractions import Fraction
from pathlib import Path

import pytest

from pipeline.errors import Faulty, Place
from pipeline.lesson.writeback import write_fragment, write_marks
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.tabtext import read_tab

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


@pytest.mark.parametrize(
    "clip",
    [
        "  take: {file: a.wav, marks: {1:1: 9.0}, gain: 0}\n",
        "  take:\n    file: a.wav\n    marks: {1:1: 9.0,\n    1:2: 10.0}\n    gain: 0\n",
    ],
)
def test_marks_that_cannot_be_replaced_alone_are_told_and_nothing_is_written(
    clip: str, tmp_path: Path
) -> None:
    script = tmp_path / "a.yaml"
    text = f"clips:\n{clip}title: x\n"
    script.write_text(text, "utf-8")
    with pytest.raises(Faulty, match="on a line of its own"):
        write_marks(script, "take", passage("E4|-5-|"), MARKS)
    assert script.read_text("utf-8") == text
