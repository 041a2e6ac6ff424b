"""What joins a bent note on the staff to the small heads that say where its bend leads: pointed bows.

A bend by less than a semitone leads to no line or space, so it has a hook of its own (common practice, no
source).
"""

from collections.abc import Sequence
from itertools import pairwise

from pipeline.drawing.outline import Pen, polyline
from pipeline.drawing.picture import Box, Mark, Outline, Path
from pipeline.music.bends import bend_turns
from pipeline.music.musicxml_staff import bent_pitches
from pipeline.music.note import Note
from pipeline.views.brush import Brush

AWAY, RISE, BESIDE = 0.85, 0.65, 0.2
"""From a head's middle to the bow's foot, from there to its point, and beside a stem, in staff spaces."""
Point = tuple[float, float]


def bend_signs(brush: Brush, note: Note, heads: Sequence[Box], stem_up: bool, space: float) -> list[Mark]:
    """Pointed bows over the heads, from each to the next; a hook where no head follows."""
    if not bend_turns(note) or not heads:
        return []
    first = heads[0].right + space * BESIDE if stem_up else heads[0].centre[0]
    feet = [(x, box.centre[1] - AWAY * space) for x, box in
            zip([first, *(box.centre[0] for box in heads[1:])], heads, strict=True)]  # fmt: skip
    outlines = [_bow(one, other, space) for one, other in pairwise(feet)]
    if not any(pitch is not None for pitch in bent_pitches(note)):
        outlines.append(_hook(heads[0], space))
    stroke = brush.stroke("ink", brush.weight("stem") * 0.8)
    return [Path(outline, stroke=stroke, name="staff bend") for outline in outlines]


def _bow(one: Point, other: Point, space: float) -> Outline:
    """Two straight lines from foot to foot that meet in a point over the middle."""
    middle = (one[0] + other[0]) / 2, min(one[1], other[1]) - RISE * space
    return polyline((one, middle, other))


def _hook(head: Box, space: float) -> Outline:
    """A short line that bends upwards."""
    x, y = head.right + space * 0.25, head.centre[1]
    pen = Pen().move(x, y)
    return pen.cubic(x + space * 0.6, y, x + space * 0.8, y - space * 0.4, x + space * 0.8, y - space).outline
