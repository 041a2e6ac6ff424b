"""The chain that is searched: its arrays, and what going from one grip to the next costs, compiled.

A chain has moments; each moment has grips, a block of rows in the grip table. All costs are integers.
Steps between two blocks are worked out once for every pair of blocks met in the same circumstances, and
only the hurry of a shift depends on the time between two moments.
"""

from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from pipeline.reasoning.costs import (
    CHANGED_FINGER,
    CROSS_STRING,
    CROSSED,
    FREE_SHIFT,
    JUMP,
    MOVED_REPEAT,
    ROLL,
    SHIFT,
    SHIFT_LENGTH,
    SHIFT_SPEED,
    SKIP_STRING,
    SLIDE_LENGTH,
    SPREAD,
    WALK,
)

Ints = NDArray[np.int64]
Shorts = NDArray[np.int16]
SAME_STRING, SLID, TIED, HAMMERED, SLIPPED, OTHER_STRING, MOVED = range(7)
"""Columns of `links`: how a moment must follow the one before it."""
LINKS = 7
POSITION, LOW, HIGH, MASK, LOWEST, HIGHEST, SINGLE = range(7)
"""Columns of the grip table: hand position, thinnest and thickest string, strings as bits, lowest and
highest fret under a finger (0 for none), the finger of a single note."""
FRET, STRINGS, COLUMNS = 7, 12, 17
"""From these columns on: the fret under each finger (0 to 4), and the strings it holds as bits."""
REST, REPEAT, FIRST_LINK = 0, 1, 2
"""Columns of `context`: after a rest, the same pitches again, then the links."""
FASTEST = 4000
"""A shift in mm a second counts at most this much."""


class Chain(NamedTuple):
    """All that the search needs, for E moments, G grips and P frets or positions.

    `shape` is G x 17, `own` the cost of each grip by itself, `between` P x P millimetres. `first` and `size`
    give the block of each moment, `offsets` where it begins when all blocks are laid one after another, and
    `gap` the milliseconds since the moment before. `context` is E x 9, `strokes` E x 3 x 2 x 2 and `start` 2
    integer costs. `costs` and `travel` hold the steps of all pairs of blocks, `table` where those into each
    moment begin.
    """

    first: Ints
    size: Ints
    gap: Ints
    context: Ints
    strokes: Ints
    start: Ints
    shape: Ints
    own: Ints
    between: Ints
    span: int
    weights: Ints
    offsets: Ints
    table: Ints
    costs: Ints
    travel: Shorts


def jit(function: Any) -> Any:
    """Compile a function, once for all runs; for this run alone where nothing can be kept on disk."""
    try:
        return njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:
        return njit(nogil=True, error_model="numpy")(function)


@jit
def count_fingers(shape, weights, a, b, sliding, tally):  # type: ignore[no-untyped-def]
    """Cost of what each finger does from grip a to grip b; counts go to `tally`."""
    total = 0
    for finger in range(1, 5):
        before, after = shape[a, FRET + finger], shape[b, FRET + finger]
        if before == 0 or after == 0:
            continue
        shared = (shape[a, STRINGS + finger] & shape[b, STRINGS + finger]) != 0
        if before == after and not shared:
            total += weights[ROLL]
            tally[ROLL] += 1
        elif before != after and shared and not sliding:
            total += weights[WALK]
            tally[WALK] += 1
        elif before != after and not shared:
            total += weights[JUMP]
            tally[JUMP] += 1
    one, two = shape[a, SINGLE], shape[b, SINGLE]
    if one > 0 and two > 0 and not sliding:
        rise = shape[b, LOWEST] - shape[a, LOWEST]
        if (two - one) * rise < 0 and -2 <= rise <= 2:
            total += weights[CROSSED]
            tally[CROSSED] += 1
    return total


@jit
def count_spread(shape, weights, between, span, a, b, tally):  # type: ignore[no-untyped-def]
    """Cost of two moments in one position that lie further apart than the hand spans."""
    if shape[a, LOWEST] == 0 or shape[b, LOWEST] == 0:
        return 0
    low = min(shape[a, LOWEST], shape[b, LOWEST])
    high = max(shape[a, HIGHEST], shape[b, HIGHEST])
    wide = max(0, between[low, high] - span)
    tally[SPREAD] += wide
    return weights[SPREAD] * wide


@jit
def count_shift(shape, weights, between, a, b, rest, sliding, tally):  # type: ignore[no-untyped-def]
    """Cost of moving the hand, its hurry left out."""
    mm = between[shape[a, POSITION], shape[b, POSITION]]
    if sliding:
        tally[SLIDE_LENGTH] += mm
        return weights[SLIDE_LENGTH] * mm
    free = rest or shape[a, LOWEST] == 0 or shape[b, LOWEST] == 0
    kind = FREE_SHIFT if free else SHIFT
    tally[kind] += 1
    tally[SHIFT_LENGTH] += mm
    return weights[kind] + weights[SHIFT_LENGTH] * mm


@jit
def broken_links(shape, a, b, context, moment):  # type: ignore[no-untyped-def]
    """Cost of every link of a moment that grips a and b break."""
    total = 0
    shared = (shape[a, MASK] & shape[b, MASK]) != 0
    moved = shape[a, POSITION] != shape[b, POSITION]
    fingered = shape[a, LOWEST] > 0 and shape[b, LOWEST] > 0
    alike = False
    for finger in range(5):
        if shape[a, STRINGS + finger] & shape[b, STRINGS + finger]:
            alike = True
    one, two = shape[a, SINGLE], shape[b, SINGLE]
    rise = shape[b, LOWEST] - shape[a, LOWEST]
    ordered = one <= 0 or two <= 0 or (two - one) * rise > 0
    broken = (
        not (shared and (alike or ordered or not fingered)),
        not alike,
        not (shared and not moved and (alike or not fingered)),
        not shared or alike or not ordered,
        not moved or alike,
        shared,
        not moved,
    )
    for column in range(LINKS):
        if broken[column]:
            total += context[moment, FIRST_LINK + column]
    return total


@jit
def is_sliding(context, moment):  # type: ignore[no-untyped-def]
    """Whether the hand is drawn along by a slide or a tie."""
    return context[moment, FIRST_LINK + SLID] > 0 or context[moment, FIRST_LINK + TIED] > 0


@jit
def step(shape, weights, between, span, context, moment, a, b, tally):  # type: ignore[no-untyped-def]
    """Cost of going from grip a to grip b at a moment, hurry and strokes left out; counts go to `tally`."""
    rest, sliding = context[moment, REST] > 0, is_sliding(context, moment)
    total = broken_links(shape, a, b, context, moment)
    if shape[a, POSITION] != shape[b, POSITION]:
        total += count_shift(shape, weights, between, a, b, rest, sliding, tally)
    elif not rest:
        total += count_spread(shape, weights, between, span, a, b, tally)
    if not rest:
        total += count_fingers(shape, weights, a, b, sliding, tally)
        away = max(shape[b, LOW] - shape[a, HIGH], shape[a, LOW] - shape[b, HIGH])
        if away > 0:
            total += weights[CROSS_STRING] + weights[SKIP_STRING] * (away - 1)
            tally[CROSS_STRING] += 1
            tally[SKIP_STRING] += away - 1
    if context[moment, REPEAT]:
        if shape[a, MASK] != shape[b, MASK]:
            total += weights[MOVED_REPEAT]
            tally[MOVED_REPEAT] += 1
        elif shape[a, SINGLE] != shape[b, SINGLE]:
            total += weights[CHANGED_FINGER]
            tally[CHANGED_FINGER] += 1
    return total


@jit
def hurried(shape, between, context, moment, a, b):  # type: ignore[no-untyped-def]
    """Millimetres that the hand must cover in the time of the moment."""
    if context[moment, REST] > 0 or is_sliding(context, moment):
        return 0
    return between[shape[a, POSITION], shape[b, POSITION]]


@jit
def fill_tables(shape, weights, between, span, context, first, size, moments, starts):  # type: ignore[no-untyped-def]
    """Steps into each of `moments` from the moment before: costs and hurried millimetres, at `starts`."""
    costs, travel = np.zeros(starts[-1], np.int64), np.zeros(starts[-1], np.int16)
    tally = np.zeros(64, np.int64)
    for place in range(len(moments)):
        moment = moments[place]
        at = starts[place]
        for j in range(size[moment - 1]):
            a = first[moment - 1] + j
            for k in range(size[moment]):
                b = first[moment] + k
                costs[at] = step(shape, weights, between, span, context, moment, a, b, tally)
                travel[at] = hurried(shape, between, context, moment, a, b)
                at += 1
    return costs, travel


def pair_tables(
    shape: Ints, weights: Ints, between: Ints, span: int, context: Ints, first: Ints, size: Ints
) -> tuple[Ints, Ints, Shorts]:
    """(table, costs, travel) of a chain: one table for each pair of blocks in the same circumstances."""
    if len(first) < 2:
        return np.zeros(len(first), np.int64), np.zeros(0, np.int64), np.zeros(0, np.int16)
    keys = np.column_stack([first[:-1], first[1:], context[1:]])
    _, representative, which = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    moments = representative.astype(np.int64) + 1
    starts = np.concatenate([[0], np.cumsum(size[moments - 1] * size[moments])]).astype(np.int64)
    costs, travel = fill_tables(shape, weights, between, span, context, first, size, moments, starts)
    table = np.concatenate([[0], starts[which.reshape(-1)]]).astype(np.int64)
    return table, costs, travel


@jit
def count_path(chain, grips, table):  # type: ignore[no-untyped-def]
    """What one path counts at each moment: E x causes, strokes and clues left out."""
    counts = np.zeros((len(chain.first), table.shape[1]), np.int64)
    shape, context = chain.shape, chain.context
    for moment in range(len(chain.first)):
        b = chain.first[moment] + grips[moment]
        for column in range(table.shape[1]):
            counts[moment, column] += table[b, column]
        if moment:
            a = chain.first[moment - 1] + grips[moment - 1]
            step(shape, chain.weights, chain.between, chain.span, context, moment, a, b, counts[moment])
            mm = hurried(shape, chain.between, context, moment, a, b)
            counts[moment, SHIFT_SPEED] += min(mm * 1000 // chain.gap[moment], FASTEST)
    return counts
