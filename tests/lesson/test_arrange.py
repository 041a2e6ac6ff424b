"""Views on the frame: inside the safe area, apart from each other, stable from frame to frame.

Safe area: 5 % a side, SMPTE ST 2046-1:2009 and EBU R 95 (96 and 54 px of 1920x1080 give 1728x972)."""

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.drawing.affine import growth
from pipeline.drawing.bounds import picture_ink
from pipeline.drawing.overlap import leaves
from pipeline.drawing.picture import Box
from pipeline.lesson.inspection_marks import words
from pipeline.lesson.lesson import Lesson
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.rooms import ARRANGEMENTS, boxes, safe_area, type_height

F = Fraction

FRAMES = [(1920, 1080), (1080, 1920), (1080, 1080), (640, 360)]


def test_the_safe_area_of_full_hd() -> None:
    assert safe_area(1920, 1080) == Box(96, 54, 1728, 972)


@pytest.mark.parametrize("size", FRAMES)
@pytest.mark.parametrize("name", ARRANGEMENTS)
@given(shares=st.lists(st.floats(0.1, 10), min_size=1, max_size=5))
def test_boxes_are_whole_apart_and_safe(name: str, size: tuple[int, int], shares: list[float]) -> None:
    safe, placed = safe_area(*size), boxes(name, *size, shares)
    assert len(placed) == len(shares)
    for index, box in enumerate(placed):
        assert all(float(value).is_integer() for value in box)
        assert box.x >= safe.x - 0.5
        assert box.y >= safe.y - 0.5
        assert box.right <= safe.right + 0.5
        assert box.bottom <= safe.bottom + 0.5
        assert not any(box.meets(other) for other in placed[index + 1 :])


def test_type_is_sized_by_the_height_of_lying_frames_only() -> None:
    assert [type_height(*size) for size in FRAMES] == [1080, 1350, 1080, 360]


def test_room_is_shared_as_asked() -> None:
    upper, lower = boxes("stack", 1920, 1080, [2.0, 1.0])
    assert upper.height == pytest.approx(2 * lower.height, abs=1.5)
    left, right = boxes("first-left", 1920, 1080, [1.0, 1.0])
    assert left.width / (left.width + right.width) == pytest.approx(0.6, abs=0.002)


@pytest.fixture
def lesson(short: Path) -> Lesson:
    return read_lesson(short)


def test_layers_that_do_not_change_are_the_same_objects(lesson: Lesson) -> None:
    scene = lesson.scene("whole")
    before, after = scene.frame(90), scene.frame(91)
    assert len(before.marks) == len(after.marks)
    kept = sum(one is other for one, other in zip(before.marks, after.marks, strict=True))
    assert kept >= len(before.marks) - 3


def test_equal_seconds_give_equal_pictures(lesson: Lesson, short: Path) -> None:
    assert lesson.scene("whole").picture(F(3)) == read_lesson(short).scene("whole").picture(F(3))


def test_an_overlay_has_no_ground_and_a_film_the_looks(lesson: Lesson) -> None:
    scene = lesson.scene("four")
    assert scene.picture(F(1)).background is None
    assert scene.picture(F(1), "film").background == scene.look.colour("ground")
    assert scene.picture(F(1)).marks == scene.picture(F(1), "film").marks


def test_a_zoom_enlarges_and_goes_back(lesson: Lesson) -> None:
    """Its type is 1.5 times as large as before, and others are gone while it lasts."""
    scene = lesson.scene("whole")
    (zoom,) = scene.composition.zooms

    def sizes(t: F) -> set[float]:
        found = words(leaves(scene.picture(t).marks))
        return {round(text.size * growth(leaf.affine), 3) for leaf, text in found if "name" in text.name}

    (usual,) = sizes(zoom.start - 2 * zoom.glide)
    assert sizes(zoom.start) == sizes(zoom.end - F(1, 100)) == {round(1.5 * usual, 3)}
    assert len(sizes(zoom.start - zoom.glide / 2)) == 2
    assert sizes(zoom.end + zoom.glide) == {usual}


def test_a_zoom_cuts_nothing_off(lesson: Lesson) -> None:
    """All strings keep their letters, and everything stays in the safe area."""
    scene = lesson.scene("whole")
    (zoom,) = scene.composition.zooms
    safe = safe_area(scene.width, scene.height)
    before, closer = scene.picture(zoom.start - 2 * zoom.glide), scene.picture(zoom.start)
    for picture in (before, closer):
        ink = picture_ink(picture)
        assert ink is not None
        assert min(ink.x - safe.x, ink.y - safe.y, safe.right - ink.right, safe.bottom - ink.bottom) >= -0.6
        letters = [text.text for _, text in words(leaves(picture.marks)) if "name" in text.name]
        assert sorted(letters[:6]) == ["A", "B", "D", "E", "E", "G"]


def test_a_closer_look_holds_its_layers(lesson: Lesson) -> None:
    """Two frames within a zoom share all layers but those that move, as at rest."""
    scene = lesson.scene("whole")
    (zoom,) = scene.composition.zooms
    before, after = scene.picture(zoom.start + F(1, 10)), scene.picture(zoom.start + F(1, 10) + F(1, 50))
    kept = sum(one is other for one, other in zip(before.marks, after.marks, strict=True))
    assert kept >= len(before.marks) - 3


def test_views_come_and_go(short: Path) -> None:
    text = short.read_text("utf-8").replace("notes: 1-4", "notes: 1-4\n        duration: 8")
    extra = "          - {show: words, kind: lower-third, text: Here, since: 2, until: 1:2}\nhandout:"
    short.write_text(text.replace("handout:", extra, 1), "utf-8")
    scene = read_lesson(short).scene("four")
    words = scene.composition.placed[1]
    assert words.box == Box(64, 36, 1152, 648)
    assert scene.composition.placed[0].box == Box(64, 36, 1152, 648)
    assert (words.since, words.until) == (2, scene.passes[0].moments(F(1)))
    assert not words.marks(F(1))
    assert words.marks(F(5, 2))
    assert not words.marks(F(4))
