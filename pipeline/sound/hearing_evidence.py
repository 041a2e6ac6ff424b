"""What speaks for each kind of clue: the measures of a note that its chance is reckoned from."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from pipeline.music.note import Note
from pipeline.sound.hearing_partials import ALL_SHARED
from pipeline.sound.hearing_strokes import measures
from pipeline.sound.hearing_traits import Traits

Measures = tuple[float, ...]
WIDEST = 5
"""Semitones that a hand in one position reaches on a string (common practice, no source)."""
RINGS_LEAST, RINGS_MOST = -5.0, 20.0
"""Decibels beyond which a fall says no more."""


@dataclass(frozen=True)
class Heard:
    """A note of the fragment, the one before it, and what was measured of it.

    `after_bend` says whether the note before leaves its height, so that coming back from there is no slip;
    `of_open_string` whether an open string has the note's pitch.
    """

    number: int
    note: Note
    before: Note | None
    traits: Traits
    after_bend: bool
    of_open_string: bool

    @property
    def interval(self) -> int:
        """Semitones from the note before, either way; 0 for the first note."""
        return abs((self.note.pitch or 0) - (self.before.pitch or 0)) if self.before else 0


def of_slur(heard: Heard) -> Measures | None:
    """The stroke, and whether the hand could reach the note on the string of the one before."""
    if not heard.interval:
        return None
    return (*measures(heard.traits.stroke), float(heard.interval > WIDEST))


def of_slide(heard: Heard) -> Measures | None:
    """The glide from the note before."""
    slid = heard.traits.slid
    return (slid.gain, slid.seconds) if slid.seconds else None


def of_slip(heard: Heard) -> Measures | None:
    """The glide at a repeated note's start."""
    repeated = heard.before is not None and not heard.interval
    return (heard.traits.slip,) if repeated and not heard.after_bend else None


def of_bend(heard: Heard) -> Measures | None:
    """The rise within the note."""
    bent = heard.traits.bent
    return (bent.gain,) if bent.semitones else None


def of_open(heard: Heard) -> Measures | None:
    """How the note falls when the next one starts."""
    ring = heard.traits.ring
    if not heard.of_open_string or ring == ALL_SHARED:
        return None
    return (min(max(ring, RINGS_LEAST), RINGS_MOST),)


def of_pinch(heard: Heard) -> Measures | None:
    """How bare the multiples of one partial stand."""
    return (heard.traits.bare,)


EVIDENCE: Mapping[str, Callable[[Heard], Measures | None]] = {
    "slurred": of_slur,
    "slide": of_slide,
    "slip": of_slip,
    "bend": of_bend,
    "open": of_open,
    "pinched": of_pinch,
}
"""The measures of each kind, None where it cannot be told of a note."""
