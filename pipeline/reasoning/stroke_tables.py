"""The costs of strokes as tables for the search. Views know strokes without them, and load no numpy."""

import numpy as np
from numpy.typing import NDArray

from pipeline.reasoning import costs
from pipeline.reasoning.stroke_costs import stroke_causes

Ints = NDArray[np.int64]


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
