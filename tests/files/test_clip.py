"""A scene as a clip of moviepy: the frames, alpha and sound that our own films have."""

import os
from fractions import Fraction

import numpy as np
import pytest

from pipeline.drawing.picture import Colour, Path, Picture
from pipeline.files.clip import load_moviepy, scene_clip
from pipeline.files.coders import straight
from pipeline.files.frames import frames
from pipeline.sound.signal import Signal
from pipeline.timing import Rate

RATE = Rate(Fraction(30000, 1001))
SIZE = (64, 36)


def square_at(t: Fraction) -> Picture:
    """A half-covering red square that moves a pixel a frame."""
    x = float(RATE.frame_at(t))
    corners = (("M", (x, 4.0)), ("L", (x + 10, 4.0)), ("L", (x + 10, 20.0)), ("L", (x, 20.0)), ("Z", ()))
    return Picture(64, 36, (Path(corners, fill=Colour(255, 0, 0, 128)),))


def clip(sound: Signal | None = None) -> object:
    return scene_clip(square_at, SIZE, RATE, 30, sound)


@pytest.mark.parametrize("order", [range(30), [29, 3, 3, 4, 0, 17, 16]])
def test_frames_are_those_of_our_films(order: list[int]) -> None:
    ours = [straight(frame.canvas) for frame in frames(square_at, RATE, 0, 30)]
    scene = clip()
    for number in order:
        second = float(RATE.time_of(number))
        assert (scene.get_frame(second) == ours[number][:, :, :3]).all()
        assert scene.mask.get_frame(second) * 255 == pytest.approx(ours[number][:, :, 3], abs=1e-9)


def test_it_lies_over_another_clip() -> None:
    """Source over with straight alpha (Porter and Duff 1984)."""
    moviepy = load_moviepy()
    white = moviepy.ColorClip(SIZE, (255, 255, 255), duration=1)
    with moviepy.CompositeVideoClip([white, clip()]) as both:
        picture = both.get_frame(float(RATE.time_of(5)))
    assert picture[10, 10] == pytest.approx([255, 127, 127], abs=1)
    assert picture[30, 50].tolist() == [255, 255, 255]


def test_length_rate_and_sound_come_along() -> None:
    sound = Signal(np.linspace(-0.5, 0.5, 48048, dtype=np.float32)[:, None], 48000)
    scene = clip(sound)
    assert scene.duration == pytest.approx(1.001)
    assert scene.fps == pytest.approx(30000 / 1001)
    assert tuple(scene.size) == SIZE
    heard = scene.audio.to_soundarray(fps=48000)
    assert heard[:48000, 0] == pytest.approx(sound.samples[:48000, 0], abs=1e-4)


def test_no_child_is_left() -> None:
    with clip() as scene:
        scene.get_frame(0.1)
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)
