"""How the chain spreads over grips (forward–backward), for questions and for fitting habits.

Strokes are left out here: the spread is over fingerings alone, weighted exp(-cost). The shares order the
alternatives; they were not found calibrated, so no one is shown them as probabilities.
"""

import numpy as np
from numpy.typing import NDArray

from pipeline.reasoning.chain import FASTEST, Chain, hurried, jit, step
from pipeline.reasoning.costs import SCALE, SHIFT_SPEED

Reals = NDArray[np.float64]


@jit
def _log_sum(values, count):  # type: ignore[no-untyped-def]
    top = values[0]
    for i in range(1, count):
        top = max(top, values[i])
    total = 0.0
    for i in range(count):
        total += np.exp(values[i] - top)
    return top + np.log(total)


@jit
def fill_steps(chain, moment, terms):  # type: ignore[no-untyped-def]
    """Costs of all steps into a moment, the own costs of its grips included, in units of 1."""
    at, gap, hurry = chain.table[moment], chain.gap[moment], chain.weights[SHIFT_SPEED]
    for j in range(chain.size[moment - 1]):
        for k in range(chain.size[moment]):
            haste = hurry * min(chain.travel[at] * 1000 // gap, FASTEST)
            terms[j, k] = (chain.costs[at] + haste + chain.own[chain.first[moment] + k]) / SCALE
            at += 1


@jit
def spread(chain, width):  # type: ignore[no-untyped-def]
    """Log weight of all beginnings up to each grip, of all endings after it, and of everything."""
    count, offsets = len(chain.first), chain.offsets
    behind, onward = np.zeros(offsets[-1]), np.zeros(offsets[-1])
    terms, column = np.zeros((width, width)), np.zeros(width)
    for j in range(chain.size[0]):
        behind[j] = -chain.own[chain.first[0] + j] / SCALE
    for moment in range(1, count):
        fill_steps(chain, moment, terms)
        for k in range(chain.size[moment]):
            for j in range(chain.size[moment - 1]):
                column[j] = behind[offsets[moment - 1] + j] - terms[j, k]
            behind[offsets[moment] + k] = _log_sum(column, chain.size[moment - 1])
    for moment in range(count - 1, 0, -1):
        fill_steps(chain, moment, terms)
        for j in range(chain.size[moment - 1]):
            for k in range(chain.size[moment]):
                column[k] = onward[offsets[moment] + k] - terms[j, k]
            onward[offsets[moment - 1] + j] = _log_sum(column, chain.size[moment])
    for j in range(chain.size[count - 1]):
        column[j] = behind[offsets[count - 1] + j]
    whole = _log_sum(column, chain.size[count - 1])
    return behind, onward, whole


@jit
def _expected(chain, width, table):  # type: ignore[no-untyped-def]
    behind, onward, whole = spread(chain, width)
    offsets = chain.offsets
    shape, context, totals = chain.shape, chain.context, np.zeros(table.shape[1])
    terms, tally = np.zeros((width, width)), np.zeros(table.shape[1], np.int64)
    for moment in range(len(chain.first)):
        for k in range(chain.size[moment]):
            now = offsets[moment] + k
            totals += np.exp(behind[now] + onward[now] - whole) * table[chain.first[moment] + k]
        if moment == 0:
            continue
        fill_steps(chain, moment, terms)
        for j in range(chain.size[moment - 1]):
            for k in range(chain.size[moment]):
                before, now = offsets[moment - 1] + j, offsets[moment] + k
                log = behind[before] + onward[now] - terms[j, k] - whole
                if log < -25.0:
                    continue
                a, b = chain.first[moment - 1] + j, chain.first[moment] + k
                tally[:] = 0
                step(shape, chain.weights, chain.between, chain.span, context, moment, a, b, tally)
                mm = hurried(shape, chain.between, context, moment, a, b)
                tally[SHIFT_SPEED] += min(mm * 1000 // chain.gap[moment], FASTEST)
                totals += np.exp(log) * tally
    return totals, whole


def shares(chain: Chain, width: int) -> Reals:
    """The share of each grip of each moment, moments one after another; each moment sums to 1."""
    behind, onward, whole = spread(chain, width)
    result: Reals = np.exp(behind + onward - whole)
    return result


def expected(chain: Chain, width: int, table: NDArray[np.int64]) -> tuple[Reals, float]:
    """Expected count of every cause over all paths, and the log of their summed weight."""
    counts, whole = _expected(chain, width, table)
    return counts, float(whole)
