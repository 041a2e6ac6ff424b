"""Where the fretting hand is: its positions in time, when it shifts, and how long it may take.

A position is the fret under the index finger; the hand covers four frets.
"""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from pipeline.music.note import Note
from pipeline.music.tapping import tapped
from pipeline.views.glide import eased
from pipeline.views.sounding import Line, stage_line
from pipeline.views.stage import Pass, Stage

FINGERS = 4


def position_of(note: Note) -> int | None:
    """A note's hand position: as written, else what its finger and fret say; None where neither is known.

    A tapped fret says nothing of the fretting hand.
    """
    if note.position is not None:
        return note.position
    if note.finger and note.fret and note.attack != "tap":
        return max(1, note.fret - note.finger + 1)
    return None


@dataclass(frozen=True)
class Stay:
    """The hand at a position from a beat on. `from_beat` is when the note before it started."""

    beat: Fraction
    from_beat: Fraction
    position: int


def stays_of(notes: tuple[Note, ...], line: Line) -> tuple[Stay, ...]:
    """The hand's stays in order of time; open strings and tapped notes do not move it."""
    stays: list[Stay] = []
    before, by_tap = Fraction(0), tapped(notes)
    for index in line.order:
        rests = notes[index].fret == 0 or by_tap[index]
        position = None if rests else position_of(notes[index])
        if position is not None and (not stays or stays[-1].position != position):
            if stays and stays[-1].beat == line.starts[index]:
                stays[-1] = Stay(line.starts[index], stays[-1].from_beat, min(position, stays[-1].position))
            else:
                stays.append(Stay(line.starts[index], before, position))
        before = line.starts[index] if line.starts[index] > before else before
    return tuple(stays)


@lru_cache(maxsize=64)
def stage_stays(stage: Stage) -> tuple[Stay, ...]:
    """The stays of the stage's fragment."""
    return stays_of(stage.fragment.notes, stage_line(stage)) if stage.fragment else ()


@dataclass(frozen=True)
class Hand:
    """The hand at a moment: its (fractional) position, the last one, the next one and how near that is."""

    position: float
    before: int | None = None
    left_for: float = 0.0
    """How fresh the last shift is: 1 just arrived, 0 long ago."""
    coming: int | None = None
    nearness: float = 0.0
    """How near the next shift is: 0 far, 1 now."""


@dataclass(frozen=True)
class Clocked:
    """The stays of a pass by its clock, in scene seconds: when each begins, and the note before it."""

    stays: tuple[Stay, ...]
    one: Pass
    times: tuple[float, ...]
    starts: tuple[float, ...]
    first: int


_clocked: dict[tuple[int, int], Clocked] = {}


def clocked(stays: tuple[Stay, ...], one: Pass) -> Clocked:
    """The stays before the pass's end by its clock. The last ones are kept, found without hashing them."""
    known = _clocked.get((id(stays), id(one)))
    if known is not None:
        return known
    own = [stay for stay in stays if stay.beat < one.beats.end]
    times, starts = (
        tuple(float(one.moments(beat)) for beat in beats)
        for beats in ([stay.beat for stay in own], [stay.from_beat for stay in own])
    )
    first = max(0, bisect_right([stay.beat for stay in own], one.beats.start) - 1)
    if len(_clocked) >= 256:
        _clocked.clear()
    made = _clocked[id(stays), id(one)] = Clocked(stays, one, times, starts, first)
    return made


AHEAD = 1.2
"""Seconds before a shift at which its goal begins to show (own choice: time to see, read and think)."""


def hand_at(stays: tuple[Stay, ...], one: Pass, seconds: float, glide: float, leave: float) -> Hand | None:
    """The hand in a pass at a scene second; None where no position is known."""
    known = clocked(stays, one)
    times, first = known.times, known.first
    if not times:
        return None
    own, now = stays, max(first, bisect_right(times, seconds) - 1)
    position, coming, nearness = float(own[now].position), None, 0.0
    if now + 1 < len(times):
        start = known.starts[now + 1]
        time = min(glide, (times[now + 1] - start) * 0.7)
        share = eased((seconds - (times[now + 1] - time)) / time) if time > 0 else 0.0
        position += (own[now + 1].position - own[now].position) * share
        nearness = eased((seconds - times[now + 1] + AHEAD) / (AHEAD * 0.5))
        coming = own[now + 1].position if nearness > 0 else None
    before = own[now - 1].position if now > first else None
    fresh = 1.0 - (seconds - times[now]) / leave if leave > 0 else 0.0
    return Hand(position, before, max(0.0, min(1.0, fresh)), coming, nearness)
