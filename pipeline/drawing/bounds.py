"""How much room a mark takes: the box around its ink, strokes, text and clips included."""

from functools import lru_cache

from pipeline.drawing.affine import box_at, compose, growth
from pipeline.drawing.outline import outline_box, transformed
from pipeline.drawing.picture import IDENTITY, Affine, Box, Group, Image, Mark, Path, Picture, Text
from pipeline.drawing.typeface import text_outline

NOTHING = Box(0.0, 0.0, 0.0, 0.0)


def bounds(mark: Mark) -> Box:
    """The box around a mark in its parent's coordinates; an empty mark has a box without area."""
    return ink(mark) or NOTHING


@lru_cache(maxsize=16384)
def ink(mark: Mark, within: Affine = IDENTITY) -> Box | None:
    """The box around a mark sent through the transform `within`; None where nothing is drawn."""
    if isinstance(mark, Group):
        return _group(mark, within)
    if isinstance(mark, Image):
        return box_at(within, mark.box)
    if isinstance(mark, Text):
        return outline_box(transformed(text_outline(mark), within))
    return _path(mark, within)


def union(boxes: list[Box | None]) -> Box | None:
    """The box around all boxes that are there."""
    whole: Box | None = None
    for box in boxes:
        if box is not None:
            whole = box if whole is None else whole.union(box)
    return whole


def cut(box: Box, clip: Box) -> Box | None:
    """The part of a box inside another."""
    x, y = max(box.x, clip.x), max(box.y, clip.y)
    right, bottom = min(box.right, clip.right), min(box.bottom, clip.bottom)
    return Box(x, y, right - x, bottom - y) if right > x and bottom > y else None


def picture_ink(picture: Picture) -> Box | None:
    """The box around everything a picture draws, its background left out."""
    return union([ink(mark) for mark in picture.marks])


def _group(group: Group, within: Affine) -> Box | None:
    inner = compose(within, group.transform)
    whole = union([ink(mark, inner) for mark in group.marks])
    if whole is None or group.clip is None:
        return whole
    return cut(whole, box_at(within, group.clip))


def _path(path: Path, within: Affine) -> Box | None:
    if path.fill is None and path.stroke is None:
        return None
    box = outline_box(transformed(path.outline, within))
    if box is None or path.stroke is None:
        return box
    return box.inset(-path.stroke.width / 2 * growth(within))
