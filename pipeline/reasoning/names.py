"""What readings are called: after where the hand is, and where that is alike, after what sets them apart."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from pipeline.reasoning.reading import Placement, Reading

Places = tuple[Placement, ...]
Label = Callable[[Places], str]
STROKES = {"down": "on a downstroke", "up": "on an upstroke", None: "without a stroke"}


def zone_name(places: Sequence[Placement]) -> str:
    """Where the hand is in words: `position 5`, or `positions 5 to 8` where it moves."""
    held = [place.position for place in places if place.finger is not None] or [0]
    low, high = min(held), max(held)
    if high == 0:
        return "open strings"
    return f"position {low}" if low == high else f"positions {low} to {high}"


def told_apart(found: Sequence[Reading]) -> tuple[Reading, ...]:
    """Readings that are shown together, with names of their own.

    Of readings with the same name each is joined by the strings it uses, the place where it starts, or the
    first note that lies or is played another way: whatever tells all of them apart and comes first in this
    list. Those that do not differ at all are called the same.
    """
    plain = [_called(reading) for reading in found]
    alike = [
        tuple(dict.fromkeys(r.places for r, other in zip(found, plain, strict=True) if other == name))
        for name in plain
    ]
    named, given = list[Reading](), Counter[str]()
    for reading, name, group in zip(found, plain, alike, strict=True):
        full = f"{name}, {_labels(group)[group.index(reading.places)]}" if len(group) > 1 else name
        given[full] += 1
        named.append(replace(reading, name=f"{full}, the same" if given[full] > 1 else full))
    return tuple(named)


def _called(reading: Reading) -> str:
    """The name without what an earlier comparison added."""
    zone = zone_name(reading.places)
    return zone if reading.name.startswith(zone) else reading.name


def _labels(group: Sequence[Places]) -> list[str]:
    """A label for each of some different answers, no two alike."""
    for label in _ways(len(group[0])):
        labels = [label(places) for places in group]
        if len(set(labels)) == len(group):
            return labels
    return [" and ".join(parts) for parts in zip(*_splitting(group), strict=True)]


def _splitting(group: Sequence[Places]) -> list[list[str]]:
    """Labels that only tell all apart when taken together: each splits what those before it left alike."""
    taken, kinds = list[list[str]](), 1
    for label in _ways(len(group[0])):
        labels = [label(places) for places in group]
        split = len(set(zip(*taken, labels, strict=True)))
        if split > kinds:
            taken.append(labels)
            kinds = split
    return taken


def _ways(count: int) -> Iterator[Label]:
    """What may tell answers of `count` notes apart, what a player sees first to begin with."""
    yield _strings
    yield lambda places: f"from fret {places[0].fret} of string {places[0].string}"
    for way in (_on_string, _at_fret, _with_finger, _in_position, _with_stroke):
        yield from (lambda places, way=way, note=note: way(note, places[note]) for note in range(count))


def _strings(places: Places) -> str:
    low, high = min(place.string for place in places), max(place.string for place in places)
    return f"string {low}" if low == high else f"strings {low} to {high}"


def _on_string(note: int, place: Placement) -> str:
    return f"note {note + 1} on string {place.string}"


def _at_fret(note: int, place: Placement) -> str:
    return f"note {note + 1} at fret {place.fret}"


def _with_finger(note: int, place: Placement) -> str:
    if place.finger is None:
        return f"note {note + 1} open"
    return f"note {note + 1} with {f'finger {place.finger}' if place.finger else 'the thumb'}"


def _in_position(note: int, place: Placement) -> str:
    return f"note {note + 1} in position {place.position}"


def _with_stroke(note: int, place: Placement) -> str:
    return f"note {note + 1} {STROKES[place.stroke]}"
