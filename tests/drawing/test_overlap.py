"""Collisions: what touches in ink is found, what only shares a box is not."""

import math

import pytest

from pipeline.drawing.affine import moved, scaled
from pipeline.drawing.outline import circle, line, rect, slur
from pipeline.drawing.overlap import Leaf, overlaps
from pipeline.drawing.picture import Box, Colour, Group, Image, Mark, Path, Picture, Pixels, Stroke, Text

INK = Colour(0, 0, 0)


def anything(one: Leaf, other: Leaf) -> bool:
    return True


def found(*marks: Mark) -> list[tuple[str, str]]:
    return [(hit.one, hit.other) for hit in overlaps(Picture(200, 100, marks), anything)]


def disc(x: float, y: float, radius: float, name: str) -> Path:
    return Path(circle(x, y, radius), INK, name=name)


def test_the_common_area_is_measured() -> None:
    picture = Picture(200, 100, (disc(50, 50, 20, "a"), disc(70, 50, 20, "b")))
    lens = 2 * 400 * math.acos(0.5) - 10 * math.sqrt(4 * 400 - 400)
    assert overlaps(picture, anything)[0].area == pytest.approx(lens, rel=0.02)


def test_boxes_that_meet_are_no_collision() -> None:
    assert found(disc(20, 20, 10, "a"), disc(35, 35, 10, "b")) == []
    assert found(Path(line(0, 0, 50, 50), stroke=Stroke(INK, 3), name="a"), disc(40, 10, 8, "b")) == []
    assert found(Path(slur(0, 50, 100, 50, 30, 4), INK, name="bow"), disc(50, 42, 8, "note")) == []
    assert found(disc(20, 20, 10, "a"), disc(40, 20, 10, "b")) == []


def test_strokes_dashes_and_images_count() -> None:
    rule = Path(line(0, 50, 100, 50), stroke=Stroke(INK, 4, False, (10.0, 10.0)), name="rule")
    assert found(rule, disc(5, 53, 2, "on")) == [("rule", "on")]
    assert found(rule, disc(15, 53, 2, "gap")) == []
    picture = Image(Box(90, 10, 50, 30), Pixels(1, 1, "one", bytes(4)), "photo")
    assert found(picture, disc(100, 20, 3, "dot")) == [("photo", "dot")]


def test_words_on_words_are_found_by_the_usual_rule() -> None:
    words = (Text(10, 50, "palm", 20, INK), Text(40, 52, "mute", 20, INK), Path(rect(Box(0, 0, 99, 99)), INK))
    assert [(hit.one, hit.other) for hit in overlaps(Picture(200, 100, words))] == [("palm", "mute")]
    assert overlaps(Picture(200, 100, (words[0], Text(60, 52, "mute", 20, INK)))) == ()


def test_marks_of_one_label_belong_together() -> None:
    note = Group((Path(circle(0, 0, 10), INK), Text(-4, 5, "7", 14, INK)), moved(50, 50), name="note 3")
    assert found(note) == []
    assert found(note, disc(50, 50, 6, "other")) == [("note 3", "other"), ("note 3", "other")]


def test_groups_move_scale_and_clip() -> None:
    big = Group((disc(0, 0, 5, "a"),), scaled(4))
    assert found(big, disc(18, 0, 2, "b")) == [("a", "b")]
    cut = Group((disc(0, 0, 50, "a"),), clip=Box(0, 0, 10, 10))
    assert found(cut, disc(30, 5, 3, "b")) == []
    assert found(cut, disc(8, 5, 3, "b")) == [("a", "b")]
    nested = Group((Group((disc(0, 0, 50, "a"),), clip=Box(30, 30, 9, 9)),), clip=Box(0, 0, 10, 10))
    assert found(nested, disc(8, 5, 3, "b")) == []


def test_what_is_not_drawn_collides_with_nothing() -> None:
    assert found(Group((disc(10, 10, 5, "a"),), opacity=0), disc(10, 10, 5, "b")) == []
    assert found(Path(circle(10, 10, 5), name="a"), disc(10, 10, 5, "b")) == []


def test_a_hole_is_no_ink() -> None:
    frame = Path(rect(Box(0, 0, 40, 40)), stroke=Stroke(INK, 2), name="frame")
    assert found(frame, disc(20, 20, 10, "inside")) == []
    assert found(frame, disc(35, 20, 10, "across")) == [("frame", "across")]


def test_what_an_opaque_mark_hides_collides_with_nothing_above_it() -> None:
    under, over = Text(50, 50, "5", 20, INK, name="under"), Text(50, 50, "7", 20, INK, name="over")
    lid = disc(55, 43, 15, "over")
    assert overlaps(Picture(200, 100, (under, lid, over))) == ()
    assert len(overlaps(Picture(200, 100, (under, Group((lid,), opacity=0.5), over)))) == 1
    assert len(overlaps(Picture(200, 100, (lid, under, over)))) == 1
