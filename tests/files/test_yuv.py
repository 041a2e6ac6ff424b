"""Colour conversion against published code values, and in part against itself whole."""

import numpy as np
import pytest

from pipeline.files.boxes import IntBox
from pipeline.files.raster import straight
from pipeline.files.yuv import Planes, deep_planes, planes, to_420, to_444_alpha

Code = tuple[int, ...]

# BT.709 limited range, from colour-science 0.4.7 (RGB_to_YCbCr); the 75 % rows are also those of the colour
# bars published for BT.709. BT.601 would give red 81 90 240.
BARS = [
    ((255, 255, 255), (235, 128, 128), (940, 512, 512)),
    ((255, 255, 0), (219, 16, 138), (877, 64, 553)),
    ((0, 255, 255), (188, 154, 16), (754, 615, 64)),
    ((0, 255, 0), (173, 42, 26), (691, 167, 105)),
    ((255, 0, 255), (78, 214, 230), (313, 857, 919)),
    ((255, 0, 0), (63, 102, 240), (250, 409, 960)),
    ((0, 0, 255), (32, 240, 118), (127, 960, 471)),
    ((0, 0, 0), (16, 128, 128), (64, 512, 512)),
    ((191, 191, 191), (180, 128, 128), None),
    ((191, 191, 0), (168, 44, 136), None),
    ((0, 191, 191), (145, 147, 44), None),
    ((0, 191, 0), (133, 63, 52), None),
    ((191, 0, 191), (63, 193, 204), None),
    ((191, 0, 0), (51, 109, 212), None),
    ((0, 0, 191), (28, 212, 120), None),
]


def flat(colour: tuple[int, ...], width: int = 6, height: int = 4) -> np.ndarray:
    return np.full((height, width, 4), (*colour, 255), np.uint8)


def whole(canvas: np.ndarray) -> list[IntBox]:
    return [IntBox(0, 0, canvas.shape[1], canvas.shape[0])]


def noise(width: int, height: int, opaque: bool = False) -> np.ndarray:
    random = np.random.default_rng(7)
    alpha = random.integers(0, 256, (height, width, 1))
    if opaque:
        alpha[:] = 255
    colours = random.integers(0, 256, (height, width, 3)) * alpha // 255
    return np.concatenate([colours, alpha], axis=2).astype(np.uint8)


def exact(rgb: np.ndarray, unit: float = 1.0) -> tuple[np.ndarray, ...]:
    """BT.709-6 items 3.2 to 4.6 in floating point, from 8-bit red, green, blue in the last axis."""
    r, g, b = (rgb[..., i] / 255 for i in range(3))
    y = 0.2126 * r + 0.7152 * g + 0.0722 * b
    cb, cr = (b - y) / 1.8556, (r - y) / 1.5748
    return unit * (16 + 219 * y), unit * (128 + 224 * cb), unit * (128 + 224 * cr)


@pytest.mark.parametrize(("rgb", "eight", "ten"), BARS)
def test_published_code_values(
    rgb: tuple[int, ...], eight: tuple[int, ...], ten: tuple[int, ...] | None
) -> None:
    into, deep, canvas = planes(6, 4), deep_planes(6, 4), flat(rgb)
    to_420(canvas, into, whole(canvas))
    to_444_alpha(canvas, deep, whole(canvas))
    assert tuple(int(plane[1, 1]) for plane in into) == pytest.approx(eight, abs=1)
    assert all((plane == plane[0, 0]).all() for plane in into)
    if ten is not None:
        assert tuple(int(plane[1, 1]) for plane in deep[:3]) == ten
    assert (deep.alpha == 1023).all()


def test_red_is_not_bt601() -> None:
    canvas, into = flat((255, 0, 0)), planes(6, 4)
    to_420(canvas, into, whole(canvas))
    assert [int(plane[0, 0]) for plane in into] == [63, 102, 240]


def test_greys_have_no_colour() -> None:
    for level in range(256):
        canvas, into = flat((level, level, level), 2, 2), planes(2, 2)
        to_420(canvas, into, whole(canvas))
        assert (into.u[0, 0], into.v[0, 0]) == (128, 128)
        assert into.y[0, 0] == round(16 + 219 * level / 255)


@pytest.mark.parametrize(("width", "height"), [(32, 18), (31, 17), (2, 2), (1, 1), (7, 2)])
def test_420_against_floating_point(width: int, height: int) -> None:
    canvas, into = noise(width, height, opaque=True), planes(width, height)
    to_420(canvas, into, whole(canvas))
    y, u, v = into
    assert np.abs(y - exact(canvas)[0]).max() <= 0.501
    padded = np.pad(canvas.astype(float), ((0, height % 2), (1, 1 + width % 2), (0, 0)), mode="edge")
    rows = (padded[0::2] + padded[1::2]) / 2
    middle = rows[:, 1:-1:2]
    sited = (rows[:, 0 : 2 * middle.shape[1] : 2] + 2 * middle + rows[:, 2 : 2 * middle.shape[1] + 1 : 2]) / 4
    assert np.abs(u - exact(sited)[1]).max() <= 0.502
    assert np.abs(v - exact(sited)[2]).max() <= 0.502


@pytest.mark.parametrize(("bits", "unit"), [(10, 4), (12, 16)])
def test_alpha_is_kept_and_colours_are_straight(bits: int, unit: int) -> None:
    canvas, deep = noise(64, 40), deep_planes(64, 40, bits)
    to_444_alpha(canvas, deep, whole(canvas), bits)
    colours = straight(canvas)
    most = 2**bits - 1
    assert np.array_equal(deep.alpha, (canvas[:, :, 3].astype(int) * most + 127) // 255)
    assert np.array_equal((deep.alpha.astype(int) * 255 + most // 2) // most, canvas[:, :, 3])
    for plane, wanted in zip(deep[:3], exact(colours, unit), strict=True):
        assert np.abs(plane - wanted).max() <= 0.51


def test_every_straight_colour_is_rounded_to_the_nearest() -> None:
    alpha, part = np.meshgrid(np.arange(256), np.arange(256), indexing="ij")
    kept = np.minimum(part, alpha).astype(np.uint8)
    canvas = np.stack([kept, kept, kept, alpha.astype(np.uint8)], axis=2)
    deep = deep_planes(256, 256)
    to_444_alpha(np.ascontiguousarray(canvas), deep, whole(canvas))
    level = np.floor(kept * 255.0 / np.maximum(alpha, 1) + 0.5)
    assert np.abs(deep.y - 4 * (16 + 219 * level / 255)).max() <= 0.51


@pytest.mark.parametrize(
    "box", [IntBox(3, 5, 20, 9), IntBox(0, 0, 1, 1), IntBox(30, 16, 31, 17), IntBox(8, 2, 9, 15)]
)
def test_changed_boxes_give_what_the_whole_gives(box: tuple[int, int, int, int]) -> None:
    part = IntBox(*box)
    before, after = noise(31, 17, opaque=True), noise(31, 17, opaque=True)
    after[:] = before
    after[part.top : part.bottom, part.left : part.right, :3] ^= 255
    lasting, fresh = planes(31, 17), planes(31, 17)
    to_420(before, lasting, whole(before))
    to_420(after, lasting, [part])
    to_420(after, fresh, whole(after))
    for kept, made in zip(lasting, fresh, strict=True):
        assert np.array_equal(kept, made)


def test_padding_is_left_alone() -> None:
    wide = Planes(
        np.full((18, 40), 99, np.uint8), np.full((9, 20), 99, np.uint8), np.full((9, 20), 99, np.uint8)
    )
    canvas = noise(32, 16, opaque=True)
    to_420(canvas, wide, whole(canvas))
    assert (wide.y[16:] == 99).all()
    assert (wide.y[:, 32:] == 99).all()
    assert (wide.u[:, 16:] == 99).all()


def test_an_empty_box_changes_nothing() -> None:
    into = planes(4, 4)
    to_420(flat((255, 255, 255), 4, 4), into, [IntBox(2, 2, 2, 4)])
    assert (into.y == 16).all()
