"""Slices spliced into the last frame make the same bytes as encoding every frame whole."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.files.av_frames import planes_of, tagged_frame
from pipeline.files.boxes import IntBox
from pipeline.files.coders import ProresCoder, coded_frame
from pipeline.files.frames import Frame
from pipeline.files.prores import (
    Grid,
    Plane,
    SlicedFrame,
    padded_shape,
    put_together,
    renewed,
    take_apart,
)
from pipeline.files.prores_coder import SliceCoder, prores_encoder

RANGES = ((64, 941), (64, 961), (64, 961), (0, 1024))


class Plainly:
    """The plain way: every frame is encoded whole by prores_ks."""

    def __init__(self, width: int, height: int) -> None:
        self.size, self.encoder, self.count = (width, height), prores_encoder(width, height), 0

    def packet(self, planes: list[Plane]) -> bytes:
        width, height = self.size
        frame = tagged_frame(width, height, "yuva444p10le")
        for into, plane in zip(planes_of(frame, np.uint16), planes, strict=True):
            into[:] = plane[:height, :width]
        frame.pts, self.count = self.count, self.count + 1
        (packet,) = self.encoder.encode(frame)
        return bytes(packet)


def noise(planes: list[Plane], box: IntBox, seed: int) -> None:
    """Fill a box of all planes with the worst there is to encode."""
    rng = np.random.default_rng(seed)
    for plane, (low, high) in zip(planes, RANGES, strict=True):
        part = plane[box.top : box.bottom, box.left : box.right]
        part[:] = rng.integers(low, high, part.shape)


def blank(width: int, height: int) -> list[Plane]:
    return [np.full(padded_shape(width, height), v, dtype=np.uint16) for v in (64, 512, 512, 0)]


class Spliced:
    """Frames of which only the slices that meet a changed box are coded."""

    def __init__(self, width: int, height: int) -> None:
        self.coder = SliceCoder(width, height)
        self.frame = SlicedFrame(self.coder.grid.count)

    def packet(self, planes: list[Plane], changed: list[IntBox]) -> bytes:
        grid = self.coder.grid
        chosen = grid.touched(changed) if self.frame.renewed({}) else grid.all()
        return self.frame.renewed(self.coder.coded(planes, chosen))


SIZES = [(320, 180), (1000, 562), (130, 50), (16, 16), (8, 10), (1920, 1080)]


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_spliced_frames_equal_whole_ones(width: int, height: int) -> None:
    coder, plain, planes = Spliced(width, height), Plainly(width, height), blank(width, height)
    rng = np.random.default_rng(width)
    assert coder.packet(planes, []) == plain.packet(planes)
    for step in range(5):
        x, y = int(rng.integers(width)), int(rng.integers(height))
        box = IntBox(x, y, int(rng.integers(x, width)) + 1, int(rng.integers(y, height)) + 1)
        noise(planes, box, step)
        assert coder.packet(planes, [box]) == plain.packet(planes)


def test_an_unchanged_frame_is_the_same_packet() -> None:
    coder, planes = Spliced(320, 180), blank(320, 180)
    noise(planes, IntBox(20, 20, 120, 70), 1)
    first = coder.packet(planes, [])
    assert coder.packet(planes, []) is first
    assert coder.packet(planes, [IntBox(5, 5, 5, 9)]) is first


def test_taking_apart_and_putting_together_are_inverse() -> None:
    planes = blank(300, 100)
    noise(planes, IntBox(0, 0, 300, 100), 7)
    packet = Plainly(300, 100).packet(planes)
    parts = take_apart(packet)
    assert len(parts.slices) == Grid(300, 100).count
    assert put_together(parts.header, parts.slices) == packet


@pytest.mark.parametrize("damage", [lambda p: p[:-1], lambda p: p[:4] + b"nope" + p[8:], lambda p: p + b"x"])
def test_a_damaged_frame_is_refused(damage: object) -> None:
    packet = Plainly(64, 32).packet(blank(64, 32))
    with pytest.raises(ValueError, match="ProRes"):
        take_apart(damage(packet))  # type: ignore[operator]


def test_full_hd_has_1020_slices_of_128_by_16() -> None:
    """From memory, and as measured in FFmpeg's stream: 15 columns and 68 rows."""
    grid = Grid(1920, 1080)
    assert (len(grid.columns), grid.rows, grid.count) == (15, 68, 1020)
    assert {width for _, width in grid.columns} == {128}


@given(
    st.integers(1, 700),
    st.integers(1, 100),
    st.lists(st.tuples(*[st.floats(0, 1, exclude_max=True)] * 4), max_size=3),
)
@settings(max_examples=60, deadline=None)
def test_touched_slices_are_exactly_those_that_hold_a_changed_pixel(
    width: int, height: int, shares: list[tuple[float, ...]]
) -> None:
    grid, mask, boxes = Grid(width, height), np.zeros((height, width), dtype=bool), []
    for a, b, c, d in shares:
        x, y = int(a * width), int(b * height)
        box = IntBox(x, y, x + 1 + int(c * (width - x)), y + 1 + int(d * (height - y)))
        mask[box.top : box.bottom, box.left : box.right] = True
        boxes.append(box)
    wanted = [
        row * len(grid.columns) + column
        for row in range(grid.rows)
        for column, (left, wide) in enumerate(grid.columns)
        if mask[row * 16 : row * 16 + 16, left : left + wide].any()
    ]
    assert grid.touched(boxes).tolist() == wanted


@given(st.integers(1, 400), st.integers(1, 60), st.lists(st.tuples(*[st.floats(0, 1, exclude_max=True)] * 2)))
@settings(max_examples=60, deadline=None)
def test_what_differs_is_boxed_slice_by_slice_and_then_seen(
    width: int, height: int, spots: list[tuple[float, float]]
) -> None:
    edges, seen = Grid(width, height).edges, np.zeros((height, width), dtype=np.uint32)
    pixels = seen.copy()
    for x, y in spots:
        pixels[int(y * height), int(x * width)] ^= 1 << int(31 * x)
    differs = pixels != seen
    parts = renewed(pixels, seen, edges)
    assert np.array_equal(pixels, seen)
    for (left, top, right, bottom), part in zip(edges.tolist(), parts.tolist(), strict=True):
        rows, columns = np.nonzero(differs[top:bottom, left:right])
        if not rows.size:
            assert part[0] >= part[2]
            continue
        wanted = [left + columns.min(), top + rows.min(), left + columns.max() + 1, top + rows.max() + 1]
        assert part == wanted


def test_an_equal_frame_is_the_very_packet_whatever_was_repainted() -> None:
    canvas = np.zeros((90, 200, 4), dtype=np.uint8)
    canvas[20:40, 30:150] = (200, 100, 50, 255)
    coder, coded, whole = ProresCoder((200, 90)), coded_frame("prores", (200, 90)), IntBox(0, 0, 200, 90)
    first = coded.renewed(coder.change(Frame(0, canvas, (whole,))))
    assert coded.renewed(coder.change(Frame(1, canvas, (whole,)))) is first
    assert coded.renewed(coder.change(Frame(2, canvas, ()))) is first
    canvas[30, 40] = (0, 0, 0, 0)
    change = coder.change(Frame(3, canvas, (IntBox(10, 10, 60, 60),)))
    assert len(change) == 1, "one slice"
    assert coded.renewed(change) != first
