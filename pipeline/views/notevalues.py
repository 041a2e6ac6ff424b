"""The one row of note values under a strip: what is written at which beat, beams and tuplets included.

The values are those of `pipeline.music.rhythm`; whatever starts together is one sign here, and lasts until
the next one starts.
"""

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from pipeline.music.beams import beams
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.rhythm import Event, Piece, Tuplet, pieces

SMALLEST = Fraction(1, 64)


@dataclass(frozen=True)
class Rhythm:
    """The written rhythm of one measure: its signs in order, and the beam words of those that have any."""

    signs: tuple[Piece, ...]
    beamed: tuple[tuple[int, tuple[str, ...]], ...]

    @property
    def tuplets(self) -> tuple[Tuplet, ...]:
        found = dict.fromkeys(sign.tuplet for sign in self.signs if sign.tuplet)
        return tuple(found)

    def runs(self) -> tuple[tuple[int, ...], ...]:
        """Indexes of the signs under one beam."""
        found: list[list[int]] = []
        for index, words in self.beamed:
            if words[0] == "begin":
                found.append([])
            if found:
                found[-1].append(index)
        return tuple(tuple(run) for run in found)

    def words(self, index: int) -> tuple[str, ...]:
        return dict(self.beamed).get(index, ())


def value_of(sign: Piece) -> Fraction:
    """The written value in beats; the smallest where none is fine enough."""
    return sign.value if sign.value is not None else SMALLEST


def flags_of(sign: Piece) -> int:
    """How many flags or beams the sign has."""
    return max(0, (Fraction(1) / value_of(sign)).numerator.bit_length() - 1) if value_of(sign) < 1 else 0


def beam_edges(measure: Measure) -> list[Fraction]:
    """Where a bar may be cut, with its ends: at quarters, at three eighths in compound meters, at groups."""
    if measure.groups:
        first = measure.end - measure.meter.length if measure.start == 0 else measure.start
        inner = [first + group * measure.count for group in accumulate(measure.groups)]
        return [measure.start, *(at for at in inner if measure.start < at < measure.end), measure.end]
    compound = measure.unit >= 8 and measure.beats % 3 == 0
    unit = measure.count * 3 if compound else max(measure.count, Fraction(1))
    edges = [measure.start]
    while edges[-1] + unit < measure.end:
        edges.append(edges[-1] + unit)
    return [*edges, measure.end]


def _row(fragment: Fragment) -> list[Event]:
    """The fragment as one voice."""
    longest: dict[Fraction, tuple[Fraction, list[int]]] = {}
    for index, note in enumerate(fragment.notes):
        if not note.grace and note.duration > 0:
            end, notes = longest.get(note.onset, (note.end, []))
            longest[note.onset] = (max(end, note.end), [*notes, index])
    starts = sorted(longest)
    following = [*starts, fragment.length][1 : len(starts) + 1]
    return [
        Event(start, min(longest[start][0], after), tuple(longest[start][1]))
        for start, after in zip(starts, following, strict=True)
        if min(longest[start][0], after) > start
    ]


def rhythms(fragment: Fragment) -> tuple[Rhythm, ...]:
    """The written rhythm of every measure."""
    row, found = _row(fragment), []
    for index, measure in enumerate(fragment.measures):
        pickup = index == 0 and measure.pickup
        signs = pieces(measure, row, pickup)
        if fragment.open_end and index == len(fragment.measures) - 1:
            last = row[-1].start if row else fragment.length
            signs = tuple(sign for sign in signs if sign.event.notes or sign.start < last)
        if not any(sign.event.notes for sign in signs):
            rest = Event(measure.start, measure.end)
            signs = (Piece(rest, measure.start, measure.length, Fraction(4)),)
        words = beams(measure, signs, pickup)
        found.append(Rhythm(signs, tuple((i, tuple(words[i])) for i in sorted(words))))
    return tuple(found)
