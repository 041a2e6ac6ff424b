"""SVG: well formed, valid, deterministic, and words that cannot break out."""

import base64
import io
import re

import pytest
from lxml import etree
from svgwrite.validator2 import get_validator

from pipeline.drawing.affine import moved
from pipeline.drawing.outline import circle, line, rect
from pipeline.drawing.picture import Box, Colour, Group, Image, Mark, Path, Picture, Pixels, Stroke, Text
from pipeline.files.fonts import subset, used
from pipeline.files.svg import Words, number, write_svg

INK, RED = Colour(20, 20, 20), Colour(255, 0, 0, 128)
NAMES = {"s": "http://www.w3.org/2000/svg", "x": "http://www.w3.org/1999/xlink"}
SPOKEN = Text(10, 10, "Take the F♯ slowly", 12, INK, "italic", "end")
MARKS: tuple[Mark, ...] = (
    Path(rect(Box(1, 2, 30, 20)), RED, Stroke(INK, 1.5, False, (4.0, 2.0))),
    Path(line(0, 0, 5, 5), stroke=Stroke(RED, 2.0)),
    Path(circle(20, 20, 5)),
    Path((), INK),
    Group(
        (Text(10, 10, "Take the F♯ slowly", 12, INK, "italic", "end"),), moved(3, 4), 0.5, Box(0, 0, 50, 20)
    ),
    Image(Box(4, 5, 6, 7), Pixels(2, 1, "two", bytes(8))),
)
PICTURE = Picture(120, 80.5, MARKS, Colour(255, 255, 255))


def parsed(picture: Picture, text: Words = "text", title: str = "") -> etree._Element:
    return etree.fromstring(write_svg(picture, text=text, title=title).encode())


def find(root: etree._Element, what: str) -> list[etree._Element]:
    found = root.xpath(what, namespaces=NAMES)
    assert isinstance(found, list)
    return found


@pytest.mark.parametrize("text", ["text", "embedded", "outline"])
def test_well_formed_and_valid(text: Words) -> None:
    """Elements and attributes are those of SVG 1.1 full, by the table of the svgwrite package."""
    validator = get_validator("full", debug=True)
    for element in parsed(PICTURE, text).iter():
        name = etree.QName(element).localname
        for attribute, value in element.attrib.items():
            plain = str(attribute).replace(f"{{{NAMES['x']}}}", "xlink:")
            plain = plain.replace("{http://www.w3.org/XML/1998/namespace}", "xml:")
            validator.check_svg_attribute_value(name, plain, value)
        for child in element:
            validator.check_valid_children(name, etree.QName(child).localname)


def test_the_same_bytes_every_time() -> None:
    again = Picture(120, 80.5, tuple(MARKS), Colour(255, 255, 255))
    assert write_svg(PICTURE, text="embedded") == write_svg(again, text="embedded")


def test_size_and_ground() -> None:
    root = parsed(PICTURE)
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("120", "80.5", "0 0 120 80.5")
    assert find(root, "s:rect")[0].get("fill") == "#ffffff"


def test_words_stay_words_and_missing_signs_are_drawn() -> None:
    root = parsed(PICTURE)
    assert [element.text for element in find(root, "//s:text")] == ["Take the F", " slowly"]
    assert len(find(root, "//s:g/s:path")) == 1
    assert {element.get("font-style") for element in find(root, "//s:text")} == {"italic"}


def test_words_as_outlines() -> None:
    root = parsed(PICTURE, "outline")
    assert not find(root, "//s:text")
    assert len(find(root, "//s:g/s:path")) == 1


def test_anchored_words_start_where_we_measured() -> None:
    ends = parsed(Picture(50, 20, (Text(40, 10, "777", 10, INK, anchor="end"),)))
    assert float(str(find(ends, "//s:text")[0].get("x"))) == pytest.approx(40 - 3 * 4.97, abs=1e-3)


def test_a_clip_is_not_moved_by_its_group() -> None:
    root = parsed(PICTURE)
    outer = find(root, "//s:g[@clip-path]")[0]
    assert outer.get("transform") is None
    assert outer[0].get("transform") == "matrix(1 0 0 1 3 4)"
    assert outer[0].get("opacity") == "0.5"
    assert find(root, "//s:clipPath/s:rect")[0].get("width") == "50"


def test_colours_lines_and_dashes() -> None:
    path = find(parsed(PICTURE), "s:path")[0]
    assert path.get("fill") == "#ff0000"
    assert path.get("fill-opacity") == "0.502"
    assert path.get("stroke-dasharray") == "4 2"
    assert path.get("stroke-linecap") == "butt"
    assert find(parsed(PICTURE), "s:path")[2].get("fill") == "none"


def test_images_are_carried_along() -> None:
    image = find(parsed(PICTURE), "//s:image")[0]
    address = str(image.get(f"{{{NAMES['x']}}}href"))
    assert base64.b64decode(address.removeprefix("data:image/png;base64,")).startswith(b"\x89PNG")


@pytest.mark.parametrize(
    "words", ["<script>alert(1)</script>", "a & b ]]> <!-- --", '"x" onload="y"', "\x00\x07\x1b\ufffe ok"]
)
def test_words_cannot_break_out(words: str) -> None:
    for text in ("text", "embedded", "outline"):
        root = parsed(Picture(50, 20, (Text(5, 10, words, 10, INK),)), text, words)
        assert {etree.QName(element).localname for element in root.iter()} <= {
            "svg", "title", "defs", "style", "text", "path",
        }  # fmt: skip


def test_an_alternative_text() -> None:
    assert find(parsed(PICTURE, title="Bars 1 & 2"), "s:title")[0].text == "Bars 1 & 2"


def test_the_embedded_font_holds_the_used_characters_only() -> None:
    from fontTools.ttLib import TTFont

    assert used(MARKS)["italic"] == "".join(sorted(set("Take the F♯ slowly")))
    font = TTFont(io.BytesIO(subset("bold", "137")))
    assert sorted(font.getBestCmap()) == [ord(c) for c in "137"]
    assert subset.__wrapped__("bold", "137") == subset("bold", "137")
    assert re.search(r"font-weight: 400; font-style: italic", write_svg(PICTURE, text="embedded"))


@pytest.mark.parametrize(
    ("value", "text"), [(1.0, "1"), (-0.0001, "0"), (0.1236, "0.124"), (100.0, "100"), (-2.5, "-2.5")]
)
def test_numbers_are_short(value: float, text: str) -> None:
    assert number(value) == text


def test_nothing_is_still_a_document() -> None:
    assert len(parsed(Picture(10, 10, ()))) == 1
