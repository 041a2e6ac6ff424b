"""Pages: what typst is given is text and never code, and what cannot be printed is told."""

import io

import pytest
from pypdf import PdfReader

from pipeline.errors import Faulty
from pipeline.files.pages import Heading, Lesson, Pages, Points, Table, Words, pdf_bytes

CODE = '#read("/etc/passwd") $x$ *b* _i_ @ref <lab> `c` // /* #{1 + 1} \\\\ "q"'


def pages(text: str) -> Pages:
    blocks = (Heading(text), Words(text), Points((text,)), Table((text,), ((text,),)))
    return Pages(text, text, "en", (Lesson(text, text, ((text, text),), blocks),))


def test_words_are_printed_as_they_stand_whatever_they_would_mean_to_typst() -> None:
    made = pdf_bytes(pages(CODE))
    assert made == pdf_bytes(pages(CODE))
    read = PdfReader(io.BytesIO(made))
    printed = "".join(page.extract_text() for page in read.pages)
    assert "".join(CODE.split()) in "".join(printed.split())
    assert "root:" not in printed
    assert read.metadata is not None
    assert read.metadata.title == CODE


def test_a_sign_that_no_typeface_has_is_told() -> None:
    with pytest.raises(Faulty, match="the typeface has no sign \u05e9; write"):
        pdf_bytes(pages("a \u05e9 b"))
