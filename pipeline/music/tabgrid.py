"""Which moments of a fragment need a column of text, and the count marks that put them in their place."""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import floor, lcm

from pipeline.music.fragment import ClueMark, Fragment, Measure
from pipeline.music.note import Note

MOST_SHARES = 24
"""A count is divided into at most this many shares; finer moments are written as fractions."""
SYLLABLES = {Fraction(1, 4): "e", Fraction(1, 2): "&", Fraction(3, 4): "a"}


@dataclass
class Column:
    """A moment, or one grace note, on its way to a column of the text."""

    time: Fraction
    notes: tuple[int, ...]
    grace: bool = False
    mark: str = ""
    before: int = 0
    """Columns needed left of it, for signs that lead to its notes."""
    width: int = 1
    """Columns needed from its own to the right."""
    at: int = 0

    @property
    def event(self) -> bool:
        """Whether it ends the notes before it."""
        return not self.grace and (bool(self.notes) or self.mark.startswith("("))


@dataclass
class Bar:
    """A measure being printed: its columns and the marks at its ends."""

    index: int
    columns: list[Column]
    meter: str = ""
    end_mark: str = ""
    at: int = 0
    """The column of the bar line before it."""


@dataclass(frozen=True)
class Score:
    """A fragment with what printing has to look up."""

    fragment: Fragment

    @property
    def notes(self) -> tuple[Note, ...]:
        return self.fragment.notes

    @cached_property
    def before(self) -> tuple[Note | None, ...]:
        """For each note the one before it on the same string."""
        latest: dict[int | None, Note] = {}
        found = []
        for note in self.notes:
            found.append(latest.get(note.string))
            latest[note.string] = note
        return tuple(found)

    @cached_property
    def clues(self) -> dict[int, list[ClueMark]]:
        found: dict[int, list[ClueMark]] = {}
        for clue in self.fragment.clues:
            found.setdefault(clue.note, []).append(clue)
        return found

    @cached_property
    def starting(self) -> dict[tuple[Fraction, bool], tuple[int, ...]]:
        """The notes that start at a moment, grace notes apart."""
        found: dict[tuple[Fraction, bool], tuple[int, ...]] = {}
        for index, note in enumerate(self.notes):
            key = (note.onset, note.grace)
            found[key] = (*found.get(key, ()), index)
        return found

    @cached_property
    def stops(self) -> frozenset[Fraction]:
        """Moments where a note ends and none begins."""
        ends = {note.end for note in self.notes if not note.grace and note.end < self.fragment.length}
        return frozenset(end for end in ends if (end, False) not in self.starting)

    @cached_property
    def moments(self) -> list[Fraction]:
        """Every moment where a note starts or the last of them stops, in order."""
        return sorted({note.onset for note in self.notes} | self.stops)

    @cached_property
    def _sounding(self) -> tuple[list[Fraction], list[Fraction]]:
        """Starts and ends of the stretches in which something sounds."""
        starts: list[Fraction] = []
        ends: list[Fraction] = []
        for note in (note for note in self.notes if not note.grace and note.duration):
            if ends and note.onset <= ends[-1]:
                ends[-1] = max(ends[-1], note.end)
            else:
                starts.append(note.onset)
                ends.append(note.end)
        return starts, ends

    def silent(self, time: Fraction) -> bool:
        """Whether a moment at which nothing starts is a rest: a note stops there or none sounds."""
        starts, ends = self._sounding
        index = bisect_right(starts, time) - 1
        return time in self.stops or index < 0 or time >= ends[index]


def bars_of(score: Score) -> list[Bar]:
    """Every measure with its columns, not yet placed."""
    return [_bar(score, index) for index in range(len(score.fragment.measures))]


def _bar(score: Score, index: int) -> Bar:
    measures = score.fragment.measures
    measure, before = measures[index], measures[index - 1]
    changed = index == 0 or measure.meter != before.meter
    counts = measure.length / measure.count
    offset = measure.beats - counts if index == 0 else Fraction(0)
    bar = Bar(index, [], str(measure.meter) if changed else "")
    if index and counts < measure.beats:
        bar.end_mark = _pin(counts)
    for time, mark in sorted(_moments(score, measure, offset, counts).items()):
        graces = score.starting.get((time, True), ())
        bar.columns += [Column(time, (grace,), grace=True) for grace in graces]
        notes = score.starting.get((time, False), ())
        bar.columns.append(Column(time, notes, mark=mark if notes else _hold_or_rest(score, time, mark)))
    return bar


def _hold_or_rest(score: Score, time: Fraction, mark: str) -> str:
    return f"({mark or '.'})" if score.silent(time) else mark or "."


def _pin(count: Fraction, pickup: bool = False) -> str:
    """A moment of a bar, in counts from 0, as a mark of the count row."""
    whole = floor(count)
    share = count - whole
    if pickup and share in SYLLABLES:
        return SYLLABLES[share]
    return f"{whole + 1}" + (f"+{share.numerator}/{share.denominator}" if share else "")


def _moments(score: Score, measure: Measure, offset: Fraction, counts: Fraction) -> dict[Fraction, str]:
    """The moments of a measure that take a column, each with its mark ("" for an even share)."""
    first, last = (bisect_left(score.moments, time) for time in (measure.start, measure.end))
    inside = {offset + (time - measure.start) / measure.count for time in score.moments[first:last]}
    marks: dict[Fraction, str] = {}
    start, end = offset, offset + counts
    while start < end:
        wide = _across(start, end, inside)
        stop = wide or min(Fraction(floor(start) + 1), end)
        between = {count for count in inside if start < count < stop}
        marks |= _filled(start, stop, between, _pin(start)) if wide else _divided(start, stop, between)
        start = stop
    if offset.denominator > 1:
        marks[offset] = _pin(offset, pickup=True)
    return {measure.start + (count - offset) * measure.count: mark for count, mark in marks.items()}


def _across(start: Fraction, end: Fraction, inside: set[Fraction]) -> Fraction | None:
    """The end of two counts that share out evenly over the count between them, as quarter triplets do."""
    stop = start + 2
    between = {count for count in inside if start < count < stop}
    if start % 2 or stop > end or not between or start + 1 in between:
        return None
    shares = _shares(start, stop, between)
    return stop if shares % 2 and len(between) == shares - 1 else None


def _divided(start: Fraction, stop: Fraction, inside: set[Fraction]) -> dict[Fraction, str]:
    """Marks for one count or a part of one: its number, and what puts the moments inside in place."""
    shares = _shares(start, stop, inside)
    whole = stop - start == 1
    if whole and shares in (2, 4):
        return {start: _pin(start)} | {moment: SYLLABLES[moment - start] for moment in inside}
    if shares > MOST_SHARES:
        return {start: _pin(start)} | {moment: _pin(moment) for moment in inside}
    half = (start + stop) / 2
    if whole and half in inside and len(inside) < shares - 1:
        low, high = {m for m in inside if m < half}, {m for m in inside if m > half}
        return _filled(start, half, low, _pin(start)) | _filled(half, stop, high, "&")
    return _filled(start, stop, inside, _pin(start))


def _shares(start: Fraction, stop: Fraction, inside: set[Fraction]) -> int:
    return lcm(*(((moment - start) / (stop - start)).denominator for moment in inside))


def _filled(start: Fraction, stop: Fraction, inside: set[Fraction], mark: str) -> dict[Fraction, str]:
    """Even shares from `start`, with a dot in each that holds nothing."""
    shares = _shares(start, stop, inside)
    moments = [start + (stop - start) * Fraction(index, shares) for index in range(1, shares)]
    return {start: mark} | {moment: "" if moment in inside else "." for moment in moments}
