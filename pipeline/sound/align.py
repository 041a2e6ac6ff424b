"""Find every note of a fragment in its clip.

The search is a semi-Markov Viterbi straight on features of the recording: how well the expected pitch
explains each moment, where something starts, log-normal lengths at several tempos, free silence at both
ends. The path is then snapped to the attack beside it, where there is a strong one, and attacks that swell
go back to where they begin.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from pipeline.errors import Place, faulty
from pipeline.music.fragment import Fragment
from pipeline.sound.align_confidence import agreement, held_at_ends, likeness, nearness, within
from pipeline.sound.align_features import Features, listen
from pipeline.sound.align_passes import Path, find_path
from pipeline.sound.align_rise import to_feet
from pipeline.sound.align_score import Event, events_of, pitch_sets
from pipeline.sound.onsets import fine_flux, mono, sharpen
from pipeline.sound.signal import Signal
from pipeline.timing import Span, TimeMap

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bound = Mapping[Fraction, Fraction]
LONGEST_S = 60
"""Seconds of sound that are searched at once."""
DOUBTFUL = 0.5
"""Confidence under which a note is listed as doubtful."""
REFUSED = 0.65
"""Confidence of the phrase under which the fragment is taken for the wrong one: on the benchmark's
tuning seeds right fragments reach 0.72 at the least, others of the same guitar 0.62 at the most. The right
one's own notes in reverse order reach up to 0.93, and so may pass."""


@dataclass(frozen=True)
class Doubt:
    """A note (from 0) whose moment is uncertain, and why."""

    note: int
    reason: str


@dataclass(frozen=True)
class Alignment:
    """Where the notes of a fragment start in a clip.

    `moments` holds the clip second of each note of the fragment, in order; the notes of a chord share it, and
    a tied note's is reckoned from its neighbours. `confidence` (0 to 1) of a note is the chance, under the
    model, that its start lies within 20 ms of the moment, times how far the sound there agrees with its
    pitch; less for an attack that swells, and a hand-set mark has 1. `phrase` is the mean over all events, as
    heard; under `REFUSED` the fragment is refused. `heights` is how strong a step each note starts with (1 is
    a clear attack, 0 none). `tuning` is in semitones over 440 Hz, `slower` how much slower the clip is played
    than the fragment's tempo says.
    """

    moments: tuple[Fraction, ...]
    confidence: tuple[float, ...]
    phrase: float
    doubts: tuple[Doubt, ...]
    heights: tuple[float, ...]
    tuning: float
    slower: float


def align(
    signal: Signal,
    fragment: Fragment,
    span: Span | None = None,
    marks: Mapping[Fraction, Fraction] | None = None,
    place: Place | None = None,
) -> Alignment:
    """Find the notes of a fragment in a clip, or in a span of clip seconds of it.

    `marks` are hand-set (beat, clip second) pairs, which are kept and bind the rest. Repeats must have been
    written out. Raises `Faulty` at `place` where the sound is too long or silent, where nothing fits and
    where the fragment does not agree with what is heard.
    """
    where = place or Place(fragment.name)
    start = span.start if span else Fraction(0)
    wave = excerpt_of(signal, span, where)
    events = events_of(fragment)
    if not events:
        raise faulty(where, "the fragment has no notes", "write at least one")
    bound = {beat: second - start for beat, second in (marks or {}).items()}
    check_marks(bound, len(wave) / signal.rate, where)
    sets, which = pitch_sets(events)
    features = listen(wave, signal.rate, sets)
    path = find_path(features, events, which, float(fragment.tempo), bound)
    if path is None:
        raise faulty(where, "the notes do not fit into the clip", no_fit_remedy(bound))
    found = judged(events, which, features, path, wave, bound, start)
    phrase = float(found.heard.mean())
    refuse_wrong(phrase, where)
    return over_notes(fragment, found, phrase, features.detuning, path.slower)


def excerpt_of(signal: Signal, span: Span | None, where: Place) -> Floats:
    """The mono samples to search."""
    sound = signal.cut(span.start, min(span.end, signal.duration)) if span else signal
    if sound.duration > LONGEST_S:
        raise faulty(
            where,
            f"{float(sound.duration):.0f} s are too much to search at once",
            f"give the span of the clip that holds the passage, at most {LONGEST_S} s",
        )
    wave = mono(sound.samples)
    if len(wave) < signal.rate // 10 or np.abs(wave).max() < 1e-4:
        raise faulty(where, "this part of the clip is silent", "give the span that holds the passage")
    return wave


def check_marks(bound: Bound, length: float, where: Place) -> None:
    """Refuse marks that fall or leave the sound."""
    pairs = sorted(bound.items())
    for (beat, second), (later, after) in pairwise(pairs):
        if after <= second:
            raise faulty(where, f"the mark of beat {later} is not after that of beat {beat}", "set it later")
    for beat, second in pairs:
        if not 0 <= second < length:
            raise faulty(where, f"the mark of beat {beat} lies outside the clip's span", "move it inside")


def no_fit_remedy(bound: Bound) -> str:
    """What to try where no path fits."""
    if bound:
        return "check the marks set by hand, the tempo and the span"
    return "check the tempo and the span: the passage must lie in it whole"


@dataclass(frozen=True)
class Found:
    """Per event: its exact clip second, how sure without and with the marks, its fit, its step's height."""

    events: list[Event]
    seconds: list[Fraction]
    heard: Floats
    sure: Floats
    fits: Floats
    heights: Floats


def judged(
    events: list[Event],
    which: Ints,
    features: Features,
    path: Path,
    wave: Floats,
    bound: Bound,
    start: Fraction,
) -> Found:
    """A path snapped to the attacks beside it and judged; hand-set marks stay exactly where they are."""
    snapped, heights = sharpen(fine_flux(wave, features.rate), path.seconds)
    slurred = np.array([event.slurred for event in events], np.int64)
    seconds, spread = to_feet(wave, features.rate, snapped, slurred)
    hand = [event.beat in bound and not event.grace for event in events]
    fits = agreement(features, events, which, path)
    heard = nearness(path, snapped, features) * likeness(fits) * held_at_ends(events, heights)
    sure = np.where(hand, 1.0, heard * within(spread))
    exact = [start + Fraction(round(second * features.rate), features.rate) for second in seconds]
    exact = [start + bound[e.beat] if h else m for m, e, h in zip(exact, events, hand, strict=True)]
    return Found(events, exact, heard, sure, fits, heights)


def doubt_of(event: Event, fit: float) -> Doubt:
    """Why an event is doubtful, told of its first note."""
    if event.heard and fit < 0:
        return Doubt(event.notes[0], "its pitch is not heard there: a wrong, missing or extra note nearby?")
    return Doubt(event.notes[0], "no clear start: it may lie more than 20 ms away")


def refuse_wrong(phrase: float, where: Place) -> None:
    """Raise `Faulty` for a fragment that is not what the clip holds."""
    if phrase < REFUSED:
        raise faulty(
            where,
            f"the fragment does not agree with the clip (confidence {phrase:.2f})",
            "check that it is the right fragment, its tuning and capo, and the span of the clip",
        )


def over_notes(fragment: Fragment, found: Found, phrase: float, tuning: float, slower: float) -> Alignment:
    """The events' findings, a value for each note of the fragment."""
    count = len(fragment.notes)
    moments, sure, heights = [Fraction(-1)] * count, [1.0] * count, [0.0] * count
    for number, event in enumerate(found.events):
        for note in event.notes:
            moments[note] = found.seconds[number]
            sure[note], heights[note] = float(found.sure[number]), float(found.heights[number])
    between = map_of(found, Fraction(60) / fragment.tempo * Fraction(slower).limit_denominator(1000))
    for note, moment in enumerate(moments):
        if moment < 0:
            moments[note] = between(fragment.notes[note].onset)
    doubts = tuple(
        doubt_of(event, float(fit))
        for event, weight, fit in zip(found.events, found.sure, found.fits, strict=True)
        if weight < DOUBTFUL
    )
    return Alignment(tuple(moments), tuple(sure), phrase, doubts, tuple(heights), tuning, slower)


def map_of(found: Found, slope: Fraction) -> TimeMap:
    """Beat to clip second through every event but the grace notes; `slope` serves where there is but one."""
    pairs = [(e.beat, s) for e, s in zip(found.events, found.seconds, strict=True) if not e.grace]
    if len(pairs) < 2:
        beat, second = pairs[0] if pairs else (found.events[0].beat, found.seconds[0])
        return TimeMap.linear("beat", "clip", beat, second, slope)
    return TimeMap("beat", "clip", tuple(pairs))
