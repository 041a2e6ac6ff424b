"""One note as it is played: when, where, with which finger and stroke, and what the hands do to it.

Anything that may be unknown is None: a note read from MIDI has a pitch but no string. Onsets and
durations are beats, and a beat is a quarter note.
"""

from dataclasses import dataclass, replace
from fractions import Fraction
from math import log2
from typing import Any, Literal

Stroke = Literal["down", "up"]
Attack = Literal["pick", "hammer", "pull", "slide", "tap", "tie"]
"""What sets a note sounding; `tie` continues the note before it on the same string."""
Vibrato = Literal["none", "narrow", "wide"]
HarmonicKind = Literal["natural", "artificial", "pinch"]

SLURRED: frozenset[str] = frozenset({"hammer", "pull", "slide", "tie"})
"""Attacks that take no stroke and stay on the string of the note before."""


@dataclass(frozen=True)
class Harmonic:
    """A harmonic: the touched fret (fractional, from the nut or capo) and the partial that sounds.

    A pinch harmonic is touched by the picking hand, so `touch` may be None there. `partial` 2 is the octave.
    """

    kind: HarmonicKind
    partial: int = 2
    touch: Fraction | None = None


@dataclass(frozen=True)
class BendPoint:
    """The bend of a note at a share (0 to 1) of its duration, in semitones above the fretted pitch."""

    at: Fraction
    semitones: Fraction


@dataclass(frozen=True)
class Note:
    """A note. `pitch` is the MIDI note of the stopped string, before any harmonic or bend.

    `finger` is 1 (index) to 4 (little), 0 the thumb; None is unknown, and an open string has none.
    `position` is the fret under the index finger while the note is held.
    """

    onset: Fraction
    duration: Fraction
    pitch: int | None
    string: int | None = None
    fret: int | None = None
    finger: int | None = None
    position: int | None = None
    stroke: Stroke | None = None
    attack: Attack = "pick"
    grace: bool = False
    dead: bool = False
    ghost: bool = False
    palm_mute: bool = False
    let_ring: bool = False
    accent: bool = False
    staccato: bool = False
    tremolo: bool = False
    vibrato: Vibrato = "none"
    bend: tuple[BendPoint, ...] = ()
    slide_in: Literal["below", "above"] | None = None
    slide_out: Literal["up", "down"] | None = None
    shift_slide: bool = False
    """Slid to from the note before and picked again (an attack of `slide` is slid to without picking)."""
    harmonic: Harmonic | None = None

    @property
    def end(self) -> Fraction:
        return self.onset + self.duration

    @property
    def sounding(self) -> float | None:
        """The fractional MIDI note that is heard at the onset: pitch, pre-bend and harmonic together."""
        if self.pitch is None:
            return None
        heard = float(self.pitch)
        if self.bend and self.bend[0].at == 0:
            heard += float(self.bend[0].semitones)
        if self.harmonic is not None:
            heard += 12.0 * log2(self.harmonic.partial)
        return heard

    @property
    def picked(self) -> bool:
        return self.attack == "pick"

    def but(self, **changes: Any) -> "Note":
        """The same note with some fields changed."""
        return replace(self, **changes)
