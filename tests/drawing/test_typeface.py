"""Type: widths against the font's own tables read another way, and no character without a sign."""

import pytest
from fontTools.ttLib import TTFont
from PIL import ImageFont, features

from pipeline.drawing.accidentals import SIGNS
from pipeline.drawing.outline import outline_box
from pipeline.drawing.picture import Colour, Text
from pipeline.drawing.typeface import (
    FACES,
    STYLES,
    cap_height,
    font_file,
    missing_characters,
    placed_glyphs,
    printable,
    size_for_caps,
    text_outline,
    text_width,
    typeface,
    x_height,
)

INK = Colour(0, 0, 0)


def text(words: str, face: str = "regular", size: float = 100, **more: object) -> Text:
    return Text(0, 0, words, size, INK, face, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("face", FACES)
def test_digits_are_equally_wide(face: str) -> None:
    assert len({round(text_width(digit, face, 100), 9) for digit in "0123456789"}) == 1
    assert text_width("1074", face, 100) == pytest.approx(4 * text_width("0", face, 100))


@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize(
    "words", ["Vale To", "AVATAR", "The hand shifts", "r.", "“Yes”, f!", "11:07", "LT", "offthe"]
)
@pytest.mark.skipif(not features.check("raqm"), reason="this Pillow was built without HarfBuzz")
def test_widths_agree_with_harfbuzz(face: str, words: str) -> None:
    """Pillow's complex layout shapes with HarfBuzz, which reads the font's kerning by itself."""
    font = ImageFont.truetype(str(font_file(face)), 1000, layout_engine=ImageFont.Layout.RAQM)
    assert text_width(words, face, 1000) == pytest.approx(font.getlength(words), abs=0.5)


@pytest.mark.parametrize(("left", "right"), [("A", "V"), ("T", "o"), ("V", "a"), ("r", ".")])
def test_open_pairs_stand_closer(left: str, right: str) -> None:
    assert typeface("regular").kern(left, right) < 0


def test_letters_that_the_font_joins_are_one_cluster() -> None:
    assert typeface("bold").clusters("off shaft fftt") == [*"o", "ff", *" sha", "ft", " ", "fft", "t"]
    assert typeface("bold").glyph("ft").outline != typeface("bold").glyph("f").outline
    assert typeface("bold").in_font("ft")


def test_pairs_that_need_no_kerning_have_none() -> None:
    assert typeface("regular").kern("H", "H") == 0
    assert typeface("regular").kern("♯", "V") == 0


@pytest.mark.parametrize("face", FACES)
def test_heights_are_those_of_the_letters(face: str) -> None:
    capital = outline_box(text_outline(text("H", face)))
    small = outline_box(text_outline(text("x", face)))
    assert capital is not None
    assert small is not None
    assert capital.y == pytest.approx(-cap_height(face, 100), abs=1)
    assert small.height == pytest.approx(x_height(face, 100), abs=1.5)
    assert cap_height(face, size_for_caps(face, 37)) == pytest.approx(37)
    assert typeface(face).ascent > typeface(face).cap_height > typeface(face).x_height > 0
    assert typeface(face).descent > 0


def test_anchors() -> None:
    width = text_width("Shift", "bold", 100)
    starts = {a: placed_glyphs(text("Shift", "bold", anchor=a))[0][1] for a in ("start", "middle", "end")}
    assert starts == {"start": 0, "middle": pytest.approx(-width / 2), "end": pytest.approx(-width)}


@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("sign", SIGNS)
def test_accidentals_are_drawn_since_the_font_lacks_them(face: str, sign: str) -> None:
    assert ord(sign) not in TTFont(font_file(face)).getBestCmap()
    box = outline_box(text_outline(text(sign, face)))
    assert box is not None
    assert 20 < box.width < text_width(sign, face, 100) < (90 if sign == "𝄫" else 60)
    assert -80 < box.y < -20
    assert box.bottom < 15


def test_heavier_faces_have_heavier_accidentals() -> None:
    boxes = [outline_box(text_outline(text("♮", face))) for face in ("light", "regular", "bold", "black")]
    assert all(box is not None for box in boxes)
    stems = [text_outline(text("♯", face)) for face in ("light", "regular", "bold", "black")]
    widths = [outline[1][1][0] - outline[0][1][0] for outline in stems]
    assert widths == sorted(widths)
    assert widths[0] > 0


def test_a_character_the_face_lacks_comes_from_the_regular_one() -> None:
    assert not typeface("italic").in_font("ж")
    assert typeface("italic").glyph("ж") == typeface("regular").glyph("ж")


def test_a_character_nobody_has_is_reported_and_drawn_as_a_question_mark() -> None:
    assert missing_characters("日本 F♯ é") == "日本"
    assert typeface("bold").glyph("日").outline == typeface("regular").glyph("?").outline
    assert missing_characters("Größe ½ × — “ok” → ♭♮") == ""


def test_controls_never_reach_a_glyph() -> None:
    assert printable("a\x00b\tc\nd\u200be\ufeff") == "ab c de"
    assert printable("e\u0301") == "é"


def test_an_empty_text_has_no_outline() -> None:
    assert text_outline(text("")) == ()
    assert text_width("", "regular", 10) == 0


def test_styles_cover_every_face() -> None:
    assert set(STYLES) == set(FACES)
    with pytest.raises(KeyError):
        font_file("comic")
