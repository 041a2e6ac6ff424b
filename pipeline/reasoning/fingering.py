"""Readings of a fragment: for each zone of the neck the best fingering and strokes, with every cost named.

Ordinary k-best lists return one answer with a note moved. So rivals here are the best path for each zone
of the neck, equal ones merged, in the order of their costs. The zone only chooses; it costs nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.music.fragment import Fragment
from pipeline.music.tapping import tapped
from pipeline.reasoning.chain import count_path
from pipeline.reasoning.clue import all_limits, clue_limits, kept, soft_costs
from pipeline.reasoning.conflict import conflict_of
from pipeline.reasoning.costs import HARD, NAMES, SCALE, explained, units
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.lattice import Lattice, lattice_of
from pipeline.reasoning.limits import Limits, Region, region_limits
from pipeline.reasoning.moments import Times
from pipeline.reasoning.names import told_apart, zone_name
from pipeline.reasoning.reading import Cost, Placement, Reading
from pipeline.reasoning.search import direction, search, through
from pipeline.reasoning.states import Grip
from pipeline.reasoning.stroke_costs import STROKES, stroke_causes

Ints = NDArray[np.int64]
ZONE_FRETS = 4
"""A zone holds this many hand positions."""
ZONE_STEP = 2
PULL = 0.05
"""What a millimetre outside the zone costs while the path is sought, a note."""
DIFFERENT = 4
"""A rival has at least one in this many of the notes that are open on another string."""


@dataclass(frozen=True)
class Path:
    """One path through a lattice: grip and stroke of every moment, its exact integer cost."""

    grips: tuple[int, ...]
    strokes: tuple[int, ...]
    total: int


def readings(
    fragment: Fragment,
    habits: Habits | None = None,
    times: Times | None = None,
    k: int = 4,
    region: Region | None = None,
) -> tuple[Reading, ...]:
    """Up to k readings, the cheapest first, each for another place on the neck.

    `times` gives the second of every note; without it the fragment's tempo does. Strings, frets, fingers,
    positions and strokes that the notes already have are kept, and the hand stays within `region` if one is
    given. Raises Faulty where no reading is possible.
    """
    habits = habits or Habits()
    if not fragment.notes:
        return ()
    limits = clue_limits(fragment, habits)
    stay = region_limits(region, len(fragment.chords)) if region else Limits()
    lattice = lattice_of(fragment, habits, all_limits(limits) + stay, times)
    paths = rivals(lattice, k)
    if paths[0].total >= HARD:
        raise conflict_of(fragment, habits, limits, times, region)
    hard_free = [path for path in paths if path.total < HARD]
    return told_apart([_reading(lattice, path, limits) for path in hard_free])


def best_path(lattice: Lattice) -> Path:
    """The cheapest path."""
    return _paths(lattice, np.zeros((1, len(lattice.chain.between)), np.int64))[0]


def note_margins(
    fragment: Fragment, habits: Habits | None = None, times: Times | None = None
) -> tuple[dict[int, float], ...]:
    """For every note and each string it may lie on, what the best reading with it there costs more.

    The string of the cheapest reading has 0. Strings that only break a hard clue are left out. Raises Faulty.
    """
    habits = habits or Habits()
    if not fragment.notes:
        return ()
    lattice = lattice_of(fragment, habits, all_limits(clue_limits(fragment, habits)), times)
    least, at, found = through(lattice.chain), 0, list[dict[int, float]]()
    best = int(least.min())
    for moment, group in enumerate(fragment.chords):
        grips = lattice.grips[lattice.block(moment)]
        costs = least[at : at + len(grips)].tolist()
        at += len(grips)
        found += [_margins(grips, costs, index, best) for index in range(len(group))]
    return tuple(found)


def _margins(grips: Sequence[Grip], costs: Sequence[int], index: int, best: int) -> dict[int, float]:
    cheapest: dict[int, int] = {}
    for grip, cost in zip(grips, costs, strict=True):
        string = grip.held[index].string
        cheapest[string] = min(cost, cheapest.get(string, cost))
    return {s: (cost - best) / SCALE for s, cost in sorted(cheapest.items()) if cost < HARD}


def rivals(lattice: Lattice, k: int) -> list[Path]:
    """The cheapest path, then those of other zones that differ from all before them."""
    if k <= 1:
        return [best_path(lattice)]
    paths = _paths(lattice, zone_pulls(lattice))
    ordered = [paths[0], *sorted(paths[1:], key=lambda p: (p.total, p.grips, p.strokes))]
    chosen = list[Path]()
    strings, enough = list[Ints](), max(1, _open_notes(lattice) // DIFFERENT)
    for path in ordered:
        these = _strings(lattice, path)
        if len(chosen) < k and all(np.count_nonzero(these != those) >= enough for those in strings):
            chosen.append(path)
            strings.append(these)
    return chosen


def _open_notes(lattice: Lattice) -> int:
    """How many notes have a choice of strings."""
    blocks = dict.fromkeys(zip(lattice.chain.first.tolist(), lattice.chain.size.tolist(), strict=True))
    for first, size in blocks:
        grips = lattice.grips[first : first + size]
        strings = zip(*([held.string for held in grip.held] for grip in grips), strict=True)
        blocks[first, size] = sum(len(set(some)) > 1 for some in strings)
    firsts = zip(lattice.chain.first.tolist(), lattice.chain.size.tolist(), strict=True)
    return sum(blocks[key] or 0 for key in firsts)


def zone_pulls(lattice: Lattice) -> Ints:
    """The pull of no zone, then of each zone of the neck that the notes can reach: Z x P."""
    between = lattice.chain.between
    top = int(lattice.chain.shape[:, 0].max())
    lows = range(1, max(2, top - ZONE_FRETS + 2), ZONE_STEP)
    pulls = np.zeros((1 + len(lows), len(between)), np.int64)
    for row, low in enumerate(lows, start=1):
        high = min(low + ZONE_FRETS - 1, len(between) - 1)
        pulls[row, :low] = between[:low, low]
        pulls[row, high:] = between[high:, high]
    return pulls * units(PULL)


def _paths(lattice: Lattice, pulls: Ints) -> list[Path]:
    grips, strokes, totals = search(lattice.chain, pulls, lattice.width)
    positions = lattice.chain.shape[:, 0]
    visited = positions[lattice.chain.first + grips]
    pulled = np.take_along_axis(pulls, visited, axis=1).sum(axis=1)
    return [
        Path(tuple(g.tolist()), tuple(s.tolist()), int(total - extra))
        for g, s, total, extra in zip(grips, strokes, totals, pulled, strict=True)
    ]


def _rows(lattice: Lattice, path: Path) -> Ints:
    rows: Ints = lattice.chain.first + np.array(path.grips, np.int64)
    return rows


def _strings(lattice: Lattice, path: Path) -> Ints:
    """The string of every note along a path."""
    held = (held.string for row in _rows(lattice, path) for held in lattice.grips[row].held)
    return np.fromiter(held, np.int64)


def placements(lattice: Lattice, path: Path) -> tuple[Placement, ...]:
    """Where every note lies along a path, in the order of the fragment's notes."""
    places, by_tap = list[Placement](), tapped(lattice.fragment.notes)
    for moment, row in enumerate(_rows(lattice, path)):
        grip, stroke = lattice.grips[row], None
        if lattice.kinds[moment] != "slurred":
            stroke = STROKES[path.strokes[moment]]
        for index, held in zip(lattice.fragment.chords[moment], grip.held, strict=True):
            own = None if by_tap[index] else stroke
            places.append(Placement(held.string, held.fret, held.finger, grip.position, own))
    return tuple(places)


def path_counts(lattice: Lattice, path: Path) -> Ints:
    """Counts of every cause at every moment, strokes included, clues left out."""
    counts: Ints = count_path(lattice.chain, np.array(path.grips, np.int64), lattice.counts)
    rows, shape = _rows(lattice, path), lattice.chain.shape
    before = 0
    for moment, stroke in enumerate(path.strokes):
        turn = direction(shape, rows[moment - 1], rows[moment]) if moment else 0
        for column in stroke_causes(turn, before, stroke, lattice.kinds[moment], lattice.pinched[moment]):
            counts[moment, column] += 1
        before = stroke
    return counts


def _reading(lattice: Lattice, path: Path, limits: Sequence[Limits]) -> Reading:
    fragment, places = lattice.fragment, placements(lattice, path)
    met = tuple(i for i, limit in enumerate(limits) if kept(limit, fragment, places))
    broken = tuple(i for i in range(len(limits)) if i not in set(met))
    costs = [*_costs(lattice, path), *_clue_costs(lattice, broken)]
    return Reading(zone_name(places), places, tuple(costs), met, broken)


def _costs(lattice: Lattice, path: Path) -> list[Cost]:
    counts, weights = path_counts(lattice, path), lattice.chain.weights
    amounts, gaps, chords = counts * weights, lattice.chain.gap, lattice.fragment.chords
    return [
        Cost(
            chords[m][0], NAMES[c], int(amounts[m, c]) / SCALE, explained(c, int(counts[m, c]), int(gaps[m]))
        )
        for m, c in zip(*(axis.tolist() for axis in np.nonzero(amounts)), strict=True)
    ]


def _clue_costs(lattice: Lattice, broken: Sequence[int]) -> list[Cost]:
    costs = soft_costs(lattice.fragment, lattice.habits, broken)
    return [Cost(note, "clue", amount / SCALE, words) for note, amount, words in costs]
