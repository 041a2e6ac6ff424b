"""From a fragment to what the search needs: its events, what each should sound like, and for how long."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from pipeline.music.fragment import Fragment
from pipeline.music.note import Note
from pipeline.sound.align_features import Features
from pipeline.sound.align_search import NEVER

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
GRACE_S = 0.06
"""How long a grace note is expected to last (common practice, no source)."""
ONSET_WEIGHT = {"picked": 3.0, "slurred": 0.6}
RISE_WEIGHT = {"picked": 3.0, "slurred": 3.0}
FIT_WEIGHT = 35.0
"""What a second of frames weighs: they overlap, so a window's worth counts once or twice."""
SURPRISE = 0.03
"""The share of lengths that follow no rule: a wrong or missing note, a stumble."""
SCATTER_S = 0.008
"""How far a player's and the frames' timing scatters about the beat."""
LONGEST = 2.6
"""The longest an event may last, over its expected length."""


@dataclass(frozen=True)
class Event:
    """Notes that start together: their numbers in the fragment, the beat, what is heard, and how."""

    notes: tuple[int, ...]
    beat: Fraction
    heard: tuple[float, ...]
    slurred: bool
    grace: bool
    beats: float
    """Beats to the next event; a grace note's are 0."""
    sounds: float
    """The share of them that it sounds."""


def heard_in(note: Note) -> set[float]:
    """What a note sounds like for most of its length: the height that its bend reaches and holds.

    The stopped string is still heard under a pinch harmonic, the more so through a distorting amplifier.
    """
    if note.pitch is None or note.sounding is None or note.dead:
        return set()
    if note.harmonic is None:
        return {note.pitch + float(note.bend[-1].semitones) if note.bend else note.sounding}
    return {note.sounding, note.pitch} if note.harmonic.kind == "pinch" else {note.sounding}


def events_of(fragment: Fragment) -> list[Event]:
    """The events of a fragment in order; a tied note starts nothing and is none."""
    groups = [[i for i in chord if fragment.notes[i].attack != "tie"] for chord in fragment.chords]
    groups = [group for group in groups if group]
    beats = [fragment.notes[group[0]].onset for group in groups] + [fragment.length]
    events = []
    for number, group in enumerate(groups):
        notes = [fragment.notes[i] for i in group]
        gap = float(beats[number + 1] - beats[number]) or float(notes[0].duration)
        if notes[0].grace:
            gap = 0.0
        sounds = max(float(note.end - note.onset) for note in notes)
        heard = tuple(sorted({pitch for note in notes for pitch in heard_in(note)}))
        slurred = all(note.attack in ("hammer", "pull", "slide") for note in notes)
        share = min(1.0, max(0.2, sounds / gap)) if gap > 0 else 1.0
        events.append(Event(tuple(group), beats[number], heard, slurred, notes[0].grace, gap, share))
    return events


def expected(events: Sequence[Event], tempo: float) -> Floats:
    """Seconds that each event is expected to last at a tempo in quarter notes a minute."""
    seconds = np.array([event.beats * 60.0 / tempo for event in events])
    seconds[[event.grace for event in events]] = GRACE_S
    return np.asarray(np.maximum(seconds, 0.015), np.float64)


def length_scores(seconds: Floats, step: float, spread: float) -> Floats:
    """The log-likelihood of each length in frames of `step` seconds, (events, longest + 1).

    Log-normal about the expected `seconds` with a standard deviation of `spread` in natural logs, widened
    by loose timing at both ends; a small share follows no rule at all. The expected length scores about 0.
    """
    frames = np.arange(int(np.ceil(LONGEST * seconds.max() / step)) + 3)
    away = np.log(np.maximum(frames, 1) * step / seconds[:, None])
    wide = np.sqrt(spread**2 + (SCATTER_S / seconds) ** 2)[:, None]
    scores = np.log((1 - SURPRISE) * np.exp(-0.5 * (away / wide) ** 2) + SURPRISE * 0.3 * wide)
    scores[frames[None, :] * step > LONGEST * seconds[:, None] + step] = NEVER
    scores[:, 0] = NEVER
    return np.asarray(scores)


def pitch_sets(events: Sequence[Event]) -> tuple[list[tuple[float, ...]], Ints]:
    """The distinct sets of sounding notes, and which one each event is."""
    sets = sorted({event.heard for event in events})
    return sets, np.array([sets.index(event.heard) for event in events], np.int64)


def start_scores(features: Features, events: Sequence[Event], which: Ints) -> Floats:
    """How well each event may start at each frame, (events, frames)."""
    rows = []
    for event, kind in zip(events, which, strict=True):
        how = "slurred" if event.slurred else "picked"
        new = np.minimum(features.flux, 1.5) * ONSET_WEIGHT[how]
        rows.append(new + np.minimum(features.rise[kind], 1.5) * RISE_WEIGHT[how])
    return np.array(rows)


def bind(scores: Floats, events: Sequence[Event], marks: Mapping[Fraction, Fraction], rate: float) -> None:
    """Forbid every start of a marked event but the one at its mark. Changes `scores`.

    `marks` are seconds from the first frame, `rate` the frames a second.
    """
    for row, event in enumerate(events):
        if event.beat in marks and not event.grace:
            frame = round(float(marks[event.beat]) * rate)
            kept = scores[row, frame] if 0 <= frame < scores.shape[1] else NEVER
            scores[row] = NEVER
            if 0 <= frame < scores.shape[1]:
                scores[row, frame] = kept


def smooth_lengths(events: Sequence[Event], starts: Floats, reach: int = 6) -> Floats:
    """Seconds that each event is expected to last, from the tempo of its neighbours in a first pass."""
    found = np.append(np.diff(starts), np.nan)
    beats = np.array([event.beats for event in events])
    slow = np.where(beats > 0, found / np.maximum(beats, 1e-9), np.nan)
    out = np.full(len(events), GRACE_S)
    overall = np.nanmedian(slow) if np.isfinite(slow).any() else 0.5
    for n, event in enumerate(events):
        near = slow[max(0, n - reach) : n + reach + 1]
        near = near[np.isfinite(near)]
        pace = float(np.median(near)) if len(near) > 2 else float(overall)
        if not event.grace:
            out[n] = max(0.015, event.beats * pace)
    return out
