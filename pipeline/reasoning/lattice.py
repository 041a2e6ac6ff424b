"""From a fragment to the chain that is searched: grips, times, and the costs that clues add.

A lattice keeps the chain's arrays and the grips behind their rows. Moments that ask for the same thing
share one block of rows, so that building takes little time for long fragments.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import Fault, Faulty
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.pitch import pitch_name
from pipeline.music.tapping import tapped
from pipeline.reasoning import chain as ch
from pipeline.reasoning.costs import HARD
from pipeline.reasoning.grip_costs import block_counts
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.limits import GripLimit, Limits, penalty_of
from pipeline.reasoning.moments import (
    Times,
    crossings_of,
    gaps_of,
    moment_kinds,
    moments_pinched,
    repeated,
    spoken,
    strokes_heard,
)
from pipeline.reasoning.spot import spot
from pipeline.reasoning.states import Grip, Wanted, grips_of, places_of, wanted
from pipeline.reasoning.stroke_tables import start_costs, stroke_table

Ints = NDArray[np.int64]
SLURS = {"hammer": ch.HAMMERED, "pull": ch.HAMMERED, "slide": ch.SLID, "tie": ch.TIED}
"""Columns of the links that an attack makes."""


@dataclass(frozen=True, eq=False)
class Lattice:
    """A fragment ready for the search. `grips` follow the rows of the chain's grip table."""

    fragment: Fragment
    habits: Habits
    chain: ch.Chain
    grips: tuple[Grip, ...]
    counts: Ints
    kinds: tuple[str, ...]
    """How each moment is played: `picked`, `slurred` (or tapped), or `fresh` after a rest."""
    pinched: tuple[bool, ...]

    @property
    def width(self) -> int:
        """The largest number of grips of a moment."""
        return int(self.chain.size.max(initial=1))

    def block(self, moment: int) -> slice:
        """The rows of one moment."""
        first = int(self.chain.first[moment])
        return slice(first, first + int(self.chain.size[moment]))


@dataclass(frozen=True)
class _Block:
    first: int
    grips: tuple[Grip, ...]


_Demand = tuple[tuple[Wanted, ...], tuple[bool, ...], tuple[GripLimit, ...], int]
"""What the notes of a moment ask, which of them are bent, the limits, the picking hand's crossings."""


def lattice_of(
    fragment: Fragment, habits: Habits, limits: Limits | None = None, times: Times | None = None
) -> Lattice:
    """Build the lattice. Raises Faulty for notes that the neck has not and chords that no hand holds.

    `times` gives the second of every note; without it the fragment's tempo does.
    """
    limits = limits or Limits()
    kinds = moment_kinds(fragment, habits, limits, times)
    gaps = gaps_of(fragment, times)
    demands = _demands(fragment, limits, crossings_of(fragment, kinds, gaps, habits.rest))
    blocks, grips, counts, own = _grip_table(demands, fragment, habits)
    rests = [kind == "fresh" and gap >= habits.rest for kind, gap in zip(kinds, gaps, strict=True)]
    context = _context(fragment, limits, rests)
    first = np.array([block.first for block in blocks], np.int64)
    size = np.array([len(block.grips) for block in blocks], np.int64)
    weights, between, shape = np.array(habits.units, np.int64), _between(fragment.guitar), _shapes(grips)
    span = round(habits.hand_span)
    strokes, start = _stroke_costs(fragment, habits, limits, kinds)
    tables = ch.pair_tables(shape, weights, between, span, context, first, size)
    offsets = np.concatenate([[0], np.cumsum(size)]).astype(np.int64)
    steps = (offsets, *tables)
    chain = ch.Chain(first, size, gaps, context, strokes, start, shape, own, between, span, weights, *steps)
    return Lattice(fragment, habits, chain, grips, counts, kinds, moments_pinched(fragment))


def _grip_table(
    demands: Sequence[_Demand], fragment: Fragment, habits: Habits
) -> tuple[list[_Block], tuple[Grip, ...], Ints, Ints]:
    """Blocks of grips, one for each different demand, with their counts and costs."""
    known = dict[_Demand, _Block]()
    rows, faults, table, penalties = list[Grip](), list[Fault](), list[tuple[int, ...]](), list[int]()
    for demand, indexes in zip(demands, fragment.chords, strict=True):
        if demand in known:
            continue
        notes, bends, asked, crossings = demand
        grips = grips_of(fragment.guitar, notes)
        if not grips:
            faults.append(no_grip(fragment, indexes, notes))
        known[demand] = _Block(len(rows), grips)
        rows += grips
        table += block_counts(fragment.guitar, habits.hand, notes, bends, crossings)
        penalties += [penalty_of(grip, asked) for grip in grips]
    if faults:
        raise Faulty(faults)
    counts = np.array(table, np.int64)
    own = counts @ np.array(habits.units, np.int64) + np.array(penalties, np.int64)
    return [known[demand] for demand in demands], tuple(rows), counts, own


def _demands(fragment: Fragment, limits: Limits, crossings: Sequence[int]) -> list[_Demand]:
    """What each moment asks of its grips."""
    asked, notes = _grip_limits(limits), fragment.notes
    wants = [wanted(*pair) for pair in zip(notes, tapped(notes), strict=True)]
    return [
        (
            tuple(wants[i] for i in group),
            tuple(bool(notes[i].bend) for i in group),
            asked.get(moment, ()),
            crossings[moment],
        )
        for moment, group in enumerate(fragment.chords)
    ]


def _grip_limits(limits: Limits) -> dict[int, tuple[GripLimit, ...]]:
    found: dict[int, tuple[GripLimit, ...]] = {}
    for moment, limit in limits.grips:
        found[moment] = (*found.get(moment, ()), limit)
    return found


def no_grip(fragment: Fragment, indexes: Sequence[int], demands: Sequence[Wanted]) -> Fault:
    """Why a moment has no grip: a note off the neck, fixed parts that contradict, a chord no hand holds."""
    for index, demand in zip(indexes, demands, strict=True):
        if not any(places_of(fragment.guitar, demand)):
            return _no_place(fragment, index, demand)
    names = ", ".join(spoken(fragment, i) for i in indexes)
    if len(indexes) == 1:
        return Fault(
            spot(fragment, indexes[0]),
            f"no hand takes {names} as it is marked",
            "free its finger or position",
        )
    wrong = f"no hand can hold {names} together"
    return Fault(
        spot(fragment, indexes[0]), wrong, "check the pitches, or take a note or a fixed string away"
    )


def _no_place(fragment: Fragment, index: int, demand: Wanted) -> Fault:
    guitar, place = fragment.guitar, spot(fragment, index)
    places = list(guitar.places(demand.pitch)) if demand.pitch is not None else []
    if not places:
        low, high = min(guitar.open_pitch(s) for s in range(1, guitar.string_count + 1)), guitar.highest_fret
        top = max(guitar.open_pitch(s) for s in range(1, guitar.string_count + 1)) + high
        remedy = f"this neck goes from {pitch_name(low)} to {pitch_name(top)}"
        return Fault(place, f"{spoken(fragment, index)} is not on the neck", remedy)
    options = ", ".join(f"string {s} fret {f}" for s, f in places)
    at = f"string {demand.string or 'any'}, fret {'any' if demand.fret is None else demand.fret}"
    bent = " and bent or shaken" if demand.fretted else ""
    return Fault(place, f"{spoken(fragment, index)} cannot be at {at}{bent}", f"it lies at {options}")


def _context(fragment: Fragment, limits: Limits, rests: Sequence[bool]) -> Ints:
    """What the step into each moment depends on: a rest, a repeated pitch, the links."""
    context = np.zeros((len(fragment.chords), ch.FIRST_LINK + ch.LINKS), np.int64)
    context[:, ch.REST] = rests
    context[:, ch.REPEAT] = [repeated(fragment, moment) for moment in range(len(fragment.chords))]
    by_tap = tapped(fragment.notes)
    for moment, indexes in enumerate(fragment.chords):
        for index in indexes:
            column = SLURS.get(fragment.notes[index].attack)
            if column is not None and (by_tap[index] or fragment.notes[index].dead):
                column = ch.SAME_STRING  # no finger of the fretting hand stops it
            if column is not None and moment and _may_follow(fragment, moment, index):
                context[moment, ch.FIRST_LINK + column] = HARD
    for limit in limits.steps:
        context[limit.moment, ch.FIRST_LINK + limit.column] += limit.penalty
    return context


def _may_follow(fragment: Fragment, moment: int, index: int) -> bool:
    """Whether a slurred note can come from the moment before: not where that is written on other strings
    and its own string sounded earlier, as when another voice comes between."""
    string = fragment.notes[index].string
    before = {fragment.notes[i].string for i in fragment.chords[moment - 1]}
    if string is None or None in before or string in before:
        return True
    first = fragment.chords[moment - 1][0]
    return all(note.string != string for note in fragment.notes[:first])


def _stroke_costs(
    fragment: Fragment, habits: Habits, limits: Limits, kinds: Sequence[str]
) -> tuple[Ints, Ints]:
    pinched, weights = moments_pinched(fragment), habits.units
    known = {
        (k, p): stroke_table(weights, k, p) for k in ("picked", "slurred", "fresh") for p in (False, True)
    }
    strokes = np.array([known[pair] for pair in zip(kinds, pinched, strict=True)], np.int64)
    start = start_costs(weights, bool(pinched and pinched[0]))
    for moment, then, penalty in strokes_heard(fragment, limits, kinds):
        if moment == 0:
            start[1 - then] += penalty
        else:
            strokes[moment, :, :, 1 - then] += penalty
    return strokes.reshape(-1, 3, 2, 2), start


def _between(guitar: Guitar) -> Ints:
    """Whole millimetres between any two frets."""
    frets = np.array([guitar.fret_mm(fret) for fret in range(guitar.highest_fret + 3)])
    distances: Ints = np.rint(np.abs(frets[:, None] - frets[None, :])).astype(np.int64)
    return distances


def _shapes(grips: Sequence[Grip]) -> Ints:
    """The grip table of the chain."""
    return np.array([_shape(grip) for grip in grips], np.int64).reshape(len(grips), ch.COLUMNS)


def _shape(grip: Grip) -> list[int]:
    """One row; `lowest` and `highest` are frets under fingers, 0 where no finger is down."""
    strings = [held.string for held in grip.held]
    fingered = [held for held in grip.held if held.finger is not None]
    frets, bits = [0] * 5, [0] * 5
    for held in fingered:
        frets[held.finger or 0] = held.fret or grip.position
        bits[held.finger or 0] |= 1 << held.string
    low, high = (min(f for f in frets if f), max(frets)) if any(frets) else (0, 0)
    single = (grip.held[0].finger or 0) if len(grip.held) == 1 else 0
    mask = sum(1 << string for string in set(strings))
    return [grip.position, min(strings), max(strings), mask, low, high, single, *frets, *bits]


def link_broken(before: Grip, after: Grip, column: int) -> bool:
    """Whether two grips in turn break a link."""
    context = np.zeros((1, ch.FIRST_LINK + ch.LINKS), np.int64)
    context[0, ch.FIRST_LINK + column] = 1
    return bool(ch.broken_links(_shapes([before, after]), 0, 1, context, 0))
