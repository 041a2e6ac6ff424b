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

AWAY, RISE = 0.85, 0.65
"""From a head's middle to the bow's foot, and from there to its point, in staff spaces."""


def bend_signs(brush: Brush, note: Note, heads: Sequence[Box], below: bool, space: float) -> list[Mark]:
    """Pointed bows from head to head, on the side away from the stem; a hook where no head follows."""
    if not bend_turns(note) or not heads:
        return []
    side = 1.0 if below else -1.0
    outlines = [_bow(one, other, side, space) for one, other in pairwise(heads)]
    if not any(pitch is not None for pitch in bent_pitches(note)):
        outlines.append(_hook(heads[0], space))
    stroke = brush.stroke("ink", brush.weight("stem") * 0.8)
    return [Path(outline, stroke=stroke, name="staff bend") for outline in outlines]


def _bow(one: Box, other: Box, side: float, space: float) -> Outline:
    """Two straight lines that meet in a point over (or under) the middle between two heads."""
    (x0, y0), (x1, y1) = one.centre, other.centre
    feet = y0 + side * AWAY * space, y1 + side * AWAY * space
    outer = max(feet) if side > 0 else min(feet)
    return polyline(((x0, feet[0]), ((x0 + x1) / 2, outer + side * RISE * space), (x1, feet[1])))


def _hook(head: Box, space: float) -> Outline:
    """A short line that bends upwards."""
    x, y = head.right + space * 0.25, head.centre[1]
    pen = Pen().move(x, y)
    return pen.cubic(x + space * 0.6, y, x + space * 0.8, y - space * 0.4, x + space * 0.8, y - space).outline
