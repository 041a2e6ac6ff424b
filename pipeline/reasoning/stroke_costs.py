"""What strokes cost: alternation, crossings inside and outside, economy, repeats, pinches, starts.

A down stroke moves towards string 1. Crossing to a thinner string with an upstroke leads the pick around
both strings (outside); with a downstroke after an upstroke it stays between them (inside).
"""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.music.note import Stroke
from pipeline.reasoning import costs

Ints = NDArray[np.int64]
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


def stroke_table(weights: tuple[int, ...], kind: str, pinched: bool) -> Ints:
    """Integer costs 3 x 2 x 2 (turn, stroke before, stroke then) of one moment, heard strokes left out."""
    table = np.zeros((3, 2, 2), np.int64)
    for turn, stroke, then in np.ndindex(3, 2, 2):
        causes = stroke_causes(turn, stroke, then, kind, pinched)
        table[turn, stroke, then] = sum(weights[column] for column in causes)
    if kind == "slurred":
        table[:, 0, 1] = table[:, 1, 0] = costs.HARD
    return table


def start_costs(weights: tuple[int, ...], pinched: bool) -> Ints:
    """Integer costs of starting with a downstroke and with an upstroke."""
    up = weights[costs.UPSTROKE_START] + (weights[costs.PINCH_UPSTROKE] if pinched else 0)
    return np.array([0, up], np.int64)
