"""What can be measured of each note of an aligned clip: stroke, course of the height, partials."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.sound.hearing_courses import Bent, Slid, bent, slid, slipped
from pipeline.sound.hearing_partials import Spoken, fall, pinch_of
from pipeline.sound.hearing_strokes import Stroke, strokes
from pipeline.sound.pitchmap import emphasised, pitch_map

Floats = npt.NDArray[np.float64]
FARTHEST = 12.0
"""Semitones over which a slide is looked for; less than `NEAREST` is no slide."""
NEAREST = 1.5
SHORTEST_BEND_S = 0.085
"""Seconds under which a note is too short to be bent."""
CUT_SHORT = 0.6
"""The share of its written length under which a note's end is not believed."""
CLEARLY_BENT = 0.3
"""The gain from which the next note is taken to be left from where a bend has led."""


@dataclass(frozen=True)
class Traits:
    """What was measured of a note.

    `stroke` is its start against the clip's usual one, `slid` and `bent` the course of its height, `slip` how
    much better a short glide explains the start of a repeated note. `ring` is how many dB the note's partials
    fall over the first 90 ms of the next one. `pinch` is the partial whose multiples hold nearly all energy,
    and `bare` by how many dB the others lie below it.
    """

    stroke: Stroke
    slid: Slid
    slip: float
    bent: Bent
    ring: float
    pinch: int
    bare: float

    @property
    def reaches(self) -> float:
        """Semitones above its written height at which the note ends."""
        return self.bent.semitones if self.bent.gain >= CLEARLY_BENT else 0.0


def traits_of(wave: Floats, rate: int, notes: Sequence[Spoken]) -> list[Traits]:
    """The traits of notes that follow each other, in a mono wave."""
    starts, ends, heights = ([getattr(note, name) for note in notes] for name in ("start", "end", "height"))
    lifted, found = emphasised(wave, rate), list[Traits]()
    for number, (note, stroke) in enumerate(
        zip(notes, strokes(wave, rate, starts, ends, heights), strict=True)
    ):
        last = notes[number - 1] if number else None
        left = last.height + found[-1].reaches if last else note.height
        following = notes[number + 1] if number + 1 < len(notes) else None
        ring, pinch = fall(wave, rate, note, following), pinch_of(wave, rate, note)
        glide, slip = slide_to(lifted, rate, last, left, note), slip_to(lifted, rate, last, note)
        found.append(Traits(stroke, glide, slip, bend_of(lifted, rate, note, following), ring, *pinch))
    return found


def slide_to(lifted: Floats, rate: int, last: Spoken | None, left: float, note: Spoken) -> Slid:
    """The glide from the height at which the last note was left."""
    if last is None or not NEAREST < abs(note.height - left) <= FARTHEST:
        return Slid()
    start, end = max(last.start + 0.01, note.start - 0.13), min(note.end - 0.004, note.start + 0.075)
    low, high = sorted((left, note.height))
    return slid(pitch_map(lifted, rate, start, end, low - 1.5, high + 1.5), left, note.height, note.start)


def slip_to(lifted: Floats, rate: int, last: Spoken | None, note: Spoken) -> float:
    """The short glide to a repeated note."""
    if last is None or abs(last.height - note.height) > 0.5:
        return 0.0
    start, end = max(last.start + 0.02, note.start - 0.05), min(note.end - 0.004, note.start + 0.1)
    map_ = pitch_map(lifted, rate, start, end, note.height - 4, note.height + 4)
    return slipped(map_, note.height, note.start)


def bend_of(lifted: Floats, rate: int, note: Spoken, following: Spoken | None) -> Bent:
    """The rise within a note."""
    until = bend_end(note, following)
    if until - note.start < SHORTEST_BEND_S:
        return Bent()
    start, end = note.start + 0.012, until - 0.008
    map_ = pitch_map(lifted, rate, start, end, note.height - 2, note.height + 4)
    return bent(map_, note.height, following.height if following else None)


def bend_end(note: Spoken, following: Spoken | None) -> float:
    """Where to look for a bend until: the end, or where it is due, if it seems to come far too early.

    A note that is bent to the next one's height is easily taken for that one from there on.
    """
    if note.end - note.start >= CUT_SHORT * (note.due - note.start):
        return note.end
    return min(note.due, following.end) if following else note.due
