"""Frames of film, each at the cost of what changed in it, equal to the last bit to drawing it whole.

A lasting canvas holds the last frame. For the next one the layers that differ are found (most are the very
same objects), the rectangles they leave and enter are cleared, and every layer is laid over again inside
those rectangles only, in order and with the same arithmetic as `raster.rasterise`. Layers are drawn once and
kept as tiles; those at the bottom that stand still for a while are kept as one finished ground.
"""

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from difflib import SequenceMatcher
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pipeline.drawing.picture import Colour, Mark, Picture
from pipeline.files.blend import as_pixels, over_spans, pixel_of, pixel_over
from pipeline.files.boxes import EMPTY, IntBox, merged
from pipeline.files.compiled import OnArrays
from pipeline.files.layers import Contents, Layer
from pipeline.files.raster import blank
from pipeline.files.spritestore import SpriteStore, Tile
from pipeline.timing import Rate

LEAST_ROOM = 32 << 20
"""Bytes of sprites that are kept at least; more where frames are larger: three frames of them."""
SETTLED = 12
"""Frames that a bottom layer must stand still before it is merged into the ground."""
CLEAR = Colour(0, 0, 0, 0)


@dataclass(frozen=True, eq=False)
class Frame:
    """One frame. `canvas` is the same lasting array each time: read it before asking for the next frame.

    The canvas is (h, w, 4) uint8, premultiplied, in the order R, G, B, A. `changed` covers every pixel that
    differs from the frame before; it is the whole frame at first and empty where nothing differs.
    """

    number: int
    canvas: NDArray[np.uint8]
    changed: tuple[IntBox, ...]


def frames(
    picture_at: Callable[[Fraction], Picture],
    rate: Rate,
    first: int,
    last: int,
    background: Colour | None = None,
) -> Iterator[Frame]:
    """Frames `first` up to, not including, `last`; frame n shows the picture at n / rate.

    `background` is laid under every picture; None leaves the ground as the picture has it. All pictures
    have the size of the first. Raises ValueError where one has not.
    """
    compositor: Compositor | None = None
    for number in range(first, last):
        picture = picture_at(rate.time_of(number))
        if compositor is None:
            compositor = Compositor(round(picture.width), round(picture.height), background)
        yield Frame(number, compositor.canvas, compositor.draw(picture))


@contextmanager
def seldom_collected() -> Iterator[None]:
    """Cycles of objects are looked for seldom: frames make hardly any, and looking costs 2 %."""
    before = gc.get_threshold()
    gc.set_threshold(50_000, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)


class Shown:
    """A layer on the frame: the part of it that the layer may touch, and its tiles once they are wanted."""

    __slots__ = ("extent", "layer", "tiles")

    def __init__(self, layer: Layer, extent: IntBox) -> None:
        self.layer, self.extent = layer, extent
        self.tiles: tuple[tuple[IntBox, OnArrays], ...] | None = None


class Compositor:
    """Draws pictures one after another onto a lasting canvas."""

    def __init__(self, width: int, height: int, background: Colour | None = None) -> None:
        self.canvas = blank(width, height, None)
        self._pixels = as_pixels(self.canvas)
        self._frame = IntBox(0, 0, width, height)
        self._under = pixel_of(*(background or CLEAR))
        self._contents = Contents()
        self._sprites = SpriteStore(self._pixels, max(LEAST_ROOM, 3 * self.canvas.nbytes))
        self._ground: _Ground | None = None
        self._marks: tuple[Mark, ...] | None = None
        self._layers: list[Shown] = []
        self._by_mark: dict[int, Shown] = {}

    def draw(self, picture: Picture) -> tuple[IntBox, ...]:
        """Bring the canvas to the next picture; the boxes cover every pixel that differs from the last."""
        if (round(picture.width), round(picture.height)) != (self._frame.width, self._frame.height):
            raise ValueError("every picture of a film has the same size")
        colour = pixel_over(pixel_of(*(picture.background or CLEAR)), self._under)
        if self._ground is None or self._ground.colour != colour:
            self._ground = _Ground(self.canvas, colour)
            self._take(picture)
            return self._paint((self._frame,))
        if picture.marks == self._marks:  # most are the very same objects
            return ()
        before = self._layers
        self._take(picture)
        if self._layers == before:
            self._ground.stood(len(before))
            return ()
        same, changed = _differences(before, self._layers)
        self._ground.stood(same)
        self._grow_ground()
        return self._paint(merged(one.extent for one in changed))

    def _take(self, picture: Picture) -> None:
        """Make the picture's layers the ones to be shown; those of the last picture are the same objects."""
        by_mark, marks = self._by_mark, picture.marks
        if any(id(mark) not in by_mark for mark in marks):
            by_layer = {one.layer: one for one in self._layers}
            by_mark = by_mark | {
                id(mark): self._shown(mark, by_layer) for mark in marks if id(mark) not in by_mark
            }
        self._layers = [by_mark[id(mark)] for mark in marks]
        self._marks = marks  # kept, so that no other mark takes the identity of one of them
        self._by_mark = dict(zip(map(id, marks), self._layers, strict=True))

    def _shown(self, mark: Mark, known: dict[Layer, Shown]) -> Shown:
        """The layer of a mark, which is one of those known where it is equal."""
        layer = self._contents.layer(mark)
        if layer not in known:
            known[layer] = Shown(layer, self._extent(layer))
        return known[layer]

    def _extent(self, layer: Layer) -> IntBox:
        """The part of the frame that a layer may touch."""
        if not layer.opacity:
            return EMPTY
        box = self._sprites.box(layer.content).moved(layer.x, layer.y).cut(self._frame)
        return box if layer.cut is None else box.cut(layer.cut)

    def _paint(self, boxes: tuple[IntBox, ...]) -> tuple[IntBox, ...]:
        assert self._ground is not None
        above = self._layers[self._ground.depth :]
        for box in boxes:
            self._ground.clear(self._pixels, box)
            left, top, right, bottom = box
            for one in above:
                extent = one.extent
                if extent[0] < right and left < extent[2] and extent[1] < bottom and top < extent[3]:
                    self._lay(one, extent.cut(box))
        return boxes

    def _lay(self, one: Shown, seen: IntBox) -> None:
        """Lay the part of a layer that is seen in a box, which is not empty."""
        if one.tiles is None:
            one.tiles = tuple((place, tile.lay) for place, tile in self._found(one))
        left, top, right, bottom = seen
        for (x, y, end, foot), lay in one.tiles:
            if x < right and left < end and y < bottom and top < foot:
                lay(x, y, left, top, right, bottom, one.layer.opacity)

    def _found(self, one: Shown) -> Iterator[tuple[IntBox, Tile]]:
        """The tiles that a layer shows, where they lie on the frame."""
        layer, dx, dy = one.layer, one.layer.x, one.layer.y
        for place, tile in self._sprites.tiles(layer.content, layer.phase, one.extent.moved(-dx, -dy)):
            yield place.moved(dx, dy), tile

    def _grow_ground(self) -> None:
        """Merge bottom layers that have stood still into the ground."""
        ground = self._ground
        assert ground is not None
        depth = ground.ripe()
        if depth <= ground.depth:
            return
        for one in self._layers[ground.depth : depth]:
            for place, tile in self._found(one):
                over_spans(ground.pixels, *tile[:2], *place[:2], *one.extent, np.uint32(one.layer.opacity))
            one.tiles = None  # they are hardly wanted again: the store may let them go
        ground.depth = depth


class _Ground:
    """What lies under the moving layers: a colour, then the first `depth` layers merged."""

    def __init__(self, canvas: NDArray[np.uint8], colour: int) -> None:
        self.colour = colour
        self.depth = 0
        self.pixels = np.full(canvas.shape[:2], colour, np.uint32)
        self._waited = 0
        self._lowest = 0

    def stood(self, same: int) -> None:
        """Note that the first `same` layers are those of the frame before."""
        if same < self.depth:
            self.depth = 0
            self.pixels[:] = self.colour
            self._waited = 0
        self._lowest = same if self._waited == 0 else min(self._lowest, same)
        self._waited += 1

    def ripe(self) -> int:
        """How many bottom layers may be merged now."""
        if self._waited < SETTLED:
            return 0
        self._waited = 0
        return self._lowest

    def clear(self, pixels: NDArray[np.uint32], box: IntBox) -> None:
        """Show the bare ground inside a box."""
        rows, columns = slice(box.top, box.bottom), slice(box.left, box.right)
        pixels[rows, columns] = self.pixels[rows, columns]


def _differences(before: list[Shown], after: list[Shown]) -> tuple[int, list[Shown]]:
    """How many first layers are the same, and the layers that left or came (or changed their order)."""
    shorter = min(len(before), len(after))
    head = next((i for i in range(shorter) if before[i] is not after[i]), shorter)
    rest = shorter - head
    tail = next((i for i in range(rest) if before[-1 - i] is not after[-1 - i]), rest)
    old, new = before[head : len(before) - tail], after[head : len(after) - tail]
    if len(old) <= 1 or len(new) <= 1:
        return head, old + new
    changed: list[Shown] = []
    for what, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if what != "equal":
            changed += old[a:b] + new[c:d]
    return head, changed
