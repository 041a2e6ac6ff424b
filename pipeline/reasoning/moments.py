"""The moments of a fragment, before any place is chosen: when each begins and how each hand sounds it."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.music.fragment import Fragment
from pipeline.music.pitch import pitch_name
from pipeline.music.tapping import tapped
from pipeline.reasoning import chain as ch
from pipeline.reasoning.costs import HARD
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.limits import Limits
from pipeline.reasoning.stroke_costs import STROKES

Ints = NDArray[np.int64]
Times = Sequence[Fraction] | Sequence[float]


def spoken(fragment: Fragment, index: int) -> str:
    """A note as messages name it, counted from 1: `note 5 (C4)`."""
    pitch = fragment.notes[index].pitch
    return f"note {index + 1} ({pitch_name(pitch, fragment.flats) if pitch is not None else 'dead'})"


def moment_times(fragment: Fragment, times: Times | None) -> list[float]:
    """The second at which each moment begins."""
    if times is not None and len(times) != len(fragment.notes):
        raise ValueError("there must be one time for every note")
    beat = float(60 / fragment.tempo)
    first = (group[0] for group in fragment.chords)
    return [float(fragment.notes[i].onset) * beat if times is None else float(times[i]) for i in first]


def gaps_of(fragment: Fragment, times: Times | None) -> Ints:
    """Milliseconds from the moment before to each moment; at least 1, so that a grace note has some."""
    moments = moment_times(fragment, times)
    steps = (max(1, round((b - a) * 1000)) for a, b in pairwise(moments))
    return np.array([1, *steps][: len(moments)], np.int64)


def moment_kinds(fragment: Fragment, habits: Habits, limits: Limits, times: Times | None) -> tuple[str, ...]:
    """How each moment is set sounding: `picked`, `slurred` (or tapped), or `fresh`, where strokes begin: with
    the first one and after a rest."""
    gaps = gaps_of(fragment, times)
    slurred = {s.moment for s in limits.steps if s.column in (ch.SAME_STRING, ch.TIED) and s.penalty >= HARD}
    kinds, begun = list[str](), False
    for moment, indexes in enumerate(fragment.chords):
        attacks = {fragment.notes[i].attack for i in indexes}
        if ("pick" not in attacks and (moment or "tap" in attacks)) or moment in slurred - {0}:
            kinds.append("slurred")
        else:
            kinds.append("picked" if begun and gaps[moment] < habits.rest else "fresh")
            begun = True
    return tuple(kinds)


def repeated(fragment: Fragment, moment: int) -> bool:
    """Whether a moment has the pitches of the one before. Dead notes alone have none to repeat."""
    if moment == 0:
        return False
    before, now = (
        [fragment.notes[i].pitch for i in group] for group in fragment.chords[moment - 1 : moment + 1]
    )
    return before == now and any(pitch is not None for pitch in now)


def moments_pinched(fragment: Fragment) -> tuple[bool, ...]:
    marked = {clue.note for clue in fragment.clues if clue.kind == "pinched"}
    return tuple(any(_is_pinched(fragment, i, marked) for i in group) for group in fragment.chords)


def _is_pinched(fragment: Fragment, index: int, marked: set[int]) -> bool:
    harmonic = fragment.notes[index].harmonic
    return index in marked or (harmonic is not None and harmonic.kind == "pinch")


def strokes_heard(fragment: Fragment, limits: Limits, kinds: Sequence[str]) -> list[tuple[int, int, int]]:
    """(moment, stroke, penalty) of every stroke that is written or was heard.

    A stroke heard at a slurred moment, which takes none, is against both strokes.
    """
    heard = list[tuple[int, int, int]]()
    for limit in limits.strokes:
        stroke = STROKES.index(limit.stroke)
        either = (0, 1) if kinds[limit.moment] == "slurred" else (stroke,)
        heard += [(limit.moment, one, limit.penalty) for one in either]
    for moment, indexes in enumerate(fragment.chords):
        written = {fragment.notes[i].stroke for i in indexes} - {None}
        if kinds[moment] != "slurred":
            heard += [(moment, STROKES.index(stroke), HARD) for stroke in written if stroke]
    return heard


def crossings_of(fragment: Fragment, kinds: Sequence[str], gaps: Ints, rest: float) -> list[int]:
    """How often the picking hand comes over the neck for each moment of tapped notes, or leaves it: once for
    each picked moment next to it, where no rest of so many milliseconds lies between them."""
    by_tap = tapped(fragment.notes)
    taps = [any(by_tap[i] for i in group) for group in fragment.chords]
    counts = [0] * len(taps)
    for after in range(1, len(taps)):
        if gaps[after] >= rest or taps[after] == taps[after - 1]:
            continue
        at, other = (after, after - 1) if taps[after] else (after - 1, after)
        counts[at] += int(kinds[other] != "slurred")
    return counts
