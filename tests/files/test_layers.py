"""Layers: what is taken off a group so that a moving thing keeps its sprite, and what is kept of sprites."""

import numpy as np
import pytest

from pipeline.drawing.affine import moved, scaled, turned
from pipeline.drawing.outline import circle, rect
from pipeline.drawing.picture import Box, Colour, Group, Path, Text
from pipeline.files.boxes import IntBox
from pipeline.files.layers import Contents
from pipeline.files.sprites import LARGEST, TILE, Drawing
from pipeline.files.spritestore import SpriteStore

INK = Colour(255, 255, 255)
CANVAS = np.zeros((64, 64), np.uint32)
DOT = Path(circle(0, 0, 9), INK)


@pytest.mark.parametrize(
    ("shift", "place", "phase"),
    [
        ((3.0, 4.0), (3, 4), (0, 0)),
        ((3.25, 4.5), (3, 4), (1, 2)),
        ((3.1, 3.9), (3, 4), (0, 0)),
        ((3.13, -0.1), (3, 0), (1, 0)),
        ((-0.25, -3.4), (-1, -4), (3, 2)),
    ],
)
def test_a_shift_becomes_whole_pixels_and_quarters(
    shift: tuple[float, float], place: tuple[int, int], phase: tuple[int, int]
) -> None:
    layer = Contents().layer(Group((DOT,), moved(*shift)))
    assert ((layer.x, layer.y), layer.phase) == (place, phase)


def test_a_moving_group_keeps_its_content() -> None:
    contents, group = Contents(), Group((DOT, Text(0, 0, "7", 20, INK)))
    first, second = (contents.layer(group.moved(x, 0)) for x in (10.0, 20.5))
    assert first.content is second.content
    assert contents.layer(Group((DOT, Text(0, 0, "7", 20, INK)), moved(5, 5))).content is first.content


def test_wrapping_groups_are_taken_off() -> None:
    contents, inner = Contents(), Group((DOT, DOT), moved(1, 2), 0.5, Box(0, 0, 9, 9))
    layer = contents.layer(Group((Group((inner,), moved(10, 20), 0.5),), clip=Box(12, 0, 100, 100)))
    assert (layer.x, layer.y, layer.opacity) == (11, 22, 64)
    assert layer.cut == IntBox(12, 20, 19, 29)
    assert layer.content is contents.layer(Group((DOT, DOT))).content


def test_cuts_that_do_not_meet_leave_nothing() -> None:
    layer = Contents().layer(Group((Group((DOT,), clip=Box(50, 50, 9, 9)),), clip=Box(0, 0, 9, 9)))
    assert layer.cut is not None
    assert not layer.cut


def test_a_turned_group_is_content() -> None:
    contents = Contents()
    turning = contents.layer(Group((Group((DOT,), clip=Box(0, 0, 5, 5)),), turned(30)))
    assert turning.cut is None
    assert isinstance(turning.content.marks[0], Group)
    assert contents.layer(Group((DOT,), scaled(2))).content is not contents.layer(DOT).content


def test_few_contents_are_remembered() -> None:
    contents = Contents(size=4)
    first = contents.layer(Group((DOT,)))
    for n in range(20):
        contents.layer(Group((Text(0, 0, str(n), 9, INK),)))
    assert contents.layer(Group((DOT,))).content is not first.content


def strip(length: float) -> Drawing:
    return Drawing(Contents().layer(Group((Path(rect(Box(0, 0, length, 300)), INK),))).content)


def test_small_contents_are_one_tile_and_large_ones_a_grid() -> None:
    everything = IntBox(-9999, -9999, 9999, 9999)
    assert len(list(strip(200).places(everything))) == 1
    tiles = list(strip(3000).places(everything))
    assert all(tile.area <= TILE * TILE for tile in tiles)
    assert sum(tile.area for tile in tiles) == strip(3000).box.area > LARGEST
    assert len(list(strip(3000).places(IntBox(1030, 0, 1100, 50)))) == 1
    assert list(strip(3000).places(IntBox(5000, 0, 5100, 50))) == []


def test_a_tile_without_ink_is_none() -> None:
    corners = Group((DOT, Path(circle(900, 900, 9), INK)))
    drawing = Drawing(Contents().layer(corners).content)
    tiles = {place: drawing.tile(place, (0, 0)) for place in drawing.places(IntBox(-99, -99, 999, 999))}
    assert sum(tile is not None for tile in tiles.values()) < len(tiles) / 2


def test_the_store_keeps_to_its_room_and_draws_again() -> None:
    room = 10 * TILE * TILE * 4
    store, content = (
        SpriteStore(CANVAS, room),
        Contents().layer(Group((Path(rect(Box(0, 0, 9000, 300)), INK),))).content,
    )
    first = [tile.pixels.copy() for _, tile in store.tiles(content, (1, 0), IntBox(0, 0, 300, 300))]
    for x in range(0, 9000, 200):
        list(store.tiles(content, (1, 0), IntBox(x, 0, x + 200, 300)))
        assert store.used <= room
    again = [tile.pixels for _, tile in store.tiles(content, (1, 0), IntBox(0, 0, 300, 300))]
    assert all(np.array_equal(a, b) for a, b in zip(first, again, strict=True))


def test_contents_that_share_marks_share_tiles() -> None:
    contents, store = Contents(), SpriteStore(CANVAS, 1 << 24)
    left, right = Path(rect(Box(0, 0, 500, 300)), INK), Path(rect(Box(600, 0, 500, 300)), INK)
    other = Path(rect(Box(600, 0, 500, 300)), Colour(9, 9, 9))
    seen = IntBox(0, 0, 200, 200)
    one = next(iter(store.tiles(contents.layer(Group((left, right))).content, (0, 0), seen)))
    two = next(iter(store.tiles(contents.layer(Group((left, other))).content, (0, 0), seen)))
    assert one[1] is two[1]
