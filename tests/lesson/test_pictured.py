"""A picture in the view `footage`, and views of the neck where nothing is played."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from pipeline.drawing.picture import Group, Mark, Pixels
from pipeline.drawing.picture import Image as ImageMark
from pipeline.errors import Faulty
from pipeline.lesson.check import read_checked
from pipeline.lesson.resolve import read_lesson

SCENE = """\
title: Over the shoulder
teacher: Ida Marrow
frame: {size: 640x360}
guitar: {strings: E2 A2 D3 G3 B3 E4, frets: 19}
segments:
  - id: one
    title: One
    scenes:
      - id: shown
        duration: 2
        footage: {file: hand.png, rights: made for the tests}
        views:
          - {show: footage}
          - {show: scalemap, tonic: D, scale: dorian}
          - {show: nodes, string: 2}
"""
Written = Callable[..., Path]


@pytest.fixture
def written(tmp_path: Path) -> Written:
    """The script, with some of its text replaced, beside a picture of 80 by 40 pixels."""

    def write(*replacements: tuple[str, str]) -> Path:
        text = SCENE
        for old, new in replacements:
            assert old in text
            text = text.replace(old, new)
        script = tmp_path / "lesson.yaml"
        script.write_text(text, "utf-8")
        return script

    image = Image.new("RGB", (80, 40), (200, 30, 30))
    image.paste((30, 30, 200), (40, 0, 80, 40))
    image.save(tmp_path / "hand.png")
    return write


def pixels_in(mark: Mark) -> list[Pixels]:
    if isinstance(mark, ImageMark):
        return [mark.pixels]
    return [found for inner in mark.marks for found in pixels_in(inner)] if isinstance(mark, Group) else []


def shown(script: Path) -> Pixels:
    scene = read_lesson(script).scene("shown")
    (pixels,) = (found for mark in scene.picture(scene.still_at).marks for found in pixels_in(mark))
    return pixels


def test_a_still_shows_the_picture_and_the_neck_without_a_passage(written: Written) -> None:
    lesson = read_lesson(written())
    pixels = shown(written())
    assert (pixels.width, pixels.height) == (80, 40)
    assert pixels.data[:4] == bytes((200, 30, 30, 255))
    assert pixels.data[-4:] == bytes((30, 30, 200, 255))
    assert lesson.scene("shown").footage is None
    names = {placed.name: placed.stage.fragment for placed in lesson.scene("shown").composition.placed}
    assert names["footage"] is None
    for view in ("scalemap", "nodes"):
        fragment = names[view]
        assert fragment is not None
        assert fragment.guitar.frets == 19
    assert ("picture", "hand.png") in {(one.kind, one.name) for one in lesson.rights}


def test_a_picture_is_cut_to_the_shape_that_is_asked_for(written: Written) -> None:
    pixels = shown(written(("{show: footage}", "{show: footage, shape: 1}")))
    assert (pixels.width, pixels.height) == (40, 40)


def test_what_is_no_picture_or_too_large_is_one_line(written: Written, tmp_path: Path) -> None:
    script = written()
    (tmp_path / "hand.png").write_text("not a picture")
    with pytest.raises(Faulty, match=r"lesson\.yaml:11:25: hand\.png is no picture of a known kind; save it"):
        read_checked(script)
    Image.new("1", (8000, 5001)).save(tmp_path / "hand.png")
    with pytest.raises(Faulty, match=r"hand\.png has 8000x5001 pixels; make it smaller: 40 million"):
        read_checked(script)
    Image.new("L", (4, 4)).save(tmp_path / "hand.gif")
    (tmp_path / "hand.gif").rename(tmp_path / "hand.png")
    with pytest.raises(Faulty, match="is no picture of a known kind"):
        read_checked(script)


def test_a_picture_without_its_view_is_a_fault(written: Written) -> None:
    with pytest.raises(Faulty, match="shown by the view footage, which this scene has not; add that view"):
        read_checked(written(("          - {show: footage}\n", "")))


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        ("string: 7", r"lesson\.yaml:\d+:\d+: there is no string 7 to show; choose 1 \(the highest\) to 6"),
        ("fret: 19", r"lesson\.yaml:\d+:\d+: there is no fret 19 to show; choose 0 \(open\) to 18"),
        ("fret: -1", r"there is no fret -1 to show"),
    ],
)
def test_a_string_or_fret_beyond_the_neck_is_a_fault_before_anything_is_drawn(
    written: Written, keys: str, fault: str
) -> None:
    with pytest.raises(Faulty, match=fault):
        read_checked(written(("nodes, string: 2", f"nodes, {keys}")))
