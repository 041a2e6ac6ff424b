"""Slides into a note from nowhere and out of it to nowhere, as short leaning lines beside its head."""

from pipeline.drawing.outline import line
from pipeline.drawing.picture import Box, Mark, Path
from pipeline.music.note import Note
from pipeline.views.brush import Brush

FREE, LONG, RISE = 0.25, 1.1, 0.35
"""Between sign and line, the line's length, and its rise to either side of the head's middle, in spaces."""


def slide_signs(brush: Brush, note: Note, head: Box, left: float, space: float) -> list[Mark]:
    """The lines of a note whose head, with its accidental, reaches to `left`."""
    y, rise, stroke = head.centre[1], RISE * space, brush.stroke("ink", brush.weight("stem") * 0.8)
    lines = []
    if note.slide_in:
        up, end = (-rise if note.slide_in == "below" else rise), left - FREE * space
        lines.append(line(end - LONG * space, y - up, end, y + up * 0.4))
    if note.slide_out:
        up, start = (-rise if note.slide_out == "up" else rise), head.right + FREE * space
        lines.append(line(start, y - up * 0.4, start + LONG * space, y + up))
    return [Path(outline, stroke=stroke, name="staff slide") for outline in lines]
