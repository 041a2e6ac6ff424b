"""What strokes cost: alternation, crossings inside and outside, economy, repeats, pinches, starts.

A down stroke moves towards string 1. Crossing to a thinner string with an upstroke leads the pick around
both strings (outside); with a downstroke after an upstroke it stays between them (inside).
"""

from typing import Literal

from pipeline.music.note import Stroke
from pipeline.reasoning import costs

Turn = Literal[0, 1, 2]
"""0 the string stays, 1 to a thinner string, 2 to a thicker one."""
STROKES: tuple[Stroke, Stroke] = ("down", "up")
Crossing = Literal["inside", "outside"]


def crossing(turn: int, stroke: int, then: int) -> Crossing | None:
    """The label of a string change between two strokes in turn; None where there is none."""
    if turn == 0 or stroke == then:
        return None
    return "inside" if (turn == 1) == (then == 0) else "outside"


def cause_of(turn: int, stroke: int, then: int) -> int | None:
    """The column of the cost of one stroke after another, None where it costs nothing."""
    if stroke != then:
        label = crossing(turn, stroke, then)
        return None if label is None else (costs.INSIDE if label == "inside" else costs.OUTSIDE)
    onward = (turn == 1 and stroke == 0) or (turn == 2 and stroke == 1)
    return costs.ECONOMY if onward else costs.REPEATED_STROKE


def stroke_causes(turn: int, stroke: int, then: int, kind: str, pinched: bool) -> tuple[int, ...]:
    """Columns of every stroke cost at a moment. `kind` is `picked`, `slurred` or `fresh` (after a rest)."""
    if kind == "slurred":
        return ()
    first = cause_of(turn, stroke, then) if kind == "picked" else (costs.UPSTROKE_START if then else None)
    pinch = (costs.PINCH_UPSTROKE,) if pinched and then == 1 else ()
    return pinch if first is None else (first, *pinch)
