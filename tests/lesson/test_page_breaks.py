"""Where pages break: no row of music, of necks or of signs is left alone where it could have company.

That a page should not hold one line of what goes on elsewhere is common practice of setting type, no source.
"""

import io
from typing import Any

import pytest
from pypdf import PdfReader

from pipeline.drawing.picture import Colour, Picture, Text
from pipeline.files.pages import Figure, Heading, Lesson, Pages, Points, Row, Words, pdf_bytes
from pipeline.lesson.page_breaks import columns, in_rows, tied


def named(name: str, height: float, **others: Any) -> Figure:
    """A figure that says its name once, so many tenths of its width tall."""
    mark = Text(10.0, 20.0, name, 20.0, Colour(0, 0, 0))
    return Figure(Picture(100.0, height, (mark,)), name, **others)


def on_pages(*blocks: Any, paper: Any = "a4") -> list[list[str]]:
    """The names of the figures on every page."""
    pages = Pages("Title", "Author", "en", (Lesson("Title", "", (), blocks),), paper)
    read = PdfReader(io.BytesIO(pdf_bytes(pages)))
    return [[word for word in page.extract_text().split() if word[0] == "r"] for page in read.pages]


def music(count: int) -> list[Figure]:
    """Rows of music of which three stand on a first page."""
    ties = tied(count, 2)
    return [named(f"r{row}", 40.0, tied=ties[row]) for row in range(count)]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("count", range(1, 10))
def test_no_page_ends_a_passage_with_one_row(paper: Any, count: int) -> None:
    pages = on_pages(Heading("The passage"), *music(count), paper=paper)
    assert [name for page in pages for name in page] == [f"r{row}" for row in range(count)]
    assert count == 1 or len(pages[-1]) > 1
    assert len(pages[0]) > 1 or count < 4


def test_as_many_rows_as_fit_stand_on_a_page() -> None:
    assert [len(page) for page in on_pages(*music(5))] == [3, 2]
    assert [len(page) for page in on_pages(*music(4))] == [2, 2]


def test_a_few_rows_of_signs_stay_together_under_their_heading() -> None:
    rows = in_rows([named(f"r{sign}", 100.0) for sign in range(11)], 4)
    ties = tied(len(rows), 3)
    signs = [Row(row, 4, together) for row, together in zip(rows, ties, strict=True)]
    before, after = on_pages(*music(2), Heading("s"), *signs)
    assert (len(before), len(after)) == (2, 11)


@pytest.mark.parametrize("count", range(1, 31))
def test_figures_share_rows(count: int) -> None:
    figures = [named(f"r{one}", 50.0) for one in range(count)]
    across = columns(count, 5, 4)
    rows = in_rows(figures, across)
    assert [one for row in rows for one in row] == figures
    assert len(rows) == -(-count // across)
    assert all(1 <= len(row) <= across for row in rows)
    assert count == 1 or len(rows[-1]) > 1


def test_eleven_signs_stand_in_three_full_rows() -> None:
    assert columns(11, 5, 4) == 4
    assert [len(row) for row in in_rows([named("r", 1.0)] * 11, 4)] == [4, 4, 3]
    assert [len(row) for row in in_rows([named("r", 1.0)] * 21, 5)] == [5, 5, 5, 4, 2]


@pytest.mark.parametrize("filled", range(120, 144, 2))
def test_words_that_lead_to_a_list_or_close_it_stay_with_it(filled: int) -> None:
    """A page filled so far that the list begins near its end."""
    items = Points(tuple(f"ritem{number}" for number in range(4)))
    pages = on_pages(named("r0", filled), Words("rlead"), items, Words("rend", small=True))
    at = {name: number for number, page in enumerate(pages) for name in page}
    assert at["rlead"] == at["ritem0"]
    assert at["rend"] == at["ritem3"]
