"""Hard clues that no reading can meet together: the smallest sets, found by leaving clues out."""

from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from itertools import combinations

import numpy as np

from pipeline.errors import Fault, Faulty
from pipeline.music.fragment import Fragment
from pipeline.reasoning.clue import described
from pipeline.reasoning.costs import HARD
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.lattice import lattice_of
from pipeline.reasoning.limits import Limits, Region, together
from pipeline.reasoning.moments import Times, spoken
from pipeline.reasoning.search import search
from pipeline.reasoning.spot import spot

MOST_SETS = 3
MOST_TRIES = 3000
"""Smaller sets are sought by trying all of a size, up to this many tries."""


def conflict_of(
    fragment: Fragment,
    habits: Habits,
    limits: Sequence[Limits],
    times: Times | None = None,
    region: Region | None = None,
) -> Faulty:
    """The fault to raise for a fragment that has no reading: each smallest set of clues that conflict, or
    the first note at which what is fixed contradicts, or the region that is too small."""
    place = spot(fragment)
    sets = conflicts(fragment, habits, limits, times)
    if sets == ((),):
        at = _first_impossible(fragment, habits, times)
        note = spoken(fragment, at)
        wrong = f"the strings, fingers, slurs and strokes that are fixed contradict each other at {note}"
        return Faulty([Fault(spot(fragment, at), wrong, "free one of them there or before")])
    if not sets and region is not None:
        wrong = f"no reading stays within positions {region[0]} to {region[1]}"
        return Faulty([Fault(place, wrong, "give a wider region, or make its hard clues soft")])
    return Faulty(_fault(fragment, clues) for clues in sets)


def _first_impossible(fragment: Fragment, habits: Habits, times: Times | None) -> int:
    """The first note of the shortest beginning that has no reading, clues left out."""

    def fails(moments: int) -> bool:
        count = fragment.chords[moments - 1][-1] + 1
        part = fragment.but(notes=fragment.notes[:count], clues=())
        return not _possible(part, habits, Limits(), None if times is None else times[:count])

    moments = bisect_left(range(1, len(fragment.chords) + 1), True, key=fails)
    return fragment.chords[min(moments, len(fragment.chords) - 1)][0]


def _fault(fragment: Fragment, clues: Sequence[int]) -> Fault:
    names = " and ".join(described(fragment, fragment.clues[i]) for i in clues)
    place = spot(fragment, fragment.clues[clues[0]].note)
    if len(clues) == 1:
        return Fault(place, f"no reading can meet {names}", "take it away or make it soft")
    wrong = f"no reading can meet {len(clues)} clues together: {names}"
    return Fault(place, wrong, "take one of them away or make it soft")


def conflicts(
    fragment: Fragment, habits: Habits, limits: Sequence[Limits], times: Times | None = None
) -> tuple[tuple[int, ...], ...]:
    """Sets of hard clues that conflict, the smallest first; `((),)` where the fixed parts alone do."""

    def possible(clues: Iterable[int]) -> bool:
        return _possible(fragment, habits, together(limits[i] for i in clues), times)

    hard = [i for i, clue in enumerate(fragment.clues) if clue.strength == 1]
    if not possible(()):
        return ((),)
    found, left = list[tuple[int, ...]](), hard
    while len(found) < MOST_SETS and not possible(left):
        smallest = _smaller(_minimal(left, possible), left, possible)
        found.append(smallest)
        left = [i for i in left if i not in smallest]
    return tuple(sorted(found, key=lambda clues: (len(clues), clues)))


def _possible(fragment: Fragment, habits: Habits, limits: Limits, times: Times | None) -> bool:
    lattice = lattice_of(fragment, habits, limits, times)
    pulls = np.zeros((1, len(lattice.chain.between)), np.int64)
    return int(search(lattice.chain, pulls, lattice.width)[2][0]) < HARD


def _minimal(clues: Sequence[int], possible: Callable[[Iterable[int]], bool]) -> tuple[int, ...]:
    """A set of which no part conflicts, by taking away one clue after another."""
    kept = list(clues)
    for clue in clues:
        rest = [i for i in kept if i != clue]
        if not possible(rest):
            kept = rest
    return tuple(kept)


def _smaller(
    known: tuple[int, ...], clues: Sequence[int], possible: Callable[[Iterable[int]], bool]
) -> tuple[int, ...]:
    """The first smaller set that conflicts, else the known one."""
    tries = 0
    for size in range(1, len(known)):
        for some in combinations(clues, size):
            tries += 1
            if tries > MOST_TRIES:
                return known
            if not possible(some):
                return some
    return known
