"""Notated rhythm: voices, and durations as note values with dots, ties and tuplets.

Lengths are in beats (quarter notes), so a note value of 1 is a quarter and 1/4 a sixteenth.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm

from pipeline.music.fragment import Fragment, Measure

LONGEST_VALUE, SHORTEST_VALUE = Fraction(8), Fraction(1, 64)
TYPE_NAMES = {
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
    Fraction(1, 32): "128th",
    Fraction(1, 64): "256th",
}
"""MusicXML 4.0 `note-type-value`."""


@dataclass(frozen=True)
class Event:
    """Notes of one voice that start and end together, by their index; none for a rest."""

    start: Fraction
    end: Fraction
    notes: tuple[int, ...] = ()


@dataclass(frozen=True)
class Tuplet:
    """`actual` notes in the time of `normal`, each notated as `value`, over [start, end)."""

    actual: int
    normal: int
    value: Fraction
    start: Fraction
    end: Fraction


@dataclass(frozen=True)
class Piece:
    """A part of an event that one note sign can show; `value` is None where none is fine enough."""

    event: Event
    start: Fraction
    length: Fraction
    value: Fraction | None
    dots: int = 0
    tuplet: Tuplet | None = None

    @property
    def end(self) -> Fraction:
        return self.start + self.length

    @property
    def first(self) -> bool:
        return self.start == self.event.start

    @property
    def last(self) -> bool:
        return self.end == self.event.end


def voices(fragment: Fragment) -> tuple[tuple[Event, ...], ...]:
    """Notes sorted into voices: within a voice no event starts before the one before it has ended."""
    groups: dict[tuple[Fraction, Fraction], list[int]] = {}
    for index, note in enumerate(fragment.notes):
        if not note.grace and note.duration > 0:
            groups.setdefault((note.onset, note.end), []).append(index)
    found: list[list[Event]] = []
    for (start, end), notes in sorted(groups.items(), key=lambda item: (item[0][0], item[1][0])):
        voice = next((voice for voice in found if voice[-1].end <= start), None)
        if voice is None:
            found.append(voice := [])
        voice.append(Event(start, end, tuple(notes)))
    return tuple(tuple(voice) for voice in found)


def pieces(measure: Measure, voice: Sequence[Event], pickup: bool = False) -> tuple[Piece, ...]:
    """What a voice shows in a measure, gaps filled with rests, from bar line to bar line.

    Counts are laid from the start of the measure, in a pick-up from its end.
    """
    events = list(_with_rests(measure, voice))
    bounds = {event.start for event in events} | {event.end for event in events}
    origin = measure.end - measure.beats * measure.count if pickup else measure.start
    areas = _areas(measure, bounds, origin)
    return tuple(piece for event in events for piece in _cut(event, measure, areas, origin))


@dataclass(frozen=True)
class _Area:
    start: Fraction
    end: Fraction
    tuplet: Tuplet | None


def _with_rests(measure: Measure, voice: Sequence[Event]) -> Iterator[Event]:
    at = measure.start
    first = bisect_right(voice, measure.start, key=lambda event: event.end)
    last = bisect_left(voice, measure.end, key=lambda event: event.start)
    for event in voice[first:last]:
        if event.start > at:
            yield Event(at, event.start)
        yield event
        at = event.end
    if at < measure.end:
        yield Event(at, measure.end)


def _areas(measure: Measure, bounds: set[Fraction], origin: Fraction) -> list[_Area]:
    """The measure beat by beat, each plain or a tuplet; plain beats that follow each other are joined."""
    step = min(measure.count, Fraction(1))
    areas: list[_Area] = []
    at = origin
    while at < measure.end:
        area = _wide(at, step, origin, measure, bounds) or _clipped(at, at + step, measure, bounds)
        at = max(area.end, at + step)
        if area.end > measure.start:
            areas.append(area)
    return _joined(areas)


def _wide(
    at: Fraction, step: Fraction, origin: Fraction, measure: Measure, bounds: set[Fraction]
) -> _Area | None:
    """A tuplet over four beats or two, if there is one: nothing starts or ends on the beats inside it."""
    for beats in (4, 2):
        end = at + beats * step
        inner = {at + beat * step for beat in range(1, beats)}
        fits = (at - origin) % (beats * step) == 0 and measure.start <= at and end <= measure.end
        if fits and not inner & bounds and (area := _area(at, end, bounds)).tuplet:
            return area
    return None


def _clipped(start: Fraction, end: Fraction, measure: Measure, bounds: set[Fraction]) -> _Area:
    """One beat, or what of it lies in the measure; a part that no value fills stays a part of its beat."""
    low, high = max(start, measure.start), min(end, measure.end)
    if low >= high or (low, high) == (start, end):
        return _area(start, end, bounds)
    whole = _area(start, end, bounds | {low, high}).tuplet
    if whole is None:
        return _Area(low, high, None)
    own = _area(low, high, bounds).tuplet
    if own and own.value in TYPE_NAMES:
        return _Area(low, high, own)
    return _Area(low, high, replace(whole, start=low, end=high))


def _area(start: Fraction, end: Fraction, bounds: set[Fraction]) -> _Area:
    inside = [(bound - start) / (end - start) for bound in bounds if start < bound < end]
    shares = lcm(*(bound.denominator for bound in inside))
    odd = shares
    while odd % 2 == 0:
        odd //= 2
    if odd == 1 or (end - start) / shares < SHORTEST_VALUE:
        return _Area(start, end, None)
    normal = 1 << (shares.bit_length() - 1)
    return _Area(start, end, Tuplet(shares, normal, (end - start) / normal, start, end))


def _joined(areas: list[_Area]) -> list[_Area]:
    found: list[_Area] = []
    for area in areas:
        if found and not area.tuplet and not found[-1].tuplet:
            found[-1] = _Area(found[-1].start, area.end, None)
        else:
            found.append(area)
    return found


def _cut(event: Event, measure: Measure, areas: list[_Area], origin: Fraction) -> Iterator[Piece]:
    for area in areas:
        start = max(event.start, area.start, measure.start)
        end = min(event.end, area.end, measure.end)
        if start < end:
            yield from (
                _in_tuplet(event, start, end, area.tuplet)
                if area.tuplet
                else _plain(event, start, end, origin)
            )


def _in_tuplet(event: Event, start: Fraction, end: Fraction, tuplet: Tuplet) -> Iterator[Piece]:
    ratio = Fraction(tuplet.normal, tuplet.actual)
    while start < end:
        value, dots = _largest((end - start) / ratio)
        if value is None:
            yield Piece(event, start, end - start, None)
            return
        length = _length(value, dots) * ratio
        yield Piece(event, start, length, value, dots, tuplet)
        start += length


def _plain(event: Event, start: Fraction, end: Fraction, origin: Fraction) -> Iterator[Piece]:
    """Values for a plain stretch: from off the beat not over it, but for a quarter between two halves."""
    while start < end:
        room, offset = end - start, (start - origin) % 1
        if offset and room > 1 - offset and not (offset == Fraction(1, 2) and room == 1):
            room = 1 - offset
        value, dots = _largest(room)
        if value is None:
            yield Piece(event, start, end - start, None)
            return
        yield Piece(event, start, _length(value, dots), value, dots)
        start += _length(value, dots)


def _length(value: Fraction, dots: int) -> Fraction:
    return value * Fraction(3, 2) if dots else value


def _largest(room: Fraction) -> tuple[Fraction | None, int]:
    """The largest note value, with or without a dot, that fits; None for a length that values cannot fill."""
    if (room / SHORTEST_VALUE).denominator != 1:
        return None, 0
    value = LONGEST_VALUE
    while value >= SHORTEST_VALUE:
        if value * Fraction(3, 2) <= room and value > SHORTEST_VALUE:
            return value, 1
        if value <= room:
            return value, 0
        value /= 2
    return None, 0
