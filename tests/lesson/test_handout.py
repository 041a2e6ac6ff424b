"""Handouts as PDF: what a page must carry, read back by programs that are not ours.

The necessary signs of a tagged PDF are those of ISO 14289-1 (PDF/UA-1), read from the file by pikepdf. They
are not a certificate: no validator of that standard is at hand.
"""

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pipeline.files.pages import Heading, pdf_bytes
from pipeline.lesson.handout import pages_of
from pipeline.lesson.paper import HandoutKeys, papers_of
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.signs import SIGNS, sign_picture, signs_of
from pipeline.sound.practice import CAUTIONS

SCENES = Path(__file__).resolve().parents[2] / "scenes"
KESTREL = SCENES / "kestrel" / "kestrel.yaml"


@pytest.fixture(scope="module")
def lessons() -> Any:
    return [read_lesson(KESTREL), read_lesson(SCENES / "views" / "tab.yaml")]


@pytest.fixture(scope="module")
def handout(lessons: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The handout of an example that states no parts, so that it holds the usual ones."""
    path = tmp_path_factory.mktemp("pdf") / "handout.pdf"
    path.write_bytes(pdf_bytes(pages_of(lessons[1:], "a4")))
    return path


def said_by(program: str, *arguments: object) -> str:
    """What a program of the system says of a file; the test is skipped where it is not installed."""
    if shutil.which(program) is None:
        pytest.skip(f"{program} is not on this machine")
    return subprocess.run([program, *map(str, arguments)], capture_output=True, text=True, check=True).stdout


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.276, 841.890)), ("letter", (612, 792))])
def test_paper_sizes(lessons: Any, tmp_path: Path, paper: Any, size: tuple[float, float]) -> None:
    """ISO 216 A4 is 210 by 297 mm, ANSI A is 8.5 by 11 inches; a point is 1/72 inch."""
    path = tmp_path / "sized.pdf"
    path.write_bytes(pdf_bytes(pages_of(lessons[1:], paper)))
    found = re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", said_by("pdfinfo", path))
    assert found
    assert [float(found[1]), float(found[2])] == pytest.approx(size, abs=0.5)


def test_every_font_is_embedded_and_can_be_searched(handout: Path) -> None:
    rows = said_by("pdffonts", handout).splitlines()[2:]
    assert rows
    for row in rows:
        assert row.split()[-5:-2] == ["yes", "yes", "yes"], row
        assert "Type 3" not in row


def test_text_is_text(handout: Path) -> None:
    words = " ".join(said_by("pdftotext", handout, "-").split())
    for needed in ("Orla Vanterpool", "E A D G B E", "Practice plan", "The signs", "Hammer-on", *CAUTIONS):
        assert needed in words


def test_the_file_is_sound(handout: Path) -> None:
    assert "No syntax or stream encoding errors found" in said_by("qpdf", "--check", handout)


def test_marks_of_an_accessible_file(handout: Path, lessons: Any) -> None:
    pikepdf = pytest.importorskip("pikepdf")
    with pikepdf.open(handout) as file:
        root = file.Root
        assert root.MarkInfo.Marked
        assert "/StructTreeRoot" in root
        assert str(root.Lang) == "en"
        assert root.ViewerPreferences.DisplayDocTitle
        with file.open_metadata() as told:
            assert told["pdfuaid:part"] == "1"
            assert told["dc:title"] == lessons[1].title
        with file.open_outline() as outline:
            assert [entry.title for entry in outline.root] == [lessons[1].title]
        figures = [element for element in elements(root.StructTreeRoot) if element.get("/S") == "/Figure"]
        assert figures
        assert all(str(figure.Alt).strip() for figure in figures)


def elements(node: Any) -> Any:
    """Every element of a structure tree that is a dictionary."""
    for kid in kids(node):
        yield kid
        yield from elements(kid)


def kids(node: Any) -> list[Any]:
    pikepdf = pytest.importorskip("pikepdf")
    found = node.get("/K", [])
    several = found if isinstance(found, pikepdf.Array) else [found]
    return [kid for kid in several if isinstance(kid, pikepdf.Dictionary) and kid.get("/Type") != "/OBJR"]


def test_the_same_lesson_gives_the_same_bytes(handout: Path, lessons: Any) -> None:
    assert pdf_bytes(pages_of(lessons[1:], "a4")) == handout.read_bytes()


def test_a_book_has_a_table_of_contents(lessons: Any, tmp_path: Path) -> None:
    path = tmp_path / "book.pdf"
    path.write_bytes(pdf_bytes(pages_of(lessons, "a4", "Two Lessons")))
    second = said_by("pdftotext", "-f", 2, "-l", 2, "-layout", path, "-")
    assert "Contents" in second
    for lesson in lessons:
        assert re.search(rf"{re.escape(lesson.title)}\W+\d+", second), second


@pytest.mark.parametrize("kind", ["positions", "practice", "signs", "cautions"])
def test_a_handout_may_begin_with_any_part(lessons: Any, kind: str) -> None:
    """PDF/UA-1 (ISO 14289-1, 7.4.2) lets no level of headings be skipped, and typst holds us to it."""
    named = {} if kind in ("signs", "cautions") else {"fragment": lessons[1].fragments[0][0]}
    fragment = {"part": "fragment", "fragment": lessons[1].fragments[0][0]}
    keys = HandoutKeys.model_validate({"parts": ({"part": kind, **named}, fragment, {"part": "signs"})})
    pages = pages_of([replace(lessons[1], handout=keys)], "a4")
    levels = [block.level for block in pages.lessons[0].blocks if isinstance(block, Heading)]
    assert levels[:3] == [2, 2, 3]
    assert pdf_bytes(pages).startswith(b"%PDF")


def test_papers_are_those_of_the_script(lessons: Any) -> None:
    assert papers_of(lessons[1].handout) == ("a4", "letter")


def test_only_signs_that_occur_are_explained(lessons: Any) -> None:
    named = {sign.name for sign in signs_of(one for _, one in lessons[1].fragments)}
    assert named == {"Downstroke", "Upstroke", "Hammer-on", "Pull-off", "Vibrato"}


@pytest.mark.parametrize("sign", SIGNS, ids=lambda sign: sign.name)
def test_every_sign_bears_what_it_explains_and_is_drawn(sign: Any) -> None:
    from pipeline.lesson.signs import example

    fragment = example(sign)
    assert sign in signs_of([fragment])
    names = {name for mark in sign_picture(sign).marks for name in names_in(mark)}
    assert any(name.startswith("fret") for name in names)
    assert not any(name.startswith("meter") for name in names), "cut off, and yet found as text"


def names_in(mark: Any) -> Any:
    yield mark.name
    for inner in getattr(mark, "marks", ()):
        yield from names_in(inner)
