"""What can be measured on the marks of one finished picture: sizes, characters, room, overlaps, contrast.

Contrast is that of a mark with what lies under its ink, drawn. Words stand on everything that is no word;
marks that carry meaning stand on the grounds of the look. A thin line that crosses a letter does not make
it illegible, so the contrast that counts is the one that four fifths of the ink reach.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.drawing.affine import growth
from pipeline.drawing.contrast import contrast, over
from pipeline.drawing.look import Look
from pipeline.drawing.overlap import Leaf, covered, leaves, overlaps
from pipeline.drawing.picture import Affine, Box, Colour, Group, Image, Mark, Path, Picture, Text
from pipeline.drawing.typeface import missing_characters
from pipeline.files.raster import rasterise

LOUD = (
    "string", "fret-wire", "nut", "bar-line", "note", "sounding", "next", "accent", "hand", "stroke",
    "warn", "differ", "reading-a", "reading-b", "reading-c", "wave", "ink", "ink-soft", "past",
)  # fmt: skip
"""Roles of shapes that carry meaning. The others divide, decorate or are a ground themselves."""
REACHED_BY = 20
"""Percent of the ink that may have less contrast than is measured."""
SLACK = 0.6
"""Pixels by which the blur of an edge may pass a border."""
DENSE = 216
"""Alpha from which a colour counts as that colour and not as a tint of what lies under it."""
PASSING = ("cursor line",)
"""Marks that cross letters for a moment only."""
HIDDEN = 0.5
"""A mark of which no more than this share is seen lies under another on purpose, and is not judged."""
GRID = (24, 12)
"""Points looked at across and down a mark at most."""
LIT = 0.98
"""Opacity from which a mark counts as come; below it, it comes or goes."""
Points = NDArray[np.float64]


class Least(NamedTuple):
    """The worst value of one measure, and the mark that has it."""

    value: float
    label: str = ""
    box: Box = Box(0, 0, 0, 0)


NOTHING = Least(float("inf"))


def words(found: Iterable[Leaf]) -> Iterator[tuple[Leaf, Text]]:
    """The texts among marks that draw."""
    for leaf in found:
        if isinstance(leaf.mark, Text):
            yield leaf, leaf.mark


def smallest_text(found: Iterable[Leaf], height: float) -> Least:
    """The smallest type size as a share of the frame's height."""
    sizes = (
        Least(text.size * growth(leaf.affine) / height, text.text, leaf.box) for leaf, text in words(found)
    )
    return min(sizes, default=NOTHING)


def unwritable(found: Iterable[Leaf]) -> str:
    """Characters that no glyph exists for, each once."""
    return "".join(
        dict.fromkeys("".join(missing_characters(text.text, text.face) for _, text in words(found)))
    )


def free_room(found: Iterable[Leaf], room: Box, only_words: bool = False) -> Least:
    """The least distance in pixels from a mark to the border of a room; negative outside."""
    chosen = (leaf for leaf in found if leaf.is_text or not only_words)
    return min((Least(_margin(leaf.box, room), leaf.label, leaf.box) for leaf in chosen), default=NOTHING)


def _margin(box: Box, room: Box) -> float:
    return min(box.x - room.x, box.y - room.y, room.right - box.right, room.bottom - box.bottom)


def words_in_each_other(picture: Picture) -> tuple[Least, ...]:
    """Every pair of texts that lie on one another, with the square pixels of common ink."""
    return tuple(Least(one.area, f"{one.one} / {one.other}", one.box) for one in overlaps(settled(picture)))


def settled(picture: Picture) -> Picture:
    """The picture without what comes or goes."""
    marks = tuple(kept for mark in picture.marks if (kept := _settled(mark)) is not None)
    return Picture(picture.width, picture.height, marks, picture.background)


@lru_cache(maxsize=4096)
def _settled(mark: Mark) -> Mark | None:
    if not isinstance(mark, Group):
        return mark
    if mark.opacity < LIT:
        return None
    marks = tuple(kept for one in mark.marks if (kept := _settled(one)) is not None)
    return mark if marks == mark.marks else Group(marks, mark.transform, mark.opacity, mark.clip, mark.name)


def word_contrast(picture: Picture, ground: Colour) -> Least:
    """The lowest contrast of a text with what it stands on; `ground` lies under the picture."""
    picture = settled(picture)
    drawn = tuple(leaves(picture.marks))
    chosen = [(n, leaf.mark.fill) for n, leaf in enumerate(drawn) if isinstance(leaf.mark, Text)]
    return _least_contrast(drawn, chosen, _bare(picture, frozenset()), ground)


def mark_contrast(picture: Picture, ground: Colour, look: Look) -> Least:
    """The lowest contrast of a mark that carries meaning with the grounds of its look."""
    picture, loud = settled(picture), frozenset(look.colour(role) for role in LOUD)
    drawn = tuple(leaves(picture.marks))
    colours = ((n, _loud_colour(leaf.mark, loud)) for n, leaf in enumerate(drawn))
    chosen = [(n, colour) for n, colour in colours if colour is not None]
    return _least_contrast(drawn, chosen, _bare(picture, loud), ground)


def _loud_colour(mark: Mark, loud: frozenset[Colour]) -> Colour | None:
    """The colour of a look's meaning that a shape is drawn in."""
    if not isinstance(mark, Path):
        return None
    drawn = (mark.fill, mark.stroke.colour if mark.stroke else None)
    seen = (colour for colour in drawn if colour is not None and colour.alpha >= DENSE)
    return next((colour for colour in seen if colour._replace(alpha=255) in loud), None)


def _bare(picture: Picture, loud: frozenset[Colour]) -> Picture:
    """The picture without words and without shapes in those colours."""
    marks = tuple(kept for mark in picture.marks if (kept := _bare_mark(mark, loud)) is not None)
    return Picture(picture.width, picture.height, marks, picture.background)


@lru_cache(maxsize=4096)
def _bare_mark(mark: Mark, loud: frozenset[Colour]) -> Mark | None:
    if not isinstance(mark, Group):
        gone = isinstance(mark, Text) or mark.name in PASSING or _loud_colour(mark, loud) is not None
        return None if gone else mark
    marks = tuple(kept for one in mark.marks if (kept := _bare_mark(one, loud)) is not None)
    return Group(marks, mark.transform, mark.opacity, mark.clip, mark.name)


def _least_contrast(
    drawn: Sequence[Leaf], chosen: Sequence[tuple[int, Colour]], under: Picture, ground: Colour
) -> Least:
    """The lowest contrast of the chosen marks (their places among all that are drawn, and their colours)."""
    if not chosen:
        return NOTHING
    canvas = rasterise(Picture(under.width, under.height, under.marks, ground))[:, :, :3]
    found = NOTHING
    for place, colour in chosen:
        leaf = drawn[place]
        ink = _ink_points(leaf.mark, leaf.affine, leaf.box)
        shown = _shown(ink, [one for one in drawn[place + 1 :] if one.hides and one.box.meets(leaf.box)])
        if len(shown) <= len(ink) * HIDDEN:
            continue
        inside = shown[((shown >= 0) & (shown < canvas.shape[1::-1])).all(axis=1)].astype(int)
        if len(inside):
            seen = canvas[inside[:, 1], inside[:, 0]]
            value = float(np.percentile(_contrasts(colour, seen), REACHED_BY))
            found = min(found, Least(value, leaf.label, leaf.box))
    return found


def _shown(points: Points, above: Sequence[Leaf]) -> Points:
    """The points that no opaque mark above hides."""
    for leaf in above:
        points = points[~covered(leaf, points)]
    return points


@lru_cache(maxsize=8192)
def _ink_points(mark: Path | Text | Image, affine: Affine, box: Box) -> Points:
    """Points of the picture, on a grid over the box, that lie in a mark's ink."""
    xs, ys = (
        np.arange(max(1, min(most, round(size)))) * (size / max(1, min(most, round(size)))) + start
        for most, size, start in ((GRID[0], box.width, box.x + 0.5), (GRID[1], box.height, box.y + 0.5))
    )
    points = np.stack([axis.ravel() for axis in np.meshgrid(xs, ys)], axis=1)
    kept: Points = points[covered(Leaf("", mark, affine, box, False), points)]
    return kept


def _contrasts(colour: Colour, seen: NDArray[np.uint8]) -> Points:
    """The contrast of a colour with each of some pixels (n, 3) that it lies over."""
    pixels, counts = np.unique(seen, axis=0, return_counts=True)
    values = [_contrast(colour, Colour(*map(int, pixel))) for pixel in pixels]
    return np.repeat(np.array(values), counts)


@lru_cache(maxsize=65536)
def _contrast(colour: Colour, under: Colour) -> float:
    return contrast(over(colour, under), under)
