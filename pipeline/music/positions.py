"""Scale positions on a neck, generated from intervals for any tuning, and matched to what is played.

A position starts on a degree of the scale on the lowest string and takes a fixed number of consecutive
scale tones on each string, two for pentatonic boxes, three for seven-note scales.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.scales import Scale


@dataclass(frozen=True)
class Position:
    """A position: scale, tonic (pitch class), first degree, and the frets of each string, lowest first."""

    scale: Scale
    tonic: int
    degree: int
    strings: tuple[tuple[int, ...], ...]

    @cached_property
    def places(self) -> frozenset[tuple[int, int]]:
        """Every (string, fret), string 1 the highest."""
        count = len(self.strings)
        return frozenset((count - row, fret) for row, frets in enumerate(self.strings) for fret in frets)

    @property
    def lowest(self) -> int:
        return min(min(frets) for frets in self.strings)

    @property
    def highest(self) -> int:
        return max(max(frets) for frets in self.strings)

    @property
    def span(self) -> int:
        """Frets from the lowest to the highest, both counted."""
        return self.highest - self.lowest + 1

    def notes(self, guitar: Guitar) -> tuple[int, ...]:
        """MIDI notes from the lowest string up."""
        count = len(self.strings)
        return tuple(
            guitar.pitch(count - row, fret) for row, frets in enumerate(self.strings) for fret in frets
        )


def positions(guitar: Guitar, scale: Scale, tonic: int, a_string: int) -> tuple[Position, ...]:
    """Every position with `a_string` notes on each string that lies wholly on the neck, lowest first."""
    classes = scale.classes(tonic)
    lowest = guitar.open_pitch(guitar.string_count)
    starts = range(lowest, lowest + guitar.highest_fret + 1)
    found = (_from(guitar, scale, tonic, a_string, start) for start in starts if start % 12 in classes)
    return tuple(position for position in found if position)


def _from(guitar: Guitar, scale: Scale, tonic: int, a_string: int, start: int) -> Position | None:
    """The position that starts at a MIDI note of the scale on the lowest string, None off the neck."""
    needed = a_string * guitar.string_count
    tones = scale.notes(tonic, start, start + 12 * (needed // len(scale.steps) + 2))[:needed]
    rows = []
    for row in range(guitar.string_count):
        bottom = guitar.open_pitch(guitar.string_count - row)
        rows.append(tuple(tone - bottom for tone in tones[row * a_string : (row + 1) * a_string]))
    position = Position(scale, tonic % 12, scale.degree(tonic, start) or 0, tuple(rows))
    return position if position.lowest >= 0 and position.highest <= guitar.highest_fret else None


@dataclass(frozen=True)
class Match:
    """How many notes of a passage lie in a position."""

    position: Position
    inside: int
    of: int


def matches(fragment: Fragment, choices: Iterable[Position]) -> tuple[Match, ...]:
    """Positions by how many placed notes of a fragment lie in them, most first, then lowest on the neck."""
    places = [(note.string, note.fret) for note in fragment.notes if note.string and note.fret is not None]
    found = (Match(p, sum(place in p.places for place in places), len(places)) for p in choices)
    return tuple(sorted(found, key=lambda match: (-match.inside, match.position.lowest)))


@dataclass(frozen=True)
class Stay:
    """Notes `first` to `last` (both included) that lie in one position."""

    position: Position
    first: int
    last: int


def stays(fragment: Fragment, choices: Iterable[Position]) -> tuple[Stay, ...]:
    """The fewest stays that cover a fragment: from each note on, the position that lasts longest.

    Notes that lie in no position are left out. Of equals the lowest on the neck is taken.
    """
    known = sorted(choices, key=lambda position: position.lowest)
    return tuple(_stays(fragment, known))


def _stays(fragment: Fragment, choices: list[Position]) -> Iterator[Stay]:
    start = 0
    while start < len(fragment.notes):
        ends = [_last_inside(fragment, position, start) for position in choices]
        last = max(ends, default=start - 1)
        if last < start:
            start += 1
            continue
        yield Stay(choices[ends.index(last)], start, last)
        start = last + 1


def _last_inside(fragment: Fragment, position: Position, start: int) -> int:
    last = start - 1
    for index in range(start, len(fragment.notes)):
        note = fragment.notes[index]
        if note.fret is not None and (note.string, note.fret) not in position.places:
            break
        last = index if note.fret is not None else last
    return last
