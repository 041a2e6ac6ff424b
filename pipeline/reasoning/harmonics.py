"""Where the picking hand touches: the harmonics it gives at each fret, and the place found from them.

A pinch harmonic is touched by the edge of the thumb, some millimetres wide, at a distance from the bridge.
Which partial sounds follows from the nodes of the stopped string (`pipeline.music.harmonics`), so two
pinched notes with the hand at one place narrow that place down.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeGuard

from pipeline.errors import Faulty, Place, faulty
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.harmonics import HIGHEST_PARTIAL, cents, deviation, touch_points, touched_partial
from pipeline.music.note import Harmonic
from pipeline.music.pitch import frequency, pitch_name
from pipeline.reasoning.reading import Placement

TOLERANCE_MM = 3.0
"""Half the width of the thumb's edge (common practice, no source)."""
NEAREST_MM = 10.0
"""The picking hand touches no nearer to the bridge than this (common practice, no source)."""
FRETS_ON = 5
"""The next harmonic is sought this many frets up."""
STEP_MM = 0.25
"""Places are told apart no finer than this."""


@dataclass(frozen=True)
class Sounding:
    """A partial that a touch can give: how far its node is, and what is heard."""

    partial: int
    off_mm: float
    note: float
    """The fractional MIDI note."""

    @property
    def hertz(self) -> float:
        return frequency(self.note)

    @property
    def cents(self) -> float:
        """Cents by which it is sharp (or, below zero, flat) of the nearest equal-tempered note."""
        return deviation(self.partial)

    @property
    def words(self) -> str:
        """The pitch as a player says it, with its cents: `B5 +2`."""
        off = round(self.cents)
        return pitch_name(round(self.note)) + (f" {off:+d}" if off else "")


@dataclass(frozen=True)
class Pinched:
    """A pinch harmonic that was heard: the string and fret it was stopped at, and the partial."""

    string: int
    fret: int
    partial: int


@dataclass(frozen=True)
class Touch:
    """A stretch of places, as distances from the bridge in mm, from which all that was heard can come."""

    low_mm: float
    high_mm: float

    @property
    def middle_mm(self) -> float:
        return (self.low_mm + self.high_mm) / 2


def partial_pitch(note: int, partial: int) -> float:
    """The fractional MIDI note of a partial above a stopped note."""
    return note + cents(partial) / 100.0


def soundings(
    guitar: Guitar,
    string: int,
    fret: int,
    from_bridge_mm: float,
    tolerance_mm: float = TOLERANCE_MM,
    highest: int = HIGHEST_PARTIAL,
) -> tuple[Sounding, ...]:
    """Every partial with a node within the tolerance of a touch, the one that is heard (the lowest) first."""
    stopped = guitar.pitch(string, fret)
    found = []
    for partial in range(2, highest + 1):
        off = min(abs(point - from_bridge_mm) for point in touch_points(guitar, fret, partial))
        if off <= tolerance_mm:
            found.append(Sounding(partial, off, partial_pitch(stopped, partial)))
    return tuple(found)


def along_the_neck(
    guitar: Guitar,
    string: int,
    from_bridge_mm: float,
    frets: Iterable[int] | None = None,
    tolerance_mm: float = TOLERANCE_MM,
) -> dict[int, Sounding | None]:
    """For each fret the harmonic that a touch at one place gives; None where none sounds."""
    wanted = range(guitar.highest_fret + 1) if frets is None else frets
    found = ((fret, soundings(guitar, string, fret, from_bridge_mm, tolerance_mm)) for fret in wanted)
    return {fret: some[0] if some else None for fret, some in found}


def touches(
    guitar: Guitar,
    heard: Sequence[Pinched],
    farthest_mm: float | None = None,
    tolerance_mm: float = TOLERANCE_MM,
) -> tuple[Touch, ...]:
    """The places from which every pinched note that was heard can come, nearest to the bridge first.

    Places from near the bridge to the end of the neck are sought, or up to `farthest_mm`. Raises Faulty
    where there is no such place.
    """
    if not heard:
        return ()
    end = guitar.scale_mm - guitar.fret_mm(guitar.highest_fret) if farthest_mm is None else farthest_mm
    count = int((end - NEAREST_MM) / STEP_MM) + 1
    places = [NEAREST_MM + STEP_MM * i for i in range(max(0, count))]
    fits = [all(_sounds(guitar, one, mm, tolerance_mm) for one in heard) for mm in places]
    found = tuple(_stretches(places, fits))
    if not found:
        names = " and ".join(f"partial {p.partial} at fret {p.fret} of string {p.string}" for p in heard)
        raise faulty(
            Place("pinch harmonics"), f"no one place gives {names}", "check the pitches that were heard"
        )
    return found


def pinches(fragment: Fragment, places: Sequence[Placement]) -> tuple[Pinched, ...]:
    """The pinch harmonics of a fragment of which the partial is known, where a reading puts them."""
    heard = {i: n.harmonic.partial for i, n in enumerate(fragment.notes) if _is_pinch(n.harmonic)}
    for clue in fragment.clues:
        if clue.kind == "pinched" and clue.value.isdecimal() and 0 <= clue.note < len(places):
            heard[clue.note] = int(clue.value)
    return tuple(Pinched(places[i].string, places[i].fret, partial) for i, partial in sorted(heard.items()))


def _is_pinch(harmonic: Harmonic | None) -> TypeGuard[Harmonic]:
    return harmonic is not None and harmonic.kind == "pinch"


def touch_words(guitar: Guitar, heard: Sequence[Pinched]) -> str:
    """Where the picking hand touched, and what the same touch gives a fret higher; in one sentence."""
    try:
        found = touches(guitar, heard)
    except Faulty:
        return "No one place of the picking hand gives these pinch harmonics."
    where = " or ".join(f"{t.low_mm:.0f} to {t.high_mm:.0f} mm" for t in found[:3])
    last, middle = heard[-1], found[0].middle_mm
    higher = range(last.fret + 1, min(last.fret + FRETS_ON, guitar.highest_fret) + 1)
    neck = along_the_neck(guitar, last.string, middle, higher)
    fret, above = next(((f, s.words) for f, s in neck.items() if s), (0, ""))
    next_ = f"fret {fret} gives {above}" if fret else "the next frets give nothing clear"
    return f"The picking hand touches {where} from the bridge; from there {next_}."


def _sounds(guitar: Guitar, heard: Pinched, mm: float, tolerance_mm: float) -> bool:
    return touched_partial(guitar, heard.fret, mm, tolerance_mm) == heard.partial


def _stretches(places: Sequence[float], fits: Sequence[bool]) -> Iterable[Touch]:
    """Runs of neighbouring places that fit."""
    edges = [i for i, (a, b) in enumerate(pairwise([False, *fits, False])) if a != b]
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        yield Touch(places[first], places[last - 1])
