"""Printed pages: blocks of words, tables and pictures set by typst from a template.

A page set is plain data, so the same data gives the same bytes. Pictures go in as SVG with real text; fonts
are the ones that come with the program and no other. The PDF is tagged, titled, has bookmarks from its
headings and alternative text on its pictures; it carries the marks of PDF/UA-1, which no validator at hand
can certify.
"""

import json
import re
import tempfile
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from pipeline.drawing.picture import Picture
from pipeline.drawing.templates import templates_folder
from pipeline.drawing.typeface import font_file
from pipeline.errors import Place, faulty
from pipeline.files.place import placed
from pipeline.files.svg import write_svg

UNDRAWN = re.compile(r'the text `"(.+)"` could not be displayed')
"""How typst refuses a text that would be printed as empty boxes."""

Paper = Literal["a4", "letter"]


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 starts a lesson, level 2 a section, level 3 a part of one."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Words:
    """A paragraph; `small` for credits and notes."""

    text: str
    small: bool = False


@dataclass(frozen=True)
class Points:
    """A list, numbered where `numbered`."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True)
class Figure:
    """A picture over the given share of the text width, with alternative text and perhaps a caption."""

    picture: Picture
    alt: str
    caption: str = ""
    share: float = 1.0
    tied: bool = False
    """Whether no page breaks between it and what follows."""


@dataclass(frozen=True)
class Row:
    """Figures side by side, in a row that has room for `across`."""

    figures: tuple[Figure, ...]
    across: int = 2
    tied: bool = False
    """Whether no page breaks between it and what follows."""


@dataclass(frozen=True)
class Table:
    """A table; `wide` is the index of the column that takes the room left over."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    wide: int = -1


@dataclass(frozen=True)
class Facts:
    """Short facts about the music that follows, each with its name: tuning, tempo, meter."""

    items: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Caution:
    """A framed caution."""

    title: str
    items: tuple[str, ...]


Block = Heading | Words | Points | Figure | Row | Table | Facts | Caution


@dataclass(frozen=True)
class Lesson:
    """One lesson on paper: its title, a line under it, facts beside it, its blocks."""

    title: str
    subtitle: str
    facts: tuple[tuple[str, str], ...]
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Pages:
    """A document: one lesson or a book of them (then with a cover line and a table of contents)."""

    title: str
    author: str
    language: str
    lessons: tuple[Lesson, ...]
    paper: Paper = "a4"
    book: bool = False


def write_pages(path: Path, pages: Pages) -> None:
    """Write the PDF at `path`, whole or not at all."""
    with placed(path) as draft:
        draft.write_bytes(pdf_bytes(pages))


def pdf_bytes(pages: Pages) -> bytes:
    """The PDF's bytes; the same for the same pages."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        data = _Figures(root).plain(pages)
        (root / "pages.json").write_text(json.dumps(data, ensure_ascii=False), "utf-8")
        template = (templates_folder() / "handouts" / "handout.typ").read_text("utf-8")
        (root / "pages.typ").write_text(template, "utf-8")
        return _compile(root)


def _compile(root: Path) -> bytes:
    import typst

    try:
        made = typst.compile(
            str(root / "pages.typ"),
            root=str(root),
            font_paths=_fonts(),
            format="pdf",
            timestamp=0,
            pdf_standards=["ua-1"],
        )
    except typst.TypstError as failure:
        if (unknown := UNDRAWN.search(str(failure))) is None:
            raise
        wrong = f"the typeface has no sign {unknown[1]}"
        raise faulty(Place("handout"), wrong, "write the titles, words and credits without it") from None
    assert isinstance(made, bytes)
    return made


@lru_cache(maxsize=1)
def _fonts() -> Any:
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[str(font_file("regular").parent)])


class _Figures:
    """Turns pages into JSON-like data, laying each picture down as an SVG file beside it."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.count = 0

    def plain(self, pages: Pages) -> dict[str, object]:
        lessons = [
            {
                "title": lesson.title,
                "subtitle": lesson.subtitle,
                "facts": [list(fact) for fact in lesson.facts],
                "blocks": self.blocks(lesson.blocks),
            }
            for lesson in pages.lessons
        ]
        return {
            "title": pages.title,
            "author": pages.author,
            "language": pages.language,
            "paper": {"a4": "a4", "letter": "us-letter"}[pages.paper],
            "book": pages.book,
            "lessons": lessons,
        }

    def blocks(self, blocks: Sequence[Block]) -> list[dict[str, object]]:
        return [self.block(block) for block in blocks]

    def block(self, block: Block) -> dict[str, object]:
        kind = type(block).__name__.lower()
        if isinstance(block, Figure):
            return {"kind": kind, "tied": block.tied, **self.figure(block)}
        if isinstance(block, Row):
            figures = [self.figure(figure) for figure in block.figures]
            return {"kind": kind, "figures": figures, "across": block.across, "tied": block.tied}
        return {"kind": kind, **asdict(block)}

    def figure(self, figure: Figure) -> dict[str, object]:
        self.count += 1
        name = f"figure{self.count}.svg"
        (self.root / name).write_text(write_svg(figure.picture, text="text"), "utf-8")
        return {"file": name, "alt": figure.alt, "caption": figure.caption, "share": figure.share}
