"""The exact search over a chain: the least-cost path, and the least cost of a path through each grip.

Each grip is taken with the picking hand last moving down (0) or up (1). Costs are integers, so equal
readings are found equal, and ties fall to the grip that comes first in its block, downstroke first. Time
and memory grow with the number of moments.
"""

import numpy as np

from pipeline.reasoning.chain import FASTEST, HIGH, LOW, POSITION, jit
from pipeline.reasoning.costs import SHIFT_SPEED

NEVER = np.int64(1 << 62)


@jit
def direction(shape, a, b):  # type: ignore[no-untyped-def]
    """0 where the string stays, 1 to a thinner string, 2 to a thicker one."""
    if shape[b, LOW] > shape[a, HIGH]:
        return 2
    return 1 if shape[a, LOW] > shape[b, HIGH] else 0


@jit
def search(chain, pulls, width):  # type: ignore[no-untyped-def]
    """The least-cost path for each pull: (grips, strokes, totals), shapes Z x E, Z x E, Z.

    `pulls` is Z x P, a cost added to every hand position; totals leave it in. `width` is the largest block.
    """
    count, zones = len(chain.first), len(pulls)
    offsets = chain.offsets
    follow = np.zeros((offsets[-1], 2, zones), np.int16)
    ahead, here = np.zeros((width, 2, zones), np.int64), np.zeros((width, 2, zones), np.int64)
    for moment in range(count - 1, -1, -1):
        if moment < count - 1:
            _forget(here)
            _extend(chain, moment, ahead, here, follow[offsets[moment] : offsets[moment + 1]])
        for j in range(chain.size[moment]):
            row = chain.first[moment] + j
            for stroke in range(2):
                for zone in range(zones):
                    own = chain.own[row] + pulls[zone, chain.shape[row, POSITION]]
                    ahead[j, stroke, zone] = here[j, stroke, zone] + own
    return _follow(chain, ahead, follow, offsets)


@jit
def _forget(costs):  # type: ignore[no-untyped-def]
    """Set every cost to never."""
    flat = costs.reshape(-1)
    for i in range(len(flat)):
        flat[i] = NEVER


@jit
def _extend(chain, moment, ahead, here, follow):  # type: ignore[no-untyped-def]
    """Costs to the end from every grip of a moment, from those of the next one (`ahead`)."""
    after, zones = moment + 1, here.shape[2]
    shape, costs, travel, strokes = chain.shape, chain.costs, chain.travel, chain.strokes
    at, gap, hurry = chain.table[after], chain.gap[after], chain.weights[SHIFT_SPEED]
    first, then_first = chain.first[moment], chain.first[after]
    for j in range(chain.size[moment]):
        for k in range(chain.size[after]):
            base = costs[at] + hurry * min(travel[at] * 1000 // gap, FASTEST)
            turn = direction(shape, first + j, then_first + k)
            at += 1
            for stroke in range(2):
                for then in range(2):
                    cost = base + strokes[after, turn, stroke, then]
                    for zone in range(zones):
                        total = cost + ahead[k, then, zone]
                        if total < here[j, stroke, zone]:
                            here[j, stroke, zone] = total
                            follow[j, stroke, zone] = 2 * k + then


@jit
def _follow(chain, ahead, follow, offsets):  # type: ignore[no-untyped-def]
    """Read the paths off the table of best next grips."""
    count, zones = len(chain.first), ahead.shape[2]
    grips, strokes = np.zeros((zones, count), np.int64), np.zeros((zones, count), np.int64)
    totals = np.full(zones, NEVER)
    for zone in range(zones):
        for j in range(chain.size[0]):
            for stroke in range(2):
                total = ahead[j, stroke, zone] + chain.start[stroke]
                if total < totals[zone]:
                    totals[zone], grips[zone, 0], strokes[zone, 0] = total, j, stroke
        for moment in range(1, count):
            row = offsets[moment - 1] + grips[zone, moment - 1]
            code = follow[row, strokes[zone, moment - 1], zone]
            grips[zone, moment], strokes[zone, moment] = code // 2, code % 2
    return grips, strokes, totals


@jit
def through(chain):  # type: ignore[no-untyped-def]
    """The least total of a path through each grip of each moment, moments one after another."""
    count, offsets = len(chain.first), chain.offsets
    behind = np.full((offsets[-1], 2), NEVER)
    onward = np.full((offsets[-1], 2), NEVER)
    for j in range(offsets[count - 1], offsets[count]):
        onward[j, 0] = onward[j, 1] = 0
    for j in range(chain.size[0]):
        for stroke in range(2):
            behind[j, stroke] = chain.start[stroke] + chain.own[chain.first[0] + j]
    for after in range(1, count):
        _sweep(chain, after, True, behind, offsets)
    for after in range(count - 1, 0, -1):
        _sweep(chain, after, False, onward, offsets)
    least = np.zeros(offsets[-1], np.int64)
    for row in range(offsets[-1]):
        least[row] = min(behind[row, 0] + onward[row, 0], behind[row, 1] + onward[row, 1])
    return least


@jit
def _sweep(chain, after, forwards, sums, offsets):  # type: ignore[no-untyped-def]
    """One moment of `through`: least costs from the start (forwards), or to the end."""
    shape, costs, travel, strokes = chain.shape, chain.costs, chain.travel, chain.strokes
    at, gap, hurry = chain.table[after], chain.gap[after], chain.weights[SHIFT_SPEED]
    for j in range(chain.size[after - 1]):
        for k in range(chain.size[after]):
            a, b = chain.first[after - 1] + j, chain.first[after] + k
            before, now = offsets[after - 1] + j, offsets[after] + k
            base = costs[at] + hurry * min(travel[at] * 1000 // gap, FASTEST) + chain.own[b]
            turn = direction(shape, a, b)
            at += 1
            for stroke in range(2):
                for then in range(2):
                    cost = base + strokes[after, turn, stroke, then]
                    if forwards:
                        sums[now, then] = min(sums[now, then], sums[before, stroke] + cost)
                    else:
                        sums[before, stroke] = min(sums[before, stroke], sums[now, then] + cost)
