"""Frames made of what changed are, to the last bit, the frames drawn whole."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from pipeline.drawing.affine import compose, moved, scaled, turned
from pipeline.drawing.outline import circle, line, rect, rounded, smooth
from pipeline.drawing.picture import (
    Box,
    Colour,
    Group,
    Image,
    Mark,
    Path,
    Picture,
    Pixels,
    Stroke,
    Text,
    translate,
)
from pipeline.files.boxes import IntBox
from pipeline.files.frames import SETTLED, Compositor, frames
from pipeline.files.raster import rasterise
from pipeline.timing import Rate

RATE = Rate(Fraction(30000, 1001))
WIDTH, HEIGHT = 320, 180
INK = Colour(240, 230, 210)
AMBER = Colour(255, 180, 80, 200)
Film = Callable[[int], tuple[Mark, ...]]


def still() -> Group:
    strings = tuple(Path(line(0, 20.0 + 9 * i, 900, 20.0 + 9 * i), stroke=Stroke(INK, 1.3)) for i in range(6))
    digits = tuple(Text(12.0 + 23 * i, 24.0 + 9 * (i % 6), str(i), 14, INK) for i in range(36))
    return Group(strings + digits, name="strip")


STILL = still()
PANEL = Path(rounded(Box(10, 8, 300, 80), 9), Colour(40, 36, 30))
CURSOR = Group((Path(rect(Box(-1.5, 0, 3, 70)), AMBER),), name="cursor")
PIXELS = Pixels(3, 2, "six", bytes(range(24)))


def paged(n: int) -> tuple[Mark, ...]:
    return (PANEL, STILL, CURSOR.moved(20 + n * 2.37, 12))


def scrolling(n: int) -> tuple[Mark, ...]:
    strip = Group((Group((STILL,), moved(100 - n * 3.21, 0.4)),), clip=Box(20.2, 9, 280, 77.7))
    return (PANEL, strip, CURSOR.moved(100, 12))


def lit(n: int) -> tuple[Mark, ...]:
    marks: list[Mark] = [PANEL, STILL]
    if n % 5 < 3:
        marks.append(translate((Path(circle(0, 0, 9), AMBER),), 30 + 40 * (n // 5 % 4), 60))
    marks.append(Text(200, 140, f"bar {n // 7}", 20, INK, "bold", "middle"))
    return tuple(marks)


def fading(n: int) -> tuple[Mark, ...]:
    return (STILL, Group((PANEL, CURSOR.moved(40, 10)), opacity=max(0.0, 1 - n / 10)), CURSOR.moved(200, 90))


def zooming(n: int) -> tuple[Mark, ...]:
    around = compose(scaled(1 + n * 0.031, about=(160, 90)), turned(n * 0.7, (160, 90)))
    return (PANEL, Group((STILL, PANEL), around, 0.8, Box(30, 30, 200, 100)))


def reordered(n: int) -> tuple[Mark, ...]:
    marks: list[Mark] = [PANEL, STILL, CURSOR.moved(60, 10), Image(Box(40.3, 30, 90, 60), PIXELS)]
    return tuple(marks[n % 4 :] + marks[: n % 4])


def waking(n: int) -> tuple[Mark, ...]:
    """Bottom layers that stand still long enough to be merged, then move."""
    moves = n > 2 * SETTLED
    return (PANEL, STILL.moved(3.3 * (n - 2 * SETTLED), 0) if moves else STILL, CURSOR.moved(n * 1.7, 5))


def standing(n: int) -> tuple[Mark, ...]:
    return (PANEL, CURSOR.moved(50 + n // 4 * 4, 5))


FILMS: list[Film] = [paged, scrolling, lit, fading, zooming, reordered, waking, standing]


def picture(film: Film, n: int, ground: Colour | None = None) -> Picture:
    return Picture(WIDTH, HEIGHT, film(n), ground)


def shown(canvas: np.ndarray, boxes: tuple[IntBox, ...]) -> np.ndarray:
    mask = np.zeros(canvas.shape[:2], bool)
    for box in boxes:
        mask[box.top : box.bottom, box.left : box.right] = True
    return mask


@pytest.mark.parametrize("film", FILMS)
@pytest.mark.parametrize("ground", [None, Colour(25, 22, 19), Colour(200, 30, 90, 120)])
def test_equal_to_drawing_every_frame_whole(film: Film, ground: Colour | None) -> None:
    before = None
    for frame in frames(lambda t: picture(film, round(t * RATE.value), ground), RATE, 0, 3 * SETTLED):
        whole = rasterise(picture(film, frame.number, ground))
        assert np.array_equal(frame.canvas, whole), frame.number
        if before is not None:
            differs = (frame.canvas != before).any(axis=2)
            assert not (differs & ~shown(frame.canvas, frame.changed)).any()
        before = frame.canvas.copy()


@pytest.mark.parametrize("seed", range(12))
def test_equal_for_pictures_made_at_random(seed: int) -> None:
    random = np.random.default_rng(seed)
    compositor = Compositor(WIDTH, HEIGHT)
    marks: list[Mark] = [random_mark(random) for _ in range(5)]
    for _ in range(30):
        change(marks, random)
        frame = Picture(WIDTH, HEIGHT, tuple(marks), Colour(30, 30, 30))
        compositor.draw(frame)
        assert np.array_equal(compositor.canvas, rasterise(frame))


def change(marks: list[Mark], random: np.random.Generator) -> None:
    """Add, drop, swap or move a layer, or leave everything as it is."""
    what = random.integers(0, 6)
    where = int(random.integers(0, len(marks)))
    if what == 0 and len(marks) < 9:
        marks.insert(where, random_mark(random))
    elif what == 1 and len(marks) > 2:
        del marks[where]
    elif what == 2:
        marks[0], marks[where] = marks[where], marks[0]
    elif what in (3, 4) and isinstance(group := marks[where], Group):
        marks[where] = group.moved(*(random.random(2) * 40 - 20))


def random_mark(random: np.random.Generator) -> Mark:
    x, y, size = random.random(3) * (WIDTH, HEIGHT, 60)
    colour = Colour(*(int(v) for v in random.integers(0, 256, 4)))
    points = [tuple(p) for p in random.random((5, 2)) * 120]
    shapes: list[Mark] = [
        Path(circle(x, y, size), colour),
        Path(smooth(points), None, Stroke(colour, size / 9, dash=(7.0, 3.5) if size > 30 else ())),
        Text(x, y, "Wave 7♯", 8 + size, colour, "semibold"),
        Image(Box(x, y, size + 1, size + 3), PIXELS),
    ]
    chosen = tuple(shapes[i] for i in random.integers(0, 4, 3))
    clip = Box(*(random.random(4) * (100, 50, 220, 130))) if random.random() < 0.4 else None
    turn = turned(float(random.random() * 90)) if random.random() < 0.3 else moved(*(random.random(2) * 50))
    return Group(chosen, turn, float(random.choice([1.0, 0.5])), clip)


def test_a_frame_equal_to_the_last_changes_nothing() -> None:
    made = [f.changed for f in frames(lambda t: picture(standing, round(t * RATE.value)), RATE, 0, 9)]
    assert [bool(boxes) for boxes in made] == [True, False, False, False, True, False, False, False, True]
    assert made[0] == (IntBox(0, 0, WIDTH, HEIGHT),)


def test_a_moving_cursor_touches_little() -> None:
    made = [f.changed for f in frames(lambda t: picture(paged, round(t * RATE.value)), RATE, 0, 20)]
    assert all(sum(box.area for box in boxes) < 0.03 * WIDTH * HEIGHT for boxes in made[1:])


def test_the_background_lies_under_the_picture() -> None:
    see_through = Picture(40, 30, (Path(rect(Box(0, 0, 20, 30)), Colour(255, 0, 0, 128)),))
    ground = Colour(10, 200, 30)
    frame = next(frames(lambda t: see_through, RATE, 0, 1, ground))
    assert np.array_equal(frame.canvas, rasterise(replace(see_through, background=ground)))
    assert (frame.canvas[:, :, 3] == 255).all()


def test_frames_show_the_second_they_start_at() -> None:
    asked: list[Fraction] = []

    def at(t: Fraction) -> Picture:
        asked.append(t)
        return Picture(8, 8, ())

    numbers = [frame.number for frame in frames(at, RATE, 100, 103)]
    assert numbers == [100, 101, 102]
    assert asked == [Fraction(1001 * n, 30000) for n in (100, 101, 102)]


def test_a_picture_of_another_size_is_refused() -> None:
    compositor = Compositor(20, 10)
    with pytest.raises(ValueError, match="same size"):
        compositor.draw(Picture(21, 10, ()))
