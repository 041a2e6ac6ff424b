"""Which notes sound, have sounded and come next at a moment: exact, half-open, the same for every view."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import accumulate

from pipeline.music.fragment import Fragment
from pipeline.music.note import Note
from pipeline.timing import Moments
from pipeline.views.stage import Pass, Stage

GRACE = Fraction(1, 8)
"""Beats a written grace note takes from what comes before it, at most half of that."""


@dataclass(frozen=True)
class Line:
    """When each note of a fragment starts and ends, in beats. Notes keep their index in the fragment.

    A note ends with its duration, or where its string is played again if that is earlier.
    """

    starts: tuple[Fraction, ...]
    ends: tuple[Fraction, ...]
    columns: tuple[tuple[int, ...], ...]
    """Notes that start together, in order of time."""
    order: tuple[int, ...]
    """Note indexes by start."""
    ordered_starts: Moments
    latest_ends: tuple[Fraction, ...]
    """The latest end among the first notes in order, so that a search may stop early."""

    def at(self, beat: Fraction, since: Fraction) -> tuple[int, ...]:
        """The notes with since <= start <= beat < end."""
        found: list[int] = []
        place = self.ordered_starts.until(beat) - 1
        while place >= 0 and self.latest_ends[place] > beat:
            index = self.order[place]
            if self.ends[index] > beat and self.starts[index] >= since:
                found.append(index)
            place -= 1
        return tuple(sorted(found))

    def after(self, beat: Fraction, including: bool = False) -> tuple[int, ...]:
        """The notes of the first column that starts after (or at, if `including`) a beat."""
        starts = self._column_starts
        place = starts.before(beat) if including else starts.until(beat)
        return self.columns[place] if place < len(self.columns) else ()

    @cached_property
    def places(self) -> tuple[int, ...]:
        """The place of each note in the order."""
        found = [0] * len(self.order)
        for place, index in enumerate(self.order):
            found[index] = place
        return tuple(found)

    @cached_property
    def _column_starts(self) -> Moments:
        return Moments(tuple(self.starts[column[0]] for column in self.columns))


@dataclass(frozen=True)
class Moment:
    """The state of the notes at one moment of a scene."""

    beat: Fraction | None
    sounding: tuple[int, ...] = ()
    coming: tuple[int, ...] = ()
    since: Fraction = Fraction(0)
    """Notes that start earlier do not belong to the pass."""
    begun: tuple[int, int] = (0, 0)
    """The notes of the pass that have started, as places in the line's order: half-open."""

    def past(self, line: Line, index: int) -> bool:
        """Whether a note of the pass has sounded and sounds no more."""
        if self.beat is None or index in self.sounding:
            return False
        return self.begun[0] <= line.places[index] < self.begun[1]

    def settled(self, line: Line) -> "Moment":
        """The same state of all notes at a beat that stays until it changes: the next start."""
        starts = line.ordered_starts.exact
        if self.beat is None or not starts:
            return self
        beat = starts[self.begun[1]] if self.begun[1] < len(starts) else starts[-1] + 1
        return Moment(beat, self.sounding, self.coming, self.since, self.begun)


def _grace_starts(notes: tuple[Note, ...], starts: list[Fraction]) -> None:
    """Move grace notes that stand on their main note's beat to just before it, in place."""
    index = len(notes) - 1
    while index >= 0:
        run = index
        while run >= 0 and notes[run].grace and notes[run].onset == notes[index].onset:
            run -= 1
        count = index - run
        if count and any(n.onset == notes[index].onset and not n.grace for n in notes):
            before = max((n.onset for n in notes if n.onset < notes[index].onset), default=None)
            room = GRACE * count if before is None else min(GRACE * count, (notes[index].onset - before) / 2)
            for place in range(count):
                starts[run + 1 + place] -= room * (count - place) / count
        index = run if count else index - 1


def line_of(fragment: Fragment) -> Line:
    """Work out the line of a fragment."""
    notes = fragment.notes
    starts = [note.onset for note in notes]
    _grace_starts(notes, starts)
    ends = [max(note.end, note.onset) for note in notes]
    order = sorted(range(len(notes)), key=lambda i: (starts[i], notes[i].string or 0))
    again: dict[int, Fraction] = {}
    for index in reversed(order):
        string = notes[index].string
        if string is None:
            continue
        following = again.get(string)
        if following is not None and starts[index] < following:
            ends[index] = following if notes[index].grace else min(ends[index], following)
        again[string] = starts[index]
    columns: list[list[int]] = []
    for index in order:
        together = columns and starts[columns[-1][0]] == starts[index]
        if together:
            columns[-1].append(index)
        else:
            columns.append([index])
    return Line(
        tuple(starts), tuple(ends), tuple(map(tuple, columns)), tuple(order),
        Moments(tuple(starts[i] for i in order)), tuple(accumulate((ends[i] for i in order), max)),
    )  # fmt: skip


@lru_cache(maxsize=64)
def stage_line(stage: Stage) -> Line:
    """The line of the stage's fragment; an empty one where there is none."""
    return line_of(stage.fragment) if stage.fragment else Line((), (), (), (), Moments(()), ())


def sounding_pass(stage: Stage, t: Fraction) -> Pass | None:
    """The pass that sounds at t, or None between passes."""
    one = stage.pass_at(t)
    return one if one is not None and t in one.span else None


@lru_cache(maxsize=256)
def moment_at(stage: Stage, t: Fraction) -> Moment:
    """What sounds and what comes next at scene second t."""
    line, one = stage_line(stage), stage.pass_at(t)
    if one is None:
        return Moment(None)
    since, until = one.beats.start, one.beats.end
    if t < one.span.start:
        return Moment(
            since, (), _within(line, line.after(since, True), until), since, _begun(line, since, since)
        )
    if t >= one.span.end:
        return Moment(until, (), (), since, _begun(line, since, until))
    beat = one.moments.inverse(t)
    coming = _within(line, line.after(beat), until)
    return Moment(beat, line.at(beat, since), coming, since, _begun(line, since, beat))


def _begun(line: Line, since: Fraction, beat: Fraction) -> tuple[int, int]:
    """The places in the line's order of the notes with since <= start < beat."""
    return line.ordered_starts.before(since), line.ordered_starts.before(beat)


def _within(line: Line, notes: tuple[int, ...], until: Fraction) -> tuple[int, ...]:
    return notes if notes and line.starts[notes[0]] < until else ()
