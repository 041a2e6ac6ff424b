"""The rows of a laid-out fragment as pictures of their own, nothing lit: pages break between them."""

from dataclasses import dataclass
from fractions import Fraction

from pipeline.drawing.picture import Group, Picture
from pipeline.views.paging import at_place, digit, prefix, standing
from pipeline.views.rows import Laid, edge
from pipeline.views.techniques import piece_notes


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
    return tuple(_row(laid, number) for number in range(len(laid.systems)))


def _row(laid: Laid, number: int) -> PageRow:
    system, free = laid.systems[number], edge(laid.stage)
    top = free + laid.head
    groups: list[Group] = [prefix(laid, number)]
    for piece, placed in enumerate(system.placed):
        groups.append(standing(laid, number, piece))
        groups += (digit(laid, number, index, "rest") for index in piece_notes(placed))
    height = top + laid.brush.sheet.sizes.height + free
    marks = tuple(at_place(group, laid.left, top, 1.0) for group in groups)
    picture = Picture(float(laid.stage.width), height, marks)
    return PageRow(picture, system.start, system.placed[-1].piece.end)
