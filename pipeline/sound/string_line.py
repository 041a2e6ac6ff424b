"""Who plays when on which string: the notes of a fragment as one line of touches a string, in seconds."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import log2

from pipeline.music.fragment import Fragment
from pipeline.music.note import Note, Stroke
from pipeline.music.pitch import frequency
from pipeline.timing import TimeMap

GRACE = 0.07
"""Seconds that a grace note takes from what goes before it."""
SHORTEST = 0.012
TREMOLO = Fraction(1, 8)
"""Beats from stroke to stroke of a tremolo."""
LET_RING = 4.0
"""Seconds that a note rings on where nothing stops it."""
_FALLBACK_PITCH = 52


@dataclass(frozen=True)
class Touched:
    """Note `index` (or one stroke of its tremolo) as it is touched on a string, in seconds.

    It sounds from `start` to `end`; the note as a whole lasts `whole` seconds, of which `played` are over at
    `start`. `stopped` is the MIDI note of the stopped string and `open_pitch` that of the open one.
    """

    index: int
    note: Note
    start: float
    end: float
    whole: float
    stopped: float
    open_pitch: float
    stroke: Stroke | None = None
    played: float = 0.0

    @property
    def hertz(self) -> float:
        """The fundamental that sounds; a pinch harmonic keeps the stopped string's."""
        harmonic = self.note.harmonic
        if harmonic is None or harmonic.kind == "pinch":
            return frequency(self.stopped)
        return frequency(self.stopped + 12 * log2(harmonic.partial))

    def glide_to(self, following: "Touched | None") -> float | None:
        """The interval in semitones that this note slides on to, if the next one is reached by a slide."""
        if following is None or following.index == self.index:
            return None
        slid = following.note.attack == "slide" or following.note.shift_slide
        return following.stopped - self.stopped if slid else None


def lines(fragment: Fragment, moments: TimeMap, length: float) -> dict[int, list[Touched]]:
    """For each string (notes without one stand beyond the last) its touches in order of time."""
    strings: dict[int, list[Touched]] = defaultdict(list)
    for index, note, start in _started(fragment, moments):
        whole = max(float(moments(note.end)) - start, SHORTEST)
        touched = _touched(fragment, index, note, start, whole)
        strings[_string_of(fragment, index)].append(touched)
    return {
        number: list(_strokes(_fitted(line, length), moments)) for number, line in sorted(strings.items())
    }


def _started(fragment: Fragment, moments: TimeMap) -> Iterator[tuple[int, Note, float]]:
    """Each note with its second; grace notes come before the note that they lean on."""
    waiting = 0
    for index in reversed(range(len(fragment.notes))):
        note = fragment.notes[index]
        waiting = waiting + 1 if note.grace else 0
        yield index, note, float(moments(note.onset)) - GRACE * waiting


def _touched(fragment: Fragment, index: int, note: Note, start: float, whole: float) -> Touched:
    guitar = fragment.guitar
    known = note.string is not None and note.string <= guitar.string_count
    open_pitch = guitar.open_pitch(note.string) if known and note.string else None
    stopped = note.pitch if note.pitch is not None else (open_pitch or _FALLBACK_PITCH)
    whole = GRACE if note.grace else whole
    sounding = LET_RING if note.let_ring else whole * (0.5 if note.staccato else 1.0)
    at_open = open_pitch if open_pitch is not None else stopped
    return Touched(index, note, start, start + sounding, whole, stopped, at_open, note.stroke)


def _string_of(fragment: Fragment, index: int) -> int:
    """The string; notes of a chord whose strings are unknown get one each beyond the last."""
    string = fragment.notes[index].string
    if string is not None:
        return string
    chord = next(chord for chord in fragment.chords if index in chord)
    return fragment.guitar.string_count + 1 + chord.index(index)


def _fitted(line: Sequence[Touched], length: float) -> list[Touched]:
    """In order of time, each ended by the next touch; what lies outside the sound is left out."""
    ordered = sorted(line, key=lambda touched: (touched.start, touched.index))
    kept = [a for a, b in pairwise(ordered) if b.start - a.start >= SHORTEST / 2] + ordered[-1:]
    ended = [replace(a, end=min(a.end, b.start)) for a, b in pairwise(kept)] + kept[-1:]
    return [touched for touched in ended if touched.start < length and touched.end > 0]


def _strokes(line: Sequence[Touched], moments: TimeMap) -> Iterator[Touched]:
    """Tremolo notes as the single strokes that they are made of, down and up in turn."""
    for touched in line:
        note = touched.note
        count = max(3, round(note.duration / TREMOLO)) if note.tremolo else 1
        cuts = [touched.start + (touched.end - touched.start) * i / count for i in range(count + 1)]
        for i, (start, end) in enumerate(pairwise(cuts)):
            turn: Stroke = "up" if i % 2 else "down"
            stroke = touched.stroke if count == 1 else turn
            struck = note if i == 0 else note.but(attack="pick")
            yield replace(
                touched, start=start, end=end, stroke=stroke, note=struck, played=start - touched.start
            )
