"""Written note values: what value, dots and tuplet a stretch of beats is written with, rests included.

A beat is a quarter note. A tuplet of n holds n in the time of the power of two below n (common practice;
MusicXML 4.0 `time-modification` names the same two numbers).
"""

from dataclasses import dataclass, replace
from fractions import Fraction

from pipeline.music.fragment import Fragment, Measure

WHOLE, SHORTEST = Fraction(4), Fraction(1, 32)


@dataclass(frozen=True)
class Value:
    """One written value. `base` is in beats (1 a quarter) before dots and tuplet; `flags` counts beams."""

    onset: Fraction
    length: Fraction
    base: Fraction
    dots: int = 0
    odd: int = 1
    """The odd part of the tuplet: 3 for triplets and sextuplets; 1 for plain values."""
    rest: bool = False
    group: int = 0
    """Which beam group of the measure it stands in."""

    @property
    def flags(self) -> int:
        return max(0, (Fraction(1) / self.base).numerator.bit_length() - 1)


@dataclass(frozen=True)
class Tuplet:
    """A number over (or under) values `first` to `last` of a measure."""

    first: int
    last: int
    number: int


@dataclass(frozen=True)
class Rhythm:
    """The written rhythm of one measure."""

    values: tuple[Value, ...]
    tuplets: tuple[Tuplet, ...]


def odd_part(number: int) -> int:
    """The number without its factors of two."""
    while number % 2 == 0:
        number //= 2
    return number


def written(onset: Fraction, length: Fraction, rest: bool = False) -> Value:
    """The nearest written value of a length: exact where one value, up to two dots and a tuplet can say it."""
    odd = odd_part(length.denominator)
    normal = 1 << (odd.bit_length() - 1)
    plain = length * odd / normal
    base = WHOLE
    while base > plain and base > SHORTEST:
        base /= 2
    dots = 0
    while dots < 2 and base * (2 - Fraction(1, 2 ** (dots + 1))) <= plain:
        dots += 1
    return Value(onset, length, base, dots, odd, rest)


def beam_unit(measure: Measure) -> Fraction:
    """How many beats are beamed together: a quarter, or three eighths in compound meters."""
    compound = measure.unit >= 8 and measure.beats % 3 == 0
    return measure.count * 3 if compound else max(measure.count, Fraction(1))


def _grid_start(measure: Measure) -> Fraction:
    """Where the measure's beats count from: a pick-up bar counts from its missing start."""
    return measure.end - measure.beats * measure.count if measure.pickup else measure.start


def _rests(measure: Measure, start: Fraction, end: Fraction) -> list[Value]:
    """Rests that fill a gap, cut at the beats unless they fill whole ones."""
    found: list[Value] = []
    unit, origin = beam_unit(measure), _grid_start(measure)
    if start == measure.start and end == measure.end:
        return [Value(start, end - start, WHOLE, rest=True)]
    while start < end:
        to_beat = unit - (start - origin) % unit
        whole_beats = (end - start) // unit * unit
        piece = min(end - start, to_beat) if to_beat != unit or whole_beats == 0 else unit
        found.append(written(start, piece, rest=True))
        start += piece
    return found


def _onsets(fragment: Fragment, measure: Measure) -> list[tuple[Fraction, Fraction]]:
    """Each onset in the measure with the longest duration that starts there."""
    longest: dict[Fraction, Fraction] = {}
    for note in fragment.notes:
        if not note.grace and measure.start <= note.onset < measure.end:
            longest[note.onset] = max(longest.get(note.onset, Fraction(0)), note.duration)
    return sorted(longest.items())


def measure_rhythm(fragment: Fragment, measure: Measure) -> Rhythm:
    """The written values of a measure in order, beam groups and tuplets set."""
    values: list[Value] = []
    here, onsets = measure.start, _onsets(fragment, measure)
    for place, (onset, duration) in enumerate(onsets):
        values.extend(_rests(measure, here, onset))
        following = onsets[place + 1][0] if place + 1 < len(onsets) else measure.end
        here = min(onset + duration, following)
        values.append(written(onset, here - onset))
    values.extend(_rests(measure, here, measure.end))
    unit, origin = beam_unit(measure), _grid_start(measure)
    grouped = tuple(replace(v, group=int((v.onset - origin) // unit)) for v in values)
    return Rhythm(grouped, _tuplets(grouped))


def _tuplets(values: tuple[Value, ...]) -> tuple[Tuplet, ...]:
    """Runs of values with one odd part that together fill a plain length."""
    found: list[Tuplet] = []
    first = 0
    while first < len(values):
        odd = values[first].odd
        last, total = first, values[first].length
        while odd > 1 and odd_part(total.denominator) > 1 and _goes_on(values, last, odd):
            last += 1
            total += values[last].length
        if odd > 1:
            shortest = min(v.length for v in values[first : last + 1])
            even = total / shortest
            found.append(Tuplet(first, last, int(even) if even.denominator == 1 else odd))
        first = last + 1
    return tuple(_halves_joined(found, values))


def _halves_joined(tuplets: list[Tuplet], values: tuple[Value, ...]) -> list[Tuplet]:
    """Two even tuplets side by side under one beam read as one: twice three sixteenths are a sextuplet."""
    joined: list[Tuplet] = []
    for tuplet in tuplets:
        before = joined[-1] if joined else None
        if before and before.last + 1 == tuplet.first and _alike(values[before.first : tuplet.last + 1]):
            joined[-1] = Tuplet(before.first, tuplet.last, before.number + tuplet.number)
        else:
            joined.append(tuplet)
    return joined


def _alike(values: tuple[Value, ...]) -> bool:
    return len({(v.group, v.length) for v in values}) == 1


def _goes_on(values: tuple[Value, ...], last: int, odd: int) -> bool:
    return last + 1 < len(values) and values[last + 1].odd == odd


def beam_runs(rhythm: Rhythm) -> tuple[tuple[int, ...], ...]:
    """Indexes of neighbouring values under one beam, two or more."""
    runs: list[tuple[int, ...]] = []
    run: list[int] = []
    for index, value in enumerate(rhythm.values):
        joins = not value.rest and value.flags > 0
        if run and (not joins or value.group != rhythm.values[run[-1]].group):
            runs.append(tuple(run))
            run = []
        if joins:
            run.append(index)
    runs.append(tuple(run))
    return tuple(r for r in runs if len(r) > 1)
