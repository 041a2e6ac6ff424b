"""The hand on the neck: a bracket of four fingers over it, its field between the strings, goal and trail."""

from functools import lru_cache

from pipeline.drawing.contrast import over
from pipeline.drawing.outline import arrow_head, line, polygon, rounded
from pipeline.drawing.picture import Box, Colour, Group, Mark, Path, Stroke
from pipeline.drawing.typeface import text_width
from pipeline.views.board import Board
from pipeline.views.hand import FINGERS, Hand
from pipeline.views.signs import centred
from pipeline.views.stage import Stage

STEPS = 12
"""Fading things take so many shades, so that frames with the same shade are the same picture."""


def hand_marks(
    board: Board, stage: Stage, hand: Hand, fingers: tuple[int, ...]
) -> tuple[list[Mark], list[Mark]]:
    """The hand's field (to lie under the notes) and what stands over the neck."""
    over: list[Mark] = []
    if hand.before is not None and hand.left_for > 0:
        shade = round(hand.left_for * STEPS) / STEPS
        over.append(_trail(board, stage, hand.before, hand.position, shade))
    if hand.coming is not None and abs(hand.coming - hand.position) > 0.02:
        over.append(_goal(board, stage, hand.coming, hand.coming > hand.position,
                          round(hand.nearness * STEPS) / STEPS))  # fmt: skip
    over.append(_bracket(board, stage, hand.position, fingers))
    return [hand_field(board, stage, hand.position)], over


def reach_mm(board: Board, position: float) -> tuple[float, float]:
    """From where to where the four fingers reach, held inside the window."""
    guitar, window = board.guitar, board.window
    left, right = guitar.fret_mm(max(0.0, position - 1)), guitar.fret_mm(position - 1 + FINGERS)
    return max(window.left, left), min(window.right, right)


def _lane(board: Board, stage: Stage) -> tuple[float, float]:
    """Top and height of the bracket's lane."""
    small = stage.small_type
    tall = small * 1.22
    return board.box.y - tall - small * 0.16, tall


def _span_box(board: Board, stage: Stage, position: float) -> Box:
    left, right = (board.x(mm) for mm in reach_mm(board, position))
    left, right = min(left, right), max(left, right)
    top, tall = _lane(board, stage)
    inset = stage.size("gap") * 0.2
    return Box(left + inset, top, right - left - 2 * inset, tall)


@lru_cache(maxsize=256)
def hand_field(board: Board, stage: Stage, position: float) -> Group:
    """A soft field across the strings that the hand covers."""
    left, right = reach_mm(board, position)
    corners = [(board.x(mm), board.edge(side, mm)) for mm, side in
               ((left, -1), (right, -1), (right, 1), (left, 1))]  # fmt: skip
    fill = stage.look.colour("hand").with_alpha(0.15)
    return Group((Path(polygon(corners), fill, name="hand field"),), name="hand field")


@lru_cache(maxsize=512)
def _bracket(board: Board, stage: Stage, position: float, fingers: tuple[int, ...]) -> Group:
    """The bracket with the four fingers' names, those that sound now standing out."""
    look, box = stage.look, _span_box(board, stage, position)
    weight = stage.line("ring") * 0.8
    marks: list[Mark] = [
        Path(rounded(box.inset(weight / 2), box.height * 0.3), over_panel(stage, "hand", 0.22),
             Stroke(look.colour("hand"), weight), "hand")
    ]  # fmt: skip
    size = max(stage.smallest_text, min(stage.size("finger"), box.height * 0.86))
    for finger in range(1, FINGERS + 1):
        fret = position + finger - 1
        mm = (board.guitar.fret_mm(fret) + board.guitar.fret_mm(max(0.0, fret - 1))) / 2
        x = board.x(mm)
        if not box.x + size * 0.3 < x < box.right - size * 0.3:
            continue
        marks.extend(_finger(stage, finger, x, box, size, finger in fingers))
    return Group(tuple(marks), name="hand")


def _finger(stage: Stage, finger: int, x: float, box: Box, size: float, active: bool) -> list[Mark]:
    look, y = stage.look, box.centre[1]
    if not active:
        return [centred(str(finger), x, y, size, look.colour("finger"), "semibold", f"hand finger {finger}")]
    half = max(text_width(str(finger), "black", size) / 2 + size * 0.22, box.height * 0.42)
    plate = Box(x - half, box.y + box.height * 0.1, 2 * half, box.height * 0.8)
    return [
        Path(rounded(plate, plate.height * 0.32), look.colour("sounding"), name="active finger"),
        centred(str(finger), x, y, size, look.colour("sounding-text"), "black", f"hand finger {finger}"),
    ]


def over_panel(stage: Stage, role: str, share: float) -> Colour:
    """A role's colour laid at a share over the panel: opaque, so that nothing shines through."""
    return over(stage.look.colour(role).with_alpha(share), stage.look.colour("panel"))


@lru_cache(maxsize=256)
def _goal(board: Board, stage: Stage, position: int, up: bool, shade: float) -> Group:
    """Where the hand goes next: a dashed bracket with an arrow at the end it comes to."""
    box, colour = _span_box(board, stage, position), stage.look.colour("hand")
    weight = stage.line("ring") * 0.7
    dash = (box.height * 0.22, box.height * 0.18)
    to_right = up == (board.way > 0)
    tip = box.right - box.height * 0.22 if to_right else box.x + box.height * 0.22
    head = arrow_head(tip, box.centre[1], 0 if to_right else 180, box.height * 0.4, 0.9)
    marks = (
        Path(
            rounded(box.inset(weight / 2), box.height * 0.3),
            stroke=Stroke(colour, weight, False, dash),
            name="goal",
        ),
        Path(head, colour, name="goal arrow"),
    )
    return Group(marks, opacity=shade, name="hand goes")


@lru_cache(maxsize=256)
def _trail(board: Board, stage: Stage, before: int, position: float, shade: float) -> Group:
    """The way of the last shift: a line under the lane from the old place to the new."""
    top, tall = _lane(board, stage)
    y = top + tall + (board.box.y - top - tall) * 0.5
    ends = [sum(reach_mm(board, p)) / 2 for p in (float(before), position)]
    outline = line(board.x(ends[0]), y, board.x(ends[1]), y)
    stroke = Stroke(stage.look.colour("hand"), stage.line("strong") * 0.8)
    return Group((Path(outline, stroke=stroke, name="trail"),), opacity=shade, name="trail")
