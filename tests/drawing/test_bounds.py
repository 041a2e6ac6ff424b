"""The room that marks take, held against the pixels that are drawn; pictures laid into pictures."""

import pickle

import numpy as np
import pytest

from pipeline.drawing.affine import compose, moved, turned
from pipeline.drawing.bounds import NOTHING, bounds, cut, picture_ink
from pipeline.drawing.outline import circle, line, polyline, rect, smooth
from pipeline.drawing.picture import Box, Colour, Group, Image, Mark, Path, Picture, Pixels, Stroke, Text
from pipeline.drawing.placing import scaled, under
from pipeline.files.raster import rasterise

INK = Colour(255, 255, 255)
MARKS: list[Mark] = [
    Path(circle(50.3, 40.2, 20), INK),
    Path(line(20, 20, 90, 55), stroke=Stroke(INK, 7)),
    Path(rect(Box(30, 30, 40, 20)), INK, Stroke(INK, 5, round_ends=False)),
    Path(smooth([(20, 20), (60, 70), (80, 30), (95, 60)]), stroke=Stroke(INK, 3)),
    Text(60, 50, "Äg7♯", 30, INK, "bold", "middle"),
    Group((Path(circle(0, 0, 15), INK), Text(5, 5, "j", 20, INK)), compose(moved(60, 40), turned(30))),
    Group((Path(circle(60, 40, 30), INK),), clip=Box(50, 20, 15, 25)),
    Image(Box(30, 20, 25, 31), Pixels(1, 1, "one", bytes([255] * 4))),
    Group((Group((Path(rect(Box(0, 0, 9, 9)), INK),), moved(20, 10)),), moved(30, 20)),
]


@pytest.mark.parametrize("mark", MARKS)
def test_bounds_hold_the_ink_and_little_more(mark: Mark) -> None:
    drawn = rasterise(Picture(120, 90, (mark,)))[:, :, 3] > 40
    rows, columns = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    box = bounds(mark)
    found = (columns[0], rows[0], columns[-1] + 1, rows[-1] + 1)
    slack = 2.5 if isinstance(mark, Path) and mark.stroke and len(mark.outline) == 2 else 1.2
    assert (box.x, box.y, box.right, box.bottom) == pytest.approx(found, abs=slack)


@pytest.mark.parametrize(
    "mark",
    [Path(()), Path(line(0, 0, 9, 9)), Text(0, 0, "  ", 9, INK), Group(()), Group((Text(0, 0, "", 9, INK),))],
)
def test_nothing_drawn_takes_no_room(mark: Mark) -> None:
    assert bounds(mark) == NOTHING
    assert picture_ink(Picture(9, 9, (mark,))) is None


def test_a_picture_takes_what_its_marks_take() -> None:
    picture = Picture(200, 90, (MARKS[0], Path(line(150, 10, 160, 10), stroke=Stroke(INK, 2))))
    box = picture_ink(picture)
    assert box is not None
    assert (box.y, box.right) == pytest.approx((9, 161))


def test_cutting_boxes() -> None:
    assert cut(Box(0, 0, 10, 10), Box(5, 5, 10, 10)) == Box(5, 5, 5, 5)
    assert cut(Box(0, 0, 10, 10), Box(10, 0, 5, 5)) is None


def test_a_mark_under_a_transform_keeps_its_marks_and_moves_its_clip() -> None:
    group = Group((MARKS[0],), moved(1, 2), 0.5, Box(3, 4, 5, 6), "disc")
    made = under(group, moved(10, 20))
    assert made.marks is group.marks
    assert (made.transform, made.opacity, made.clip) == (moved(11, 22), 0.5, Box(13, 24, 5, 6))
    assert under(MARKS[4], moved(1, 1)).marks == (MARKS[4],)
    assert bounds(made) == bounds(Group((group,), moved(10, 20)))


def test_scaling_keeps_layers_and_moves_clips() -> None:
    picture = Picture(40, 30, (Group((Path(rect(Box(0, 0, 40, 30)), INK),), clip=Box(5, 5, 10, 10)),))
    twice = scaled(picture, 2)
    assert (twice.width, twice.height) == (80, 60)
    assert rasterise(twice)[:, :, 3].sum() == 255 * 20 * 20


def test_groups_compare_by_what_they_hold() -> None:
    made = [Group((Path(polyline([(0, 0), (5, 5)]), INK),), moved(1, 2), name="a") for _ in range(2)]
    assert made[0] == made[1]
    assert hash(made[0]) == hash(made[1])
    assert made[0] != made[0].moved(1, 0)
    assert hash(made[0]) != hash(made[0].moved(1, 0))
    assert made[0] != "a"
    assert made[0].moved(2, 3).transform == (1, 0, 0, 1, 3, 5)


def test_a_group_leaves_its_hash_behind_in_another_process() -> None:
    group = Group((Text(0, 0, "a", 9, INK),))
    assert hash(group)
    assert "_hash" not in group.__getstate__()
    assert pickle.loads(pickle.dumps(group)) == group


def test_colours() -> None:
    assert Colour.parse("#20252b") == Colour(32, 37, 43)
    assert Colour.parse("20252b80").alpha == 128
    assert Colour(1, 2, 3).hex == "#010203"
    assert Colour(1, 2, 3, 200).with_alpha(0.5).alpha == 100
    for wrong in ("#123", "red", "#gg0000"):
        with pytest.raises(ValueError, match=r"hex|colour"):
            Colour.parse(wrong)


def test_boxes() -> None:
    box = Box(1, 2, 10, 20)
    assert box.inset(2) == Box(3, 4, 6, 16)
    assert box.centre == (6, 12)
    assert box.meets(Box(10, 20, 5, 5))
    assert not box.meets(Box(11, 2, 5, 5))
    assert box.union(Box(0, 0, 1, 1)) == Box(0, 0, 11, 22)
