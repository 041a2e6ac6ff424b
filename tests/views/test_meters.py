"""Meters as they are drawn: of several digits and in groups, on the staff and on the tab."""

from fractions import Fraction
from itertools import pairwise
from typing import Any

import corpus
import pytest

from pipeline.drawing.outline import outline_box
from pipeline.drawing.picture import Box, Group, Path, Text
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.meter import read_meter
from pipeline.music.passage import cut
from pipeline.music.tabtext import read_tab
from pipeline.views.notevalues import beam_edges, rhythms
from pipeline.views.staff import Staff
from pipeline.views.tab import Tab

METERS = {"12/8": 12, "(2+2+3)/8": 7, "(3+2)/4": 5}


def fragment(meter: str) -> Fragment:
    notes = "-".join("5" * METERS[meter])
    return read_tab("odd", f"A2 |-{notes}-|", Guitar(), lambda row, column: corpus_place(), read_meter(meter))


def corpus_place() -> Any:
    raise AssertionError("the text has a fault")


def named(marks: Any, name: str) -> list[Any]:
    """Marks whose name begins so, in groups and out of them."""
    found = []
    for mark in marks:
        if isinstance(mark, Group):
            found += named(mark.marks, name)
        elif mark.name.startswith(name):
            found.append(mark)
    return found


def boxes(view: Any, meter: str) -> list[Box]:
    stage = corpus.stage_of(fragment(meter), 1728, 480)
    paths = [mark for mark in named(view.picture(stage, 0.0).marks, "meter") if isinstance(mark, Path)]
    return [box for path in paths if (box := outline_box(path.outline)) is not None]


@pytest.mark.parametrize("meter", METERS)
def test_the_staff_has_the_digits_of_a_meter_beside_each_other_over_the_unit(meter: str) -> None:
    found = boxes(Staff(), meter)
    shown = meter.replace("(", "").replace(")", "").partition("/")
    assert len(found) == len(shown[0]) + len(shown[2])
    unit = max(found, key=lambda box: box.y)
    over = sorted((box for box in found if box is not unit), key=lambda box: box.x)
    assert all(left.x + left.width <= right.x + 2 for left, right in pairwise(over))
    middle = (over[0].x + over[-1].x + over[-1].width) / 2
    assert abs(unit.x + unit.width / 2 - middle) < unit.width / 4
    assert all(box.y + box.height <= unit.y + unit.height / 4 for box in over)


@pytest.mark.parametrize("meter", METERS)
def test_the_tab_has_the_groups_over_the_unit(meter: str) -> None:
    stage = corpus.stage_of(fragment(meter), 1728, 480)
    words = [mark.text for mark in named(Tab().picture(stage, 0.0).marks, "meter") if isinstance(mark, Text)]
    over, _, unit = meter.replace("(", "").replace(")", "").partition("/")
    assert words == [over, unit]


@pytest.mark.parametrize(
    ("meter", "expected"),
    [("(2+2+3)/8", [0, 1, 2, "7/2"]), ("(3+2)/4", [0, 3, 5]), ("12/8", [0, "3/2", 3, "9/2", 6])],
)
def test_a_bar_is_cut_at_its_groups(meter: str, expected: list[Any]) -> None:
    assert beam_edges(fragment(meter).measures[0]) == [Fraction(edge) for edge in expected]


@pytest.mark.parametrize("last", [0, 1])
def test_a_part_with_nothing_but_a_grace_note_has_a_rhythm(last: int) -> None:
    whole = read_tab("grace", "E4 |-g5-7-8-|", Guitar(), lambda row, column: corpus_place())
    assert len(rhythms(cut(whole, 0, last))) == 1
