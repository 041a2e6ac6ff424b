"""From a fragment to the chain that is searched: grips, times, and the costs that clues add.

A lattice keeps the chain's arrays and the grips behind their rows. Moments that ask for the same thing
share one block of rows, so that building takes little time for long fragments.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.errors import Fault, Faulty
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.pitch import pitch_name
from pipeline.reasoning import chain as ch
from pipeline.reasoning.costs import HARD
from pipeline.reasoning.grip_costs import block_counts
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.limits import GripLimit, Limits, penalty_of
from pipeline.reasoning.spot import spot
from pipeline.reasoning.states import Grip, Wanted, grips_of, places_of, wanted
from pipeline.reasoning.stroke_costs import STROKES, start_costs, stroke_table

Ints = NDArray[np.int64]
Times = Sequence[Fraction] | Sequence[float]
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
    """How each moment is played: `picked`, `slurred`, or `fresh` after a rest."""
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


_Demand = tuple[tuple[Wanted, ...], tuple[bool, ...], tuple[GripLimit, ...]]


def lattice_of(
    fragment: Fragment, habits: Habits, limits: Limits | None = None, times: Times | None = None
) -> Lattice:
    """Build the lattice. Raises Faulty for notes that the neck has not and chords that no hand holds.

    `times` gives the second of every note; without it the fragment's tempo does.
    """
    limits = limits or Limits()
    blocks, grips, counts, own = _grip_table(fragment, habits, limits)
    kinds = moment_kinds(fragment, habits, limits, times)
    context = _context(fragment, limits, kinds)
    first = np.array([block.first for block in blocks], np.int64)
    size = np.array([len(block.grips) for block in blocks], np.int64)
    weights, between, shape = np.array(habits.units, np.int64), _between(fragment.guitar), _shapes(grips)
    span = round(habits.hand_span)
    strokes, start = _stroke_costs(fragment, habits, limits, kinds)
    tables = ch.pair_tables(shape, weights, between, span, context, first, size)
    gaps = _gaps(fragment, times)
    offsets = np.concatenate([[0], np.cumsum(size)]).astype(np.int64)
    steps = (offsets, *tables)
    chain = ch.Chain(first, size, gaps, context, strokes, start, shape, own, between, span, weights, *steps)
    return Lattice(fragment, habits, chain, grips, counts, kinds, moments_pinched(fragment))


def _grip_table(
    fragment: Fragment, habits: Habits, limits: Limits
) -> tuple[list[_Block], tuple[Grip, ...], Ints, Ints]:
    """Blocks of grips, one for each different demand, with their counts and costs."""
    demands, known = _demands(fragment, limits), dict[_Demand, _Block]()
    rows, faults, table, penalties = list[Grip](), list[Fault](), list[tuple[int, ...]](), list[int]()
    for demand, indexes in zip(demands, fragment.chords, strict=True):
        if demand in known:
            continue
        notes, bends, asked = demand
        grips = grips_of(fragment.guitar, notes)
        if not grips:
            faults.append(no_grip(fragment, indexes, notes))
        known[demand] = _Block(len(rows), grips)
        rows += grips
        table += block_counts(fragment.guitar, habits.hand, notes, bends)
        penalties += [penalty_of(grip, asked) for grip in grips]
    if faults:
        raise Faulty(faults)
    counts = np.array(table, np.int64)
    own = counts @ np.array(habits.units, np.int64) + np.array(penalties, np.int64)
    return [known[demand] for demand in demands], tuple(rows), counts, own


def _demands(fragment: Fragment, limits: Limits) -> list[_Demand]:
    """What each moment asks of its grips."""
    asked, notes = _grip_limits(limits), fragment.notes
    wants = [wanted(note) for note in notes]
    return [
        (tuple(wants[i] for i in group), tuple(bool(notes[i].bend) for i in group), asked.get(moment, ()))
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


def spoken(fragment: Fragment, index: int) -> str:
    """A note as messages name it, counted from 1: `note 5 (C4)`."""
    pitch = fragment.notes[index].pitch
    return f"note {index + 1} ({pitch_name(pitch, fragment.flats) if pitch is not None else 'dead'})"


def moment_times(fragment: Fragment, times: Times | None) -> list[float]:
    """The second at which each moment begins."""
    if times is not None and len(times) != len(fragment.notes):
        raise ValueError("there must be one time for every note")
    beat = float(60 / fragment.tempo)
    first = (group[0] for group in fragment.chords)
    return [float(fragment.notes[i].onset) * beat if times is None else float(times[i]) for i in first]


def _gaps(fragment: Fragment, times: Times | None) -> Ints:
    """Milliseconds from the moment before to each moment; at least 1, so that a grace note has some."""
    moments = moment_times(fragment, times)
    steps = (max(1, round((b - a) * 1000)) for a, b in pairwise(moments))
    return np.array([1, *steps][: len(moments)], np.int64)


def moment_kinds(fragment: Fragment, habits: Habits, limits: Limits, times: Times | None) -> tuple[str, ...]:
    """How each moment is set sounding: `picked`, `slurred`, or `fresh` at the start and after a rest."""
    gaps = _gaps(fragment, times)
    slurred = {s.moment for s in limits.steps if s.column in (ch.SAME_STRING, ch.TIED) and s.penalty >= HARD}
    kinds = []
    for moment, indexes in enumerate(fragment.chords):
        silent = all(fragment.notes[i].attack not in ("pick",) for i in indexes)
        if moment and (silent or moment in slurred):
            kinds.append("slurred")
        else:
            kinds.append("fresh" if moment == 0 or gaps[moment] >= habits.rest else "picked")
    return tuple(kinds)


def _repeats(fragment: Fragment) -> Ints:
    """1 where a moment has the pitches of the one before."""
    pitches = [tuple(fragment.notes[i].pitch for i in group) for group in fragment.chords]
    same = (int(a == b) for a, b in pairwise(pitches))
    return np.array([0, *same][: len(pitches)], np.int64)


def _context(fragment: Fragment, limits: Limits, kinds: Sequence[str]) -> Ints:
    """What the step into each moment depends on: a rest, a repeated pitch, the links."""
    context = np.zeros((len(fragment.chords), ch.FIRST_LINK + ch.LINKS), np.int64)
    context[:, ch.REST] = [kind == "fresh" for kind in kinds]
    context[:, ch.REPEAT] = _repeats(fragment)
    for moment, indexes in enumerate(fragment.chords):
        for index in indexes:
            column = SLURS.get(fragment.notes[index].attack)
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


def moments_pinched(fragment: Fragment) -> tuple[bool, ...]:
    marked = {clue.note for clue in fragment.clues if clue.kind == "pinched"}
    return tuple(any(_is_pinched(fragment, i, marked) for i in group) for group in fragment.chords)


def _is_pinched(fragment: Fragment, index: int, marked: set[int]) -> bool:
    harmonic = fragment.notes[index].harmonic
    return index in marked or (harmonic is not None and harmonic.kind == "pinch")


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


def strokes_heard(fragment: Fragment, limits: Limits, kinds: Sequence[str]) -> list[tuple[int, int, int]]:
    """(moment, stroke, penalty) of every stroke that is written or was heard.

    A stroke heard at a slurred moment, which takes none, is against both strokes.
    """
    heard = list[tuple[int, int, int]]()
    for limit in limits.strokes:
        stroke = STROKES.index(limit.stroke)
        either = (0, 1) if kinds[limit.moment] == "slurred" else (stroke,)
        heard += [(limit.moment, one, limit.penalty) for one in either]
    for moment, indexes in enumerate(fragment.chords):
        written = {fragment.notes[i].stroke for i in indexes} - {None}
        if kinds[moment] != "slurred":
            heard += [(moment, STROKES.index(stroke), HARD) for stroke in written if stroke]
    return heard


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
