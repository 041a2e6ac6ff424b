"""Film in the view `footage`: in its frame, in step with the scene, in overlays, films and stills alike."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from pipeline.drawing.picture import Image
from pipeline.errors import Faulty
from pipeline.files.boxes import IntBox
from pipeline.files.frames import Frame, frames
from pipeline.files.video import DRAWN, write_film
from pipeline.lesson.filmed import filmed, picture_with_film
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.scene import Scene
from pipeline.timing import Rate

SCRIPT = """\
title: Film beside the words
teacher: Ida Marrow
frame: {size: 320x180, rate: 25}
segments:
  - id: one
    title: One
    scenes:
      - id: shown
        duration: 1
        footage: {file: hand.mp4, rights: made for the tests}
        views:
          - {show: footage, shape: 1.7778, until: 0.6}
          - {show: words, text: The hand}
"""


@pytest.fixture
def script(tmp_path: Path) -> Path:
    """The script beside a film at 25 frames a second, whose picture n is grey of 8 n."""
    canvas = np.full((36, 64, 4), 255, np.uint8)

    def greys() -> object:
        for number in range(25):
            canvas[:, :, :3] = number * 8
            yield Frame(number, canvas, (IntBox(0, 0, 64, 36),))

    fine = DRAWN._replace(quality=1)
    write_film(tmp_path / "hand.mp4", greys(), (64, 36), Rate(Fraction(25)), coding=fine)  # type: ignore[arg-type]
    path = tmp_path / "lesson.yaml"
    path.write_text(SCRIPT, "utf-8")
    return path


@pytest.fixture
def scene(script: Path) -> Scene:
    return read_lesson(script).scene("shown")


def test_film_runs_in_the_frame_of_its_view(scene: Scene) -> None:
    assert scene.footage is not None
    assert scene.footage.room is not None
    box, middle = scene.footage.room.box, scene.footage.room.box
    assert abs(box.width / box.height - 16 / 9) < 0.1
    x, y = (middle.left + middle.right) // 2, (middle.top + middle.bottom) // 2
    for opaque in (False, True):
        drawn = frames(scene.picture, scene.rate, 0, scene.frames)
        for frame in filmed(scene, range(scene.frames), drawn, opaque):
            if frame.number < 15:
                assert frame.canvas[y, x] == pytest.approx([frame.number * 8] * 3 + [255], abs=2)
            else:
                ground = scene.look.colour("ground")
                assert tuple(frame.canvas[y, x]) == ((*ground[:3], 255) if opaque else (0, 0, 0, 0))


def test_a_still_holds_the_picture_of_its_second(scene: Scene) -> None:
    early, late = picture_with_film(scene, Fraction(2, 25)), picture_with_film(scene, Fraction(7, 10))
    image = early.marks[0]
    assert isinstance(image, Image)
    assert image.pixels.data[0] == pytest.approx(16, abs=2)
    assert not isinstance(late.marks[0], Image), "the view is gone by then"


def test_overlays_are_made_again_when_the_film_that_they_hold_changes(script: Path, scene: Scene) -> None:
    film = script.with_name("hand.mp4")
    write_film(film, iter([next_black()]), (64, 36), Rate(Fraction(25)))
    assert read_lesson(script).scene("shown").seen != scene.seen


def next_black() -> Frame:
    canvas = np.zeros((36, 64, 4), np.uint8)
    canvas[:, :, 3] = 255
    return Frame(0, canvas, (IntBox(0, 0, 64, 36),))


def test_a_zoom_over_film_in_a_view_is_refused(script: Path) -> None:
    zoomed = SCRIPT.replace(
        "        views:", "        zooms: [{into: words, at: 0.2, by: 2}]\n        views:"
    )
    script.write_text(zoomed, "utf-8")
    with pytest.raises(Faulty) as refused:
        read_lesson(script)
    assert "stands still where the frame comes closer" in str(refused.value)
