"""Clues that can be heard in an aligned clip, each with its strength, offered and never imposed.

What a kind means stands in `pipeline.music.clues`. The measures and the strengths they give were set on
seeded phrases (tests/benchmarks/hearing.py, which reports precision and recall on others); on a recording
of a band, or under heavy distortion, they are hints. None reaches 1: a heard clue never forbids a reading.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import exp, log

import numpy as np

from pipeline.music.fragment import ClueMark, Fragment
from pipeline.music.note import Note
from pipeline.sound.align import Alignment
from pipeline.sound.hearing_traits import Traits, spoken, traits_of
from pipeline.sound.onsets import mono
from pipeline.sound.signal import Signal

HIGHEST = 0.9
"""The most that a clue by ear may weigh."""
LEAST = 0.3
"""Clues weaker than this are not offered."""
SURE_OF_START = 0.5
"""Confidence of the alignment under which nothing is said of a note."""
CLEAR_ATTACK = 0.8
LAST_LENGTH_S = 0.25


@dataclass(frozen=True)
class Heard:
    """A note of the fragment, the one before it, and what was measured of it."""

    number: int
    note: Note
    before: Note | None
    traits: Traits
    after_bend: bool
    """Whether the note before leaves its height, so that coming back from there is no slip."""


def hear(signal: Signal, fragment: Fragment, alignment: Alignment) -> tuple[ClueMark, ...]:
    """The clues heard in a clip of which every note's moment is known, by note and kind.

    Chords, grace, tied and dead notes are passed over, and so are notes whose start is doubtful.
    """
    clues = [clue for heard in heard_notes(signal, fragment, alignment) for clue in clues_of(heard, fragment)]
    kept = [clue for clue in clues if clue.strength >= LEAST]
    return tuple(sorted(kept, key=lambda clue: (clue.note, clue.kind)))


def heard_notes(signal: Signal, fragment: Fragment, alignment: Alignment) -> list[Heard]:
    """Every note that stands alone, with its traits."""
    numbers = [chord[0] for chord in fragment.chords if len(chord) == 1]
    numbers = [n for n in numbers if stands_alone(fragment.notes[n])]
    if not numbers:
        return []
    moments = [float(alignment.moments[n]) for n in numbers]
    rising = [i for i, moment in enumerate(moments) if i == 0 or moment > moments[i - 1]]
    numbers, moments = [numbers[i] for i in rising], [moments[i] for i in rising]
    heights = [float(fragment.notes[n].sounding or 0.0) for n in numbers]
    traits = traits_of(mono(signal.samples), signal.rate, spoken(moments, heights, LAST_LENGTH_S))
    notes = [fragment.notes[n] for n in numbers]
    moved = [False, *(trait.bend > 0.3 or trait.bare > 9.0 for trait in traits[:-1])]
    pairs = zip(numbers, notes, [None, *notes[:-1]], traits, moved, strict=True)
    return [Heard(*pair) for pair in pairs if placed(alignment, pair[0])]


def placed(alignment: Alignment, number: int) -> bool:
    """Whether a note's start is known: its confidence says so, or there is a clear attack.

    A bend or a pinch harmonic is not heard at the height that is written, so its confidence is low.
    """
    return alignment.confidence[number] >= SURE_OF_START or alignment.heights[number] >= CLEAR_ATTACK


def stands_alone(note: Note) -> bool:
    """Whether a note has a height and a start of its own."""
    return note.pitch is not None and not note.dead and not note.grace and note.attack != "tie"


def clues_of(heard: Heard, fragment: Fragment) -> Iterator[ClueMark]:
    """What is heard of one note. A pinch harmonic's height says nothing of bends and slides."""
    traits = heard.traits
    pinched = rising(traits.bare, 9.0, 15.0)
    if pinched >= LEAST:
        yield ClueMark(heard.number, "pinched", str(traits.pinch), pinched)
        return
    if 0.4 < traits.bend < 3.5:
        yield ClueMark(heard.number, "bend", bend_value(traits.bend), rising(traits.bend, 0.2, 0.8))
    elif not heard.after_bend:
        yield ClueMark(heard.number, "slip", "", rising(traits.dip, 0.1, 0.7))
    yield from slurs(heard)
    if heard.note.pitch in {fragment.guitar.open_pitch(s + 1) for s in range(fragment.guitar.string_count)}:
        yield ClueMark(heard.number, "open", "", rising(-traits.ring, -6.0, -1.0))


def slurs(heard: Heard) -> Iterator[ClueMark]:
    """A missing stroke, and a slide where the height glides as well."""
    if heard.before is None or heard.before.pitch == heard.note.pitch:
        return
    slurred = missing_stroke(heard.traits.new)
    yield ClueMark(heard.number, "slurred", "", slurred)
    apart = abs((heard.note.pitch or 0) - (heard.before.pitch or 0))
    if apart >= 2 and slurred >= LEAST:
        yield ClueMark(heard.number, "slide", "", rising(heard.traits.glide, 0.02, 0.05))


def missing_stroke(new: float) -> float:
    """How surely a start of this flux was not picked: logistic in its logarithm, fitted on seeded phrases."""
    return round(HIGHEST / (1.0 + exp(5.0 * log(max(new, 0.02)) + 3.8)), 2)


def rising(value: float, none: float, full: float) -> float:
    """0 at `none` or before it, `HIGHEST` from `full` on, straight between."""
    return round(float(np.clip((value - none) / (full - none), 0.0, 1.0)) * HIGHEST, 2)


def bend_value(semitones: float) -> str:
    """A bend to the nearest half semitone, as text."""
    return f"{round(semitones * 2) / 2:g}"
