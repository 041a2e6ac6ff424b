"""Every way a hand can take one moment of a fragment: single notes and grips of chords.

A grip gives each note of a moment a string, fret and finger, and the hand a position (the fret under the
index finger). A finger lies on its own fret of the position or reaches one beyond: the index towards the
nut, the others towards the body. Grips are listed by rule (position, then string, then finger), and that
order breaks ties between equal readings.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from pipeline.music.guitar import Guitar
from pipeline.music.note import Note

OPEN_POSITIONS = 20
"""An open string leaves the hand anywhere up to this fret."""
MOST_GRIPS = 120
"""A chord keeps this many grips, the cheapest in the hand."""
WIDEST_MM = 150.0
"""No grip is wider than this between its lowest and highest fret (common practice, no source)."""


@dataclass(frozen=True, order=True)
class Held:
    """One note of a grip. An open, dead, touched or tapped string has no finger."""

    string: int
    fret: int
    finger: int | None


@dataclass(frozen=True)
class Grip:
    """One way to take a moment: its notes in the order of the fragment, and the hand's position."""

    held: tuple[Held, ...]
    position: int

    @property
    def rule(self) -> tuple[int, tuple[tuple[int, int, int], ...]]:
        """The order of grips that breaks ties: lower on the neck, thinner string, lower finger first."""
        return self.position, tuple((h.string, h.fret, h.finger or 0) for h in self.held)


@dataclass(frozen=True)
class Wanted:
    """What is known of a note before the search: the parts left None are open.

    `near` is a fret the hand must be at to touch a natural harmonic; `fretted` forbids the open string
    (bends, vibrato). A `tapped` note is stopped by the picking hand and leaves the fretting hand anywhere.
    """

    pitch: int | None
    string: int | None = None
    fret: int | None = None
    finger: int | None = None
    position: int | None = None
    near: int | None = None
    fretted: bool = False
    dead: bool = False
    tapped: bool = False

    @property
    def free(self) -> bool:
        """Whether no finger of the fretting hand stops the string, wherever the note lies."""
        return self.dead or self.tapped


def wanted(note: Note, by_tap: bool = False) -> Wanted:
    """What a written note asks of the grips; `by_tap` where the picking hand stops it."""
    natural = note.harmonic is not None and note.harmonic.kind == "natural"
    touch = note.harmonic.touch if natural and note.harmonic else None
    near = max(1, round(touch)) if touch is not None else None
    fretted = bool(note.bend) or note.vibrato != "none"
    if by_tap:
        return Wanted(note.pitch, note.string, note.fret, None, note.position, fretted=fretted, tapped=True)
    if note.pitch is None:
        return Wanted(None, note.string, note.fret, position=note.position, dead=True)
    return Wanted(note.pitch, note.string, note.fret, note.finger, note.position, near, fretted)


@lru_cache(maxsize=8192)
def grips_of(guitar: Guitar, wanted: tuple[Wanted, ...]) -> tuple[Grip, ...]:
    """Every grip for the notes of one moment, in the order of the rule; empty where none is possible."""
    grips = _single(guitar, wanted[0]) if len(wanted) == 1 else _chord(guitar, wanted)
    asked = {w.position for w in wanted if w.position is not None}
    kept = (g for g in grips if not asked or asked == {g.position})
    return tuple(sorted(set(kept), key=lambda g: g.rule))


def places_of(guitar: Guitar, wanted: Wanted) -> Iterator[tuple[int, int]]:
    """The (string, fret) pairs that give a note and keep to what is known of it."""
    for string, fret in _raw_places(guitar, wanted):
        here = wanted.string in (None, string) and wanted.fret in (None, fret)
        touched_elsewhere = wanted.near is not None and fret > 0
        if here and not touched_elsewhere and not (wanted.fretted and fret == 0):
            yield string, fret


def _raw_places(guitar: Guitar, wanted: Wanted) -> Iterator[tuple[int, int]]:
    if wanted.pitch is not None:
        yield from guitar.places(wanted.pitch)
        return
    for string in range(1, guitar.string_count + 1):
        yield string, wanted.fret or 0


def _single(guitar: Guitar, wanted: Wanted) -> Iterator[Grip]:
    for string, fret in places_of(guitar, wanted):
        if fret == 0 or wanted.free:
            yield from _unfingered(guitar, wanted, string, fret)
        else:
            yield from _fingered(guitar, wanted, string, fret)


def _unfingered(guitar: Guitar, wanted: Wanted, string: int, fret: int) -> Iterator[Grip]:
    if wanted.near is not None:
        for finger, position in _reaches(guitar, wanted.near):
            if wanted.finger in (None, finger):
                yield Grip((Held(string, fret, finger),), position)
        return
    if wanted.finger is not None:
        return
    for position in _anywhere(guitar):
        yield Grip((Held(string, fret, None),), position)


def _anywhere(guitar: Guitar) -> range:
    """The positions of a hand that has nothing to hold."""
    return range(1, min(guitar.highest_fret, OPEN_POSITIONS) + 1)


def _fingered(guitar: Guitar, wanted: Wanted, string: int, fret: int) -> Iterator[Grip]:
    if wanted.finger == 0:
        yield from (Grip((Held(string, fret, 0),), p) for p in range(max(1, fret - 1), fret + 3))
    for finger, position in _reaches(guitar, fret):
        if wanted.finger in (None, finger):
            yield Grip((Held(string, fret, finger),), position)


def _reaches(guitar: Guitar, fret: int) -> Iterator[tuple[int, int]]:
    """(finger, position) pairs that reach a fret: each finger on its own fret or one beyond."""
    for finger in (1, 2, 3, 4):
        beyond = -1 if finger == 1 else 1
        for offset in (0, beyond):
            position = fret - (finger - 1) - offset
            if 1 <= position <= guitar.highest_fret:
                yield finger, position


def _chord(guitar: Guitar, wanted: Sequence[Wanted]) -> list[Grip]:
    found: list[Grip] = []
    for places in _assignments(guitar, wanted, ()):
        for held in _fingerings(wanted, places):
            found += [Grip(held, position) for position in _positions(guitar, wanted, held)]
    return sorted(found, key=lambda g: (grip_effort(guitar, g), g.rule))[:MOST_GRIPS]


def _assignments(
    guitar: Guitar, wanted: Sequence[Wanted], so_far: tuple[tuple[int, int], ...]
) -> Iterator[tuple[tuple[int, int], ...]]:
    """Each note on a string of its own, within the reach of one hand."""
    if len(so_far) == len(wanted):
        yield so_far
        return
    for place in places_of(guitar, wanted[len(so_far)]):
        taken = any(place[0] == string for string, _ in so_far)
        if not taken and _within_reach(guitar, wanted, (*so_far, place)):
            yield from _assignments(guitar, wanted, (*so_far, place))


def _within_reach(guitar: Guitar, wanted: Sequence[Wanted], places: Sequence[tuple[int, int]]) -> bool:
    pairs = zip(wanted, places, strict=False)
    frets = [fret for one, (_, fret) in pairs if fret and not one.free]
    return not frets or guitar.fret_mm(max(frets)) - guitar.fret_mm(min(frets)) <= WIDEST_MM


def _fingerings(wanted: Sequence[Wanted], places: Sequence[tuple[int, int]]) -> Iterator[tuple[Held, ...]]:
    """Fingers in order: towards the body and, on one fret, towards the thin strings; or one as a barre."""
    order = sorted(range(len(places)), key=lambda i: (places[i][1], -places[i][0]))
    thumbs = {i: 0 for i, w in enumerate(wanted) if w.finger == 0 and places[i][1]}
    fretted = [i for i in order if places[i][1] and not wanted[i].free and i not in thumbs]
    for fingers in _orders([places[i] for i in fretted], ()):
        by_note = dict(zip(fretted, fingers, strict=True)) | thumbs
        asked = all(w.finger in (None, by_note.get(i)) for i, w in enumerate(wanted))
        if asked and _barres_hold(places, by_note):
            yield tuple(Held(s, f, by_note.get(i)) for i, (s, f) in enumerate(places))


def _orders(places: Sequence[tuple[int, int]], so_far: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    if len(so_far) == len(places):
        yield so_far
        return
    last = so_far[-1] if so_far else 0
    same_fret = so_far and places[len(so_far)][1] == places[len(so_far) - 1][1]
    for finger in range(last if same_fret else last + 1, 5):
        yield from _orders(places, (*so_far, finger))


def _barres_hold(places: Sequence[tuple[int, int]], fingers: dict[int, int]) -> bool:
    """No string under a barre may sound lower than the barre."""
    for finger in set(fingers.values()):
        held = [places[i] for i, f in fingers.items() if f == finger]
        low, high = min(s for s, _ in held), max(s for s, _ in held)
        if len(held) > 1 and any(low < s < high and f < held[0][1] for s, f in places):
            return False
    return True


def _positions(guitar: Guitar, wanted: Sequence[Wanted], held: Sequence[Held]) -> list[int]:
    """Where the hand of a chord can be: with no finger down, at the node it touches, or where it is asked."""
    if any(h.finger for h in held):
        position = _position(guitar, held)
        return [] if position is None else [position]
    touched = next((w.near for w in wanted if w.near is not None), None)
    if touched is not None:
        return sorted({position for _, position in _reaches(guitar, touched)})
    asked = {w.position for w in wanted if w.position is not None}
    if all(w.tapped for w in wanted):
        return sorted(asked or _anywhere(guitar))
    return sorted(asked or {1})


def _position(guitar: Guitar, held: Sequence[Held]) -> int | None:
    """The hand position with the least reaching; the lower one of two alike. None where no hand reaches."""
    fingered = [h for h in held if h.finger]
    if not fingered:
        return 1
    first = min(fingered, key=lambda h: h.fret)
    candidates = (first.fret - (first.finger or 1) + 1 + shift for shift in (-1, 0, 1))
    reaching = [(_reaching(fingered, p), p) for p in candidates if 1 <= p <= guitar.highest_fret]
    possible = [pair for pair in reaching if pair[0] is not None]
    return min(possible, default=(None, None))[1]


def _reaching(held: Sequence[Held], position: int) -> int | None:
    total = 0
    for one in held:
        offset = one.fret - position - (one.finger or 1) + 1
        if not -1 <= offset <= 1:
            return None
        total += abs(offset)
    return total


def grip_effort(guitar: Guitar, grip: Grip) -> int:
    """A rough effort of a chord grip in mm, to choose which grips are kept."""
    frets = [h.fret for h in grip.held if h.finger]
    strings = sorted(h.string for h in grip.held)
    gaps = sum(b - a - 1 for a, b in pairwise(strings))
    span = guitar.fret_mm(max(frets)) - guitar.fret_mm(min(frets)) if frets else 0.0
    reach = _reaching([h for h in grip.held if h.finger], grip.position) or 0
    return round(span) + 25 * reach + 20 * gaps + 10 * len({h.finger for h in grip.held if h.finger})
