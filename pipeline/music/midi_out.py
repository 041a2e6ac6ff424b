"""Writes a fragment as a Standard MIDI File: tempo, meters, velocities, bends, repeats unfolded.

Each string has its own channel, so that one string bends while others ring. A quarter note is 2520 ticks,
which holds 2- to 10-fold shares exactly. Pitch bend reaches an octave either way and is set so by
registered parameter 0 (General MIDI's own range is two semitones).
"""

from collections.abc import Iterator
from fractions import Fraction
from io import BytesIO
from itertools import pairwise

import mido

from pipeline.music.fragment import Fragment
from pipeline.music.note import BendPoint, Note
from pipeline.music.passage import performed

TICKS = 2520
STEEL_GUITAR = 25  # General MIDI program, from 0
BEND_RANGE = 12
LOOSE_CHANNEL = 10
"""For notes without a string; strings take channels 0 to 8, and 9 is for percussion."""
GRACE = Fraction(1, 12)
"""Beats that a grace note takes from what stands before it."""
BEND_STEP = Fraction(1, 32)
VELOCITIES = {"pick": 88, "tap": 80, "hammer": 72, "pull": 70, "slide": 70}
_Timed = tuple[int, int, mido.Message]


def write_midi(fragment: Fragment) -> bytes:
    """The bytes of the file, as the fragment is performed."""
    played = performed(fragment)
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    file.tracks.append(_track(list(_conducting(played))))
    file.tracks.append(_track([*_settings(played), *_sounding(played)]))
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def _track(events: list[_Timed]) -> mido.MidiTrack:
    """Events (tick, rank, message) as a track with the ticks between them."""
    track, before = mido.MidiTrack(), 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=tick - before))
        before = tick
    track.append(mido.MetaMessage("end_of_track", time=0))
    return track


def _ticks(beats: Fraction) -> int:
    return max(0, round(beats * TICKS))


def _conducting(fragment: Fragment) -> Iterator[_Timed]:
    name = fragment.name.encode("latin-1", "replace").decode("latin-1")
    yield 0, 0, mido.MetaMessage("track_name", name=name)
    yield 0, 1, mido.MetaMessage("set_tempo", tempo=round(60_000_000 / fragment.tempo))
    before = None
    for measure in fragment.measures:
        meter = (measure.beats, measure.unit)
        if meter != before:
            message = mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1])
            yield _ticks(measure.start), 2, message
        before = meter


def _channel(note: Note) -> int:
    return LOOSE_CHANNEL if note.string is None else note.string - 1


def _settings(fragment: Fragment) -> Iterator[_Timed]:
    for channel in sorted({_channel(note) for note in fragment.notes}):
        yield 0, 0, mido.Message("program_change", channel=channel, program=STEEL_GUITAR)
        for control, value in ((101, 0), (100, 0), (6, BEND_RANGE), (38, 0), (101, 127), (100, 127)):
            yield 0, 1, mido.Message("control_change", channel=channel, control=control, value=value)


def _sounding(fragment: Fragment) -> Iterator[_Timed]:
    ends = _ends(fragment)
    for index, note in enumerate(fragment.notes):
        pitch = _pitch(fragment, note)
        if pitch is None:
            continue
        start = _start(fragment, index)
        end = max(note.onset if note.grace else ends[index], start + Fraction(1, 64))
        channel = _channel(note)
        yield from _bend(note, channel, start, end)
        if note.attack == "tie":
            continue
        velocity = _velocity(note)
        yield _ticks(start), 4, mido.Message("note_on", channel=channel, note=pitch, velocity=velocity)
        yield _ticks(end), 2, mido.Message("note_off", channel=channel, note=pitch, velocity=0)


def _ends(fragment: Fragment) -> list[Fraction]:
    """When each note stops: tied notes with the last of them, short ones early, all before the next there."""
    ends = [note.onset + note.duration * _share(note) for note in fragment.notes]
    following: dict[int, tuple[Fraction, Fraction | None]] = {}
    for index in range(len(ends) - 1, -1, -1):
        note = fragment.notes[index]
        if note.string is None:
            continue
        start, tied_end = following.get(note.string, (None, None))
        if start is not None:
            ends[index] = tied_end if tied_end is not None else min(ends[index], start)
        tied = note.attack == "tie"
        following[note.string] = (_start(fragment, index), ends[index] if tied else None)
    return ends


def _share(note: Note) -> Fraction:
    """The part of a note's length that sounds."""
    if note.dead:
        return Fraction(1, 4)
    return Fraction(1, 2) if note.staccato else Fraction(1)


def _start(fragment: Fragment, index: int) -> Fraction:
    """When a note starts; grace notes stand before the beat, one after the other."""
    note = fragment.notes[index]
    if not note.grace:
        return note.onset
    later = index + 1
    while later < len(fragment.notes) and fragment.notes[later].grace:
        later += 1
    return max(Fraction(0), note.onset - GRACE * (later - index))


def _pitch(fragment: Fragment, note: Note) -> int | None:
    if note.pitch is None:
        return fragment.guitar.open_pitch(note.string) if note.string else None
    harmonic = note.but(bend=()).sounding
    return min(127, max(0, round(harmonic if harmonic is not None else note.pitch)))


def _velocity(note: Note) -> int:
    if note.dead or note.ghost:
        return 45
    loud = VELOCITIES.get(note.attack, 88) - (8 if note.palm_mute else 0)
    return loud + 24 if note.accent else loud


def _bend(note: Note, channel: int, start: Fraction, end: Fraction) -> Iterator[_Timed]:
    """The wheel of a channel: back to the middle at each note, then along the bend in small steps."""
    yield _wheel(channel, start, note.bend[0].semitones if note.bend else Fraction(0))
    length = end - start
    for before, after in pairwise(note.bend):
        steps = max(1, int((after.at - before.at) * length / BEND_STEP))
        for step in range(1, steps + 1):
            point = _between(before, after, Fraction(step, steps))
            yield _wheel(channel, start + point.at * length, point.semitones)


def _between(before: BendPoint, after: BendPoint, share: Fraction) -> BendPoint:
    at = before.at + (after.at - before.at) * share
    return BendPoint(at, before.semitones + (after.semitones - before.semitones) * share)


def _wheel(channel: int, time: Fraction, semitones: Fraction) -> _Timed:
    value = min(8191, max(-8192, round(semitones * 8192 / BEND_RANGE)))
    return _ticks(time), 3, mido.Message("pitchwheel", channel=channel, pitch=value)
