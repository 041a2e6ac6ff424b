"""Rows on paper: each as tall as its own notes need, its staff close over its strings and clear of them."""

from fractions import Fraction

import corpus
import pytest

from pipeline.drawing.bounds import ink
from pipeline.drawing.look import load_look
from pipeline.drawing.picture import Group, Mark, Text
from pipeline.music.fragment import Fragment
from pipeline.music.note import BendPoint
from pipeline.views.pagerows import PageRow, page_rows
from pipeline.views.staff import Staff
from pipeline.views.staff import lay as lay_staff
from pipeline.views.stage import Stage
from pipeline.views.tab import Tab, lay

F = Fraction


def phrase(bent: bool) -> Fragment:
    """Six bars of sixteenths, the last note bent or not."""
    plain = [(F(1, 4), corpus.on(1 + i % 6, 5 + i % 4, stroke="down")) for i in range(95)]
    bend = (BendPoint(F(0), F(0)), BendPoint(F(1, 8), F(2))) if bent else ()
    return corpus.written("phrase", corpus.PLAIN, [*plain, (F(1, 4), corpus.on(1, 8, bend=bend))])


def rows(fragment: Fragment, staff: bool) -> tuple[PageRow, ...]:
    stage = Stage(1800, 15_200, load_look("proof"), F(1), fragment, frame_height=760)
    if staff:
        return page_rows(lay_staff(Staff(cursor=False, panel=False), stage))
    return page_rows(lay(Tab(cursor=False, panel=False), stage))


def texts(mark: Mark) -> list[Text]:
    if isinstance(mark, Text):
        return [mark]
    return [text for one in getattr(mark, "marks", ()) for text in texts(one)]


def inner(mark: Mark) -> Group:
    """The one group in a group."""
    assert isinstance(mark, Group)
    (only,) = mark.marks
    assert isinstance(only, Group)
    return only


def place(mark: Mark) -> float:
    """How far down a group is moved."""
    assert isinstance(mark, Group)
    return mark.transform[5]


@pytest.mark.parametrize("staff", [False, True])
def test_a_row_has_only_the_lanes_that_its_notes_need(staff: bool) -> None:
    plain, bent = rows(phrase(False), staff), rows(phrase(True), staff)
    assert len(plain) == len(bent) > 2
    assert [one.picture.height for one in plain[:-1]] == [one.picture.height for one in bent[:-1]]
    assert bent[-1].picture.height > plain[-1].picture.height + 20


@pytest.mark.parametrize("staff", [False, True])
def test_every_note_stands_in_the_row_of_its_beats(staff: bool) -> None:
    fragment = phrase(True)
    found = []
    for row in rows(fragment, staff):
        names = {text.name for mark in row.picture.marks for text in texts(mark)}
        own = {i for i, note in enumerate(fragment.notes) if row.start <= note.onset < row.end}
        assert {name for name in names if name.startswith("fret ")} == {f"fret {i}" for i in own}
        found += sorted(own)
    assert found == list(range(len(fragment.notes)))


def test_the_staff_stands_close_over_the_strip_and_clear_of_it() -> None:
    for row in rows(phrase(True), staff=True):
        above, *strip = row.picture.marks
        moved = inner(inner(above))
        signs = [ink(Group((mark,), moved.transform)) for mark in moved.marks if mark.name != "bar line"]
        lowest = max(box.bottom for box in signs if box) + place(above)
        boxes = [box for mark in strip if (box := ink(mark))]
        highest = min(box.y for box in boxes)
        assert 0 < highest - lowest < 40
        assert all(box.y >= 0 and box.bottom <= row.picture.height for box in boxes)
