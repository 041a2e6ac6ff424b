"""Tiles of layers that were drawn, kept while there is room: the least recently used go first."""

from collections import OrderedDict
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.files.blend import as_pixels, over_spans, spans_of
from pipeline.files.boxes import IntBox
from pipeline.files.compiled import OnArrays
from pipeline.files.items import Piece
from pipeline.files.layers import Content
from pipeline.files.sprites import Drawing, Sprite

Pixels32 = NDArray[np.uint32]


class Tile(NamedTuple):
    """Pixels, the columns with ink of each row, and `over_spans` made ready to lay them on the canvas."""

    pixels: Pixels32
    spans: NDArray[np.int32]
    lay: OnArrays


Phase = tuple[int, int]
Key = tuple[tuple[Piece, ...], Phase, IntBox]
DRAWINGS = 1024
EMPTY_TILE = 64
"""What a tile without ink counts for, in bytes."""


class SpriteStore:
    """Draws tiles for a canvas when they are first wanted. `room` is how many bytes of pixels are kept."""

    def __init__(self, canvas: Pixels32, room: int) -> None:
        self._canvas, self._room, self._used = canvas, room, 0
        self._tiles: OrderedDict[Key, Tile | None] = OrderedDict()
        self._drawings: OrderedDict[Content, Drawing] = OrderedDict()

    @property
    def used(self) -> int:
        """Bytes held now."""
        return self._used

    def box(self, content: Content) -> IntBox:
        """The room that a content takes at any phase, in its own coordinates."""
        return self._drawing(content).box

    def tiles(self, content: Content, phase: Phase, seen: IntBox) -> Iterator[tuple[IntBox, Tile]]:
        """The tiles with ink that meet a box of the content's coordinates."""
        drawing = self._drawing(content)
        for place in drawing.places(seen):
            tile = self._tile(drawing, (drawing.meeting(place), phase, place))
            if tile is not None:
                yield place, tile

    def _drawing(self, content: Content) -> Drawing:
        found = self._drawings.get(content)
        if found is None:
            found = self._drawings[content] = Drawing(content)
            if len(self._drawings) > DRAWINGS:
                self._drawings.popitem(last=False)
        else:
            self._drawings.move_to_end(content)
        return found

    def _tile(self, drawing: Drawing, key: Key) -> Tile | None:
        if key in self._tiles:
            self._tiles.move_to_end(key)
            return self._tiles[key]
        tile = self._tiles[key] = self._tile_of(drawing.tile(key[2], key[1]))
        self._used += _size(tile)
        while self._used > self._room and len(self._tiles) > 1:
            self._used -= _size(self._tiles.popitem(last=False)[1])
        return tile

    def _tile_of(self, drawn: Sprite | None) -> Tile | None:
        """A drawn tile; None where it has no ink."""
        if drawn is None:
            return None
        pixels = as_pixels(drawn)
        spans = spans_of(pixels)
        return Tile(pixels, spans, over_spans.on(self._canvas, pixels, spans)) if spans.any() else None


def _size(tile: Tile | None) -> int:
    return EMPTY_TILE if tile is None else tile.pixels.nbytes + tile.spans.nbytes
