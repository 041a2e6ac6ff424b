"""Rectangles of whole pixels."""

import numpy as np
import pytest

from pipeline.drawing.picture import Box
from pipeline.files.boxes import EMPTY, IntBox, around, merged, nearest


def test_half_open_boxes() -> None:
    box = IntBox(2, 3, 12, 8)
    assert (box.width, box.height, box.area) == (10, 5, 50)
    assert box.cut(IntBox(10, 0, 20, 5)) == IntBox(10, 3, 12, 5)
    assert not box.cut(IntBox(12, 0, 20, 5))
    assert box.cut(IntBox(12, 0, 20, 5)).area == 0
    assert box.union(IntBox(0, 4, 3, 20)) == IntBox(0, 3, 12, 20)
    assert box.moved(-2, 1) == IntBox(0, 4, 10, 9)
    assert not EMPTY


def test_whole_pixels_around_and_nearest() -> None:
    assert around(Box(1.2, 2.0, 3.0, 4.5)) == IntBox(1, 2, 5, 7)
    assert around(Box(1.2, 2.0, 3.0, 4.5), 1.0) == IntBox(0, 1, 6, 8)
    assert nearest(Box(1.5, 2.4, 3.0, 4.0)) == IntBox(2, 2, 5, 6)


def test_merging_keeps_every_pixel_and_little_more() -> None:
    random = np.random.default_rng(5)
    for _ in range(50):
        corners = random.integers(0, 40, (6, 2))
        boxes = [IntBox(int(x), int(y), int(x + w), int(y + h)) for (x, y), (w, h) in
                 zip(corners, random.integers(0, 15, (6, 2)), strict=True)]  # fmt: skip
        before, after = painted(boxes), painted(list(merged(boxes)))
        assert not (before & ~after).any()
        assert len(merged(boxes)) <= len([box for box in boxes if box])


def painted(boxes: list[IntBox]) -> np.ndarray:
    mask = np.zeros((60, 60), bool)
    for box in boxes:
        mask[box.top : box.bottom, box.left : box.right] = True
    return mask


@pytest.mark.parametrize(
    ("boxes", "count"),
    [
        ([(0, 0, 10, 10), (0, 0, 10, 10)], 1),
        ([(0, 0, 10, 10), (1, 0, 11, 10)], 1),
        ([(0, 0, 10, 10), (50, 50, 60, 60)], 2),
        ([(0, 0, 10, 10), (10, 0, 20, 10)], 1),
        ([(0, 0, 10, 10), (20, 0, 30, 10), (8, 0, 22, 10)], 1),
        ([(0, 0, 0, 10)], 0),
    ],
)
def test_boxes_join_where_that_costs_little(boxes: list[tuple[int, int, int, int]], count: int) -> None:
    assert len(merged(IntBox(*box) for box in boxes)) == count
