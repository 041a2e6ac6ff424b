"""Names of rivals over their necks: whole where there is room, never without what tells them apart."""

from fractions import Fraction

import pytest

from pipeline.drawing.look import load_look
from pipeline.drawing.typeface import text_width
from pipeline.views.rivalnames import FACE, name_lines
from pipeline.views.stage import Stage

NAMES = ("positions 8 to 13, note 2 on string 5", "positions 8 to 13, note 2 on string 6")
STAGE = Stage(1920, 1080, load_look("dusk"), Fraction(1))


def test_a_name_is_whole_in_one_line_or_broken_at_its_comma() -> None:
    assert name_lines(STAGE, NAMES[0], 900.0) == (NAMES[0],)
    assert name_lines(STAGE, NAMES[0], 500.0) == ("positions 8 to 13", "note 2 on string 5")
    assert name_lines(STAGE, "written", 500.0) == ("written",)


@pytest.mark.parametrize("width", range(150, 1000, 25))
def test_rivals_have_different_names_in_any_room_and_stay_in_it(width: int) -> None:
    lines = [name_lines(STAGE, name, float(width)) for name in NAMES]
    assert lines[0] != lines[1]
    assert all(text_width(words, FACE, 36.0) <= width for some in lines for words in some)
