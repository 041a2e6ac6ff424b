"""Pixels: compositing by the published formula, sharp edges, clips, opacity, images, PNG."""

import io

import numpy as np
import pytest
from PIL import Image as Pillow

from pipeline.drawing.affine import moved, scaled
from pipeline.drawing.outline import circle, line, rect
from pipeline.drawing.picture import Box, Colour, Group, Image, Mark, Path, Picture, Pixels, Stroke, Text
from pipeline.files.blend import as_pixels, over, over_spans, pixel_of, pixel_over, spans_of
from pipeline.files.raster import png_bytes, rasterise, straight

RED, BLUE, WHITE = Colour(255, 0, 0), Colour(0, 0, 255), Colour(255, 255, 255)


def drawn(*marks: Mark, width: int = 40, height: int = 30, ground: Colour | None = None) -> np.ndarray:
    return rasterise(Picture(width, height, marks, ground))


def square(x: float, y: float, side: float, colour: Colour = RED) -> Path:
    return Path(rect(Box(x, y, side, side)), colour)


def test_source_over_as_porter_and_duff_have_it() -> None:
    """Porter & Duff 1984; W3C Compositing 1, simple alpha compositing: (1, .5, 0) at .5 over blue."""
    top, under = pixel_of(255, 128, 0, 128), pixel_of(0, 0, 255, 255)
    out = pixel_over(top, under)
    parts = [(out >> shift) & 255 for shift in (0, 8, 16, 24)]
    assert parts == pytest.approx([0.5 * 255, 0.25 * 255, 0.5 * 255, 255], abs=1)


def test_compositing_rounds_exactly_to_nearest() -> None:
    random = np.random.default_rng(3)
    under, top = premultiplied(random), premultiplied(random)
    wanted = top + np.floor(under * (255 - top[:, :, 3:].astype(int)) / 255 + 0.5).astype(int)
    canvas = under.copy()
    over(as_pixels(canvas), as_pixels(top), 0, 0, 0, 0, 64, 50, np.uint32(255))
    assert np.array_equal(canvas, wanted)


def test_opacity_is_applied_before_compositing() -> None:
    random = np.random.default_rng(4)
    under, top = premultiplied(random), premultiplied(random)
    faded = np.floor(top.astype(int) * 77 / 255 + 0.5).astype(int)
    wanted = faded + np.floor(under * (255 - faded[:, :, 3:]) / 255 + 0.5).astype(int)
    canvas = under.copy()
    over(as_pixels(canvas), as_pixels(top), 0, 0, 0, 0, 64, 50, np.uint32(77))
    assert np.array_equal(canvas, wanted)


def test_passing_by_clear_columns_changes_nothing() -> None:
    random = np.random.default_rng(5)
    under, top = premultiplied(random), premultiplied(random)
    top[::3] = 0
    top[:, :9] = 0
    top[1::3, 40:] = 0
    plain, spanned = under.copy(), under.copy()
    over(as_pixels(plain), as_pixels(top), 0, 0, 3, 2, 60, 49, np.uint32(200))
    spans = spans_of(as_pixels(top))
    over_spans(as_pixels(spanned), as_pixels(top), spans, 0, 0, 3, 2, 60, 49, np.uint32(200))
    assert np.array_equal(plain, spanned)
    assert spans[0].tolist() == [0, 0]
    assert spans[1].tolist() == [9, 40]


@pytest.mark.parametrize("share", [0.0, 0.01, 0.1, 0.9])
def test_spans_reach_from_the_first_ink_to_the_last(share: float) -> None:
    random = np.random.default_rng(8)
    for width in (1, 31, 32, 33, 64, 100, 140):
        sprite = (random.random((12, width)) < share).astype(np.uint32)
        for row, span in zip(sprite, spans_of(sprite).tolist(), strict=True):
            inked = np.flatnonzero(row)
            assert span == ([inked[0], inked[-1] + 1] if inked.size else [0, 0])


def premultiplied(random: np.random.Generator) -> np.ndarray:
    alpha = random.integers(0, 256, (50, 64, 1))
    colours = random.integers(0, 256, (50, 64, 3)) * alpha // 255
    return np.concatenate([colours, alpha], axis=2).astype(np.uint8)


def test_nothing_is_transparent_and_a_ground_is_opaque() -> None:
    assert not drawn().any()
    assert (drawn(ground=Colour(9, 8, 7)) == (9, 8, 7, 255)).all()


def test_whole_pixels_have_sharp_edges() -> None:
    picture = drawn(square(10, 5, 12))
    assert (picture[5:17, 10:22] == (255, 0, 0, 255)).all()
    assert picture[:, :, 3].sum() == 12 * 12 * 255


def test_half_a_pixel_is_half_covered() -> None:
    picture = drawn(square(10.5, 5, 12))
    assert picture[8, 10, 3] == pytest.approx(128, abs=1)
    assert picture[8, 22, 3] == pytest.approx(128, abs=1)


@pytest.mark.parametrize("shift", [0.25, 0.5, 0.75])
def test_a_group_moves_by_quarter_pixels(shift: float) -> None:
    picture = drawn(Group((square(10, 5, 12),), moved(shift, 0)))
    assert picture[8, 10, 3] == pytest.approx(255 * (1 - shift), abs=1)
    assert picture[8, 22, 3] == pytest.approx(255 * shift, abs=1)


def test_coverage_of_a_circle_is_its_area() -> None:
    """Curves are walked in chords, which lie inside: here by 0.035 of a pixel on average."""
    covered = drawn(Path(circle(20, 15, 11.3), WHITE))[:, :, 3].sum() / 255
    assert covered == pytest.approx(np.pi * 11.3**2, rel=1e-2)


def test_a_stroke_covers_length_times_width() -> None:
    flat = drawn(Path(line(5, 10, 35, 10), stroke=Stroke(WHITE, 3.0, round_ends=False)))
    assert flat[:, :, 3].sum() / 255 == pytest.approx(30 * 3, rel=2e-3)
    round_ends = drawn(Path(line(5, 10, 35, 10), stroke=Stroke(WHITE, 3.0)))
    assert round_ends[:, :, 3].sum() / 255 == pytest.approx(30 * 3 + np.pi * 1.5**2, rel=1e-2)


def test_dashes_leave_gaps() -> None:
    picture = drawn(Path(line(0, 10, 40, 10), stroke=Stroke(WHITE, 2.0, round_ends=False, dash=(6.0, 4.0))))
    assert [int(v) for v in picture[10, ::2, 3]] == ([255] * 3 + [0] * 2) * 4


def test_a_clip_lies_in_the_parents_coordinates() -> None:
    picture = drawn(Group((square(0, 0, 20),), moved(10, 5), clip=Box(12, 8, 4, 6)))
    assert picture[:, :, 3].sum() == 4 * 6 * 255
    nested = drawn(Group((Group((square(0, 0, 20),), clip=Box(2, 3, 4, 6)), square(30, 0, 2)), moved(10, 5)))
    assert (nested[8:14, 12:16, 3] == 255).all()
    assert nested[:, :38, 3].sum() == 4 * 6 * 255


def test_opacity_fades_a_group_as_one() -> None:
    picture = drawn(Group((square(5, 5, 10), square(10, 5, 10, BLUE)), opacity=0.5))
    assert tuple(picture[8, 12]) == (0, 0, 128, 128)
    inner = drawn(Group((Group((square(5, 5, 10), square(10, 5, 10, BLUE)), opacity=0.5), square(30, 20, 3))))
    assert tuple(inner[8, 12]) == (0, 0, 128, 128)
    assert tuple(inner[21, 31]) == (255, 0, 0, 255)


def test_order_is_bottom_first() -> None:
    assert tuple(drawn(square(5, 5, 10), square(5, 5, 10, BLUE))[8, 8]) == (0, 0, 255, 255)


def test_images_fill_their_box_and_keep_their_order() -> None:
    pixels = Pixels(2, 1, "two", bytes([255, 0, 0, 255, 0, 0, 255, 255]))
    picture = drawn(Group((Image(Box(4, 6, 20, 10), pixels), square(20, 10, 2, WHITE))), square(0, 0, 1))
    assert tuple(picture[10, 5]) == (255, 0, 0, 255)
    assert tuple(picture[10, 23]) == (0, 0, 255, 255)
    assert tuple(picture[11, 21]) == (255, 255, 255, 255)
    assert picture[:, :, 3].sum() == 255 * (20 * 10 + 1)


def test_a_long_strip_has_no_seams() -> None:
    """A strip of many tiles shows one even colour, at any phase."""
    strip = Path(rect(Box(0, 4, 3000, 20)), Colour(200, 100, 50, 128))
    for shift in (-800.0, -799.75, 0.5):
        row = drawn(Group((strip,), moved(shift, 0)), width=1000)[10, 10:900]
        assert (row == row[0]).all()


def test_scaling_a_picture_scales_what_it_shows() -> None:
    picture = Picture(20, 15, (Path(circle(10, 7, 5), RED), Text(2, 12, "7", 9, BLUE)))
    twice = rasterise(picture, 2.0)
    assert twice.shape == (30, 40, 4)
    again = rasterise(Picture(40, 30, (Group(picture.marks, scaled(2.0)),)))
    assert np.abs(twice.astype(int) - again).max() <= 2


def test_text_has_ink_where_its_outline_is() -> None:
    picture = drawn(Text(20, 22, "8", 24, WHITE, "bold", "middle"))
    columns = np.flatnonzero(picture[:, :, 3].any(axis=0))
    assert columns[0] + columns[-1] == pytest.approx(2 * 20 - 1, abs=2)
    rows = np.flatnonzero(picture[:, :, 3].any(axis=1))
    assert rows[-1] in (21, 22)


def test_unmultiplied_colours_round_trip() -> None:
    colour = Colour(200, 120, 40, 180)
    assert np.abs(straight(drawn(square(0, 0, 40, colour)))[5, 5].astype(int) - colour).max() <= 1
    assert not straight(drawn()).any()


def test_png_is_straight_and_the_same_each_time() -> None:
    picture = Picture(12, 8, (square(0, 0, 6, Colour(200, 120, 40, 128)),))
    data = png_bytes(picture)
    assert data == png_bytes(Picture(12, 8, (square(0, 0, 6, Colour(200, 120, 40, 128)),)))
    with Pillow.open(io.BytesIO(data), formats=("PNG",)) as image:
        assert image.mode == "RGBA"
        assert image.getpixel((2, 2)) == pytest.approx((200, 120, 40, 128), abs=1)
        assert image.getpixel((9, 2)) == (0, 0, 0, 0)


def test_an_opaque_png_has_no_alpha() -> None:
    with Pillow.open(io.BytesIO(png_bytes(Picture(4, 4, (), WHITE))), formats=("PNG",)) as image:
        assert image.mode == "RGB"


@pytest.mark.parametrize(
    "mark",
    [
        Path(()),
        Path((), RED),
        Group(()),
        Text(3, 3, "", 9, RED),
        Text(3, 3, " \x07 ", 9, RED),
        Group((square(1, 1, 5),), opacity=0.0),
        Group((square(1, 1, 5),), clip=Box(50, 50, 4, 4)),
        Group((square(1, 1, 5),), clip=Box(2, 2, 0, 0)),
        square(-100, 0, 20),
        Path(rect(Box(3, 3, 4, 4)), stroke=Stroke(RED, 0.0)),
    ],
)
def test_marks_without_ink_draw_nothing(mark: Mark) -> None:
    assert not drawn(mark).any()
