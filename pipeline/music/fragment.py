"""A written passage: notes in measures on a guitar, with repeats and the clues marked on it."""

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Any

from pipeline.music.guitar import Guitar
from pipeline.music.meter import Meter
from pipeline.music.note import Note


@dataclass(frozen=True)
class Measure:
    """A bar: where it starts (beats from the fragment's start), its meter, its true length.

    A pick-up bar is shorter than its meter. `count` is the length of the meter's unit in beats: 1 in 4/4,
    1/2 in 6/8. `groups` are those of the meter, such as 2, 2, 3 of seven beats.
    """

    start: Fraction
    length: Fraction
    beats: int = 4
    unit: int = 4
    groups: tuple[int, ...] = ()

    @property
    def meter(self) -> Meter:
        return Meter(self.beats, self.unit, self.groups)

    @property
    def end(self) -> Fraction:
        return self.start + self.length

    @property
    def count(self) -> Fraction:
        return Fraction(4, self.unit)

    @property
    def pickup(self) -> bool:
        return self.length < self.beats * self.count


@dataclass(frozen=True)
class Repeat:
    """Measures `first` to `last` (from 0, both included) are played `times` times."""

    first: int
    last: int
    times: int = 2


@dataclass(frozen=True)
class ClueMark:
    """A clue as it stands in the text: on which note (from 0), its kind, a value, how sure (0 to 1).

    Kinds and what they mean belong to the reasoning floor; strength 1 is hard.
    """

    note: int
    kind: str
    value: str = ""
    strength: float = 1.0


@dataclass(frozen=True)
class Fragment:
    """A passage. Notes are sorted by onset (grace notes before their note), then by string from the top."""

    name: str
    guitar: Guitar
    notes: tuple[Note, ...]
    measures: tuple[Measure, ...]
    tempo: Fraction = Fraction(120)
    """Quarter notes a minute."""
    repeats: tuple[Repeat, ...] = ()
    clues: tuple[ClueMark, ...] = ()
    flats: bool = False
    """Spell accidentals with flats."""
    first_bar: int | None = None
    """The number of the first bar in what the fragment is a part of; None counts as `bar_number` says."""
    open_end: bool = False
    """Its last bar goes on with notes that are no part of it: what follows the last note is no rest."""

    @property
    def length(self) -> Fraction:
        """Beats from the start to the last bar line."""
        return self.measures[-1].end if self.measures else Fraction(0)

    @cached_property
    def chords(self) -> tuple[tuple[int, ...], ...]:
        """Indexes of notes that start together; a grace note stands alone."""
        groups: list[list[int]] = []
        for index, note in enumerate(self.notes):
            last = self.notes[groups[-1][-1]] if groups else None
            together = last and last.onset == note.onset and last.grace == note.grace and not note.grace
            if together:
                groups[-1].append(index)
            else:
                groups.append([index])
        return tuple(tuple(group) for group in groups)

    @cached_property
    def placed(self) -> bool:
        """Whether every note knows its string, and its fret unless it is dead."""
        return all(n.string is not None and (n.fret is not None or n.dead) for n in self.notes)

    def with_notes(self, notes: Iterable[Note]) -> "Fragment":
        return replace(self, notes=tuple(notes))

    def but(self, **changes: Any) -> "Fragment":
        return replace(self, **changes)

    def bar_number(self, measure: int) -> int:
        """The number of a measure (from 0): bars count from 1, a pick-up bar is 0 (common practice)."""
        if self.first_bar is not None:
            return self.first_bar + measure
        return measure if self.measures and self.measures[0].pickup else measure + 1

    def measure_at(self, beat: Fraction) -> int:
        """The index of the measure that holds a beat; the last one for anything later."""
        index = bisect_right(self.measures, beat, key=lambda measure: measure.end)
        return max(0, min(index, len(self.measures) - 1))
