"""The rows of a laid-out fragment as pictures of their own, nothing lit: pages break between them.

A row on paper never moves, so it takes no more height than its own notes need: it has only the lanes that
something stands in, and its staff stands close over them.
"""

from dataclasses import dataclass, replace
from fractions import Fraction

from pipeline.drawing.bounds import ink, union
from pipeline.drawing.picture import Group, Mark, Picture
from pipeline.views.bars import piece_group, prefix_group
from pipeline.views.brush import Brush
from pipeline.views.digits import digit_group
from pipeline.views.lanes import measure_strip
from pipeline.views.paging import at_place
from pipeline.views.rows import Laid, edge
from pipeline.views.strip import System
from pipeline.views.techniques import piece_notes

NEAR = 0.45
"""Between a staff and what stands under it, in small type sizes."""
TALLEST = 1e9


@dataclass(frozen=True)
class PageRow:
    """A row at rest, and the beats it holds: [start, end)."""

    picture: Picture
    start: Fraction
    end: Fraction


def page_rows(laid: Laid | None) -> tuple[PageRow, ...]:
    """Every row, in order; none where nothing is laid out."""
    if laid is None:
        return ()
    return tuple(_row(laid, system) for system in laid.systems)


def _row(laid: Laid, system: System) -> PageRow:
    brush = _fitted(laid.brush, system)
    above = _above(laid, brush, system)
    over = union([ink(mark) for mark in above])
    top = edge(laid.stage) - min(0.0, over.y if over else 0.0)
    height = top + brush.sheet.sizes.height + edge(laid.stage)
    groups = (Group(above, name="staff"), *_strip(brush, system))
    marks = tuple(at_place(group, laid.left, top, 1.0) for group in groups)
    picture = Picture(float(laid.stage.width), height, marks)
    return PageRow(picture, system.start, system.placed[-1].piece.end)


def _fitted(brush: Brush, system: System) -> Brush:
    """The brush for one row: the sizes of all, the lanes of its own notes."""
    sheet = brush.sheet
    own = sheet.fragment.with_notes(sheet.fragment.notes[index] for index in sorted(system.xs))
    sizes = sheet.sizes
    fitted = measure_strip(own, sheet.wants, TALLEST, sizes.small, sizes.gap, sizes.digit)
    return Brush(replace(sheet, sizes=fitted), brush.stage)


def _strip(brush: Brush, system: System) -> list[Group]:
    groups = [prefix_group(brush, system)]
    for placed in system.placed:
        groups.append(piece_group(brush, system, placed))
        groups += (digit_group(brush, system, index, "rest") for index in piece_notes(placed))
    return groups


def _above(laid: Laid, brush: Brush, system: System) -> tuple[Mark, ...]:
    """What stands over the strip, moved down to it; the line that joins the two still reaches the strings."""
    if laid.over is None:
        return ()
    marks = list(laid.over.prefix(brush, system))
    for piece in range(len(system.placed)):
        marks += laid.over.standing(brush, system, piece)
    low = union([ink(mark) for mark in marks if mark.name != "bar line"])
    down = max(0.0, -NEAR * brush.sheet.sizes.small - (low.bottom if low else 0.0))
    return (Group(tuple(marks), (1.0, 0.0, 0.0, 1.0, 0.0, down), name="over"),)
