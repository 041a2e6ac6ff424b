"""Reads a Standard MIDI File as a draft: onsets and pitches, with strings and frets left open.

Onsets are moved to a grid. Each beat is divided by the smallest number of the grid that puts all its onsets
within a tolerance (1/16 of a beat), else by the one that moves them least; so a beat of sixteenths stays one
beside a beat of triplets. Ends go to the same division, and no note is shorter than a share of it.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from io import BytesIO
from math import floor

import mido

from pipeline.errors import Place, faulty
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.meter import Meter
from pipeline.music.note import Note

GRID = (1, 2, 3, 4, 5, 6, 7, 8)
TOLERANCE = Fraction(1, 16)
LARGEST_BYTES, MOST_MESSAGES, LONGEST_BEATS = 5_000_000, 500_000, 20_000
PERCUSSION = 9


@dataclass(frozen=True)
class Draft:
    """A fragment whose readings are open and, in words, what of the file is not in it."""

    fragment: Fragment
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Heard:
    """A note as it was played, in beats."""

    start: Fraction
    end: Fraction
    pitch: int


def read_midi(
    data: bytes, file: str, guitar: Guitar | None = None, grid: Sequence[int] = GRID, track: int | None = None
) -> Draft:
    """Read the bytes of a MIDI file; `track` counts from 0, without it the one with the most notes is read.

    Raises Faulty where the file is no MIDI file or holds no notes.
    """
    guitar = guitar or Guitar()
    source = _parse(data, file)
    heard = [list(_heard(messages, source.ticks_per_beat)) for messages in source.tracks]
    chosen = _choose(heard, file, track)
    notes = _draft(heard[chosen], grid)
    end = max(note.end for note in notes)
    if end > LONGEST_BEATS:
        raise faulty(Place(file), f"the file lasts {int(end)} beats", f"keep to {LONGEST_BEATS}")
    measures = tuple(_measures(source, end))
    warnings = tuple(_warnings(source, heard, chosen, notes, guitar))
    return Draft(Fragment(_name(source, chosen), guitar, notes, measures, _tempo(source)), warnings)


def _parse(data: bytes, file: str) -> mido.MidiFile:
    if len(data) > LARGEST_BYTES:
        raise faulty(Place(file), f"the file has {len(data)} bytes", f"keep to {LARGEST_BYTES}")
    try:
        source = mido.MidiFile(file=BytesIO(data), clip=True)
    except (OSError, EOFError, ValueError, KeyError, IndexError, TypeError, OverflowError):
        raise faulty(Place(file), "this is no MIDI file, or it is cut short", "export it again") from None
    if source.ticks_per_beat <= 0:
        remedy = "export it with ticks a quarter note"
        raise faulty(Place(file), "the file counts film frames, not beats", remedy)
    if sum(len(messages) for messages in source.tracks) > MOST_MESSAGES:
        raise faulty(Place(file), "the file holds too many messages", f"keep to {MOST_MESSAGES}")
    return source


def _timed(messages: Iterable[mido.Message], ticks: int) -> Iterator[tuple[Fraction, mido.Message]]:
    at = 0
    for message in messages:
        at += message.time
        yield Fraction(at, ticks), message


def _heard(messages: Iterable[mido.Message], ticks: int) -> Iterator[_Heard]:
    """Notes of a track; a note-on of velocity 0 ends a note, and so does the track."""
    sounding: dict[tuple[int, int], Fraction] = {}
    at = Fraction(0)
    for at, message in _timed(messages, ticks):
        if message.type not in ("note_on", "note_off") or message.channel == PERCUSSION:
            continue
        key = (message.channel, message.note)
        if key in sounding:
            yield _Heard(sounding.pop(key), at, message.note)
        if message.type == "note_on" and message.velocity:
            sounding[key] = at
    for (_, pitch), start in sounding.items():
        yield _Heard(start, at, pitch)


def _choose(heard: list[list[_Heard]], file: str, track: int | None) -> int:
    if track is not None and not (0 <= track < len(heard) and heard[track]):
        full = ", ".join(str(number) for number, notes in enumerate(heard) if notes)
        raise faulty(Place(file), f"track {track} has no notes", f"tracks with notes: {full or 'none'}")
    if not any(heard):
        raise faulty(Place(file), "the file holds no notes", "choose another file")
    return track if track is not None else max(range(len(heard)), key=lambda number: len(heard[number]))


def _draft(heard: list[_Heard], grid: Sequence[int]) -> tuple[Note, ...]:
    """Notes on the grid, those of one pitch and onset taken as one, none over the next of its pitch."""
    shares = _divisions(heard, grid)
    found: dict[tuple[Fraction, int], Fraction] = {}
    for note in heard:
        onset = _moved(note.start, shares)
        step = Fraction(1, shares.get(floor(onset), shares.get(floor(note.start), 1)))
        end = max(_moved(note.end, shares), onset + step)
        key = (onset, note.pitch)
        found[key] = max(end, found.get(key, end))
    return tuple(_until_next(found))


def _until_next(found: dict[tuple[Fraction, int], Fraction]) -> Iterator[Note]:
    following: dict[int, Fraction] = {}
    notes = []
    for (onset, pitch), end in sorted(found.items(), key=lambda item: (-item[0][0], item[0][1])):
        end = min(end, following.get(pitch, end))
        following[pitch] = onset
        notes.append(Note(onset, end - onset, pitch))
    yield from reversed(notes)


def _divisions(heard: list[_Heard], grid: Sequence[int]) -> dict[int, int]:
    """For each beat with an onset the number it is divided by."""
    beats: dict[int, list[Fraction]] = {}
    for note in heard:
        beats.setdefault(floor(note.start), []).append(note.start % 1)
    return {beat: _division(offsets, grid) for beat, offsets in beats.items()}


def _division(offsets: list[Fraction], grid: Sequence[int]) -> int:
    worst = {
        shares: max(abs(offset - _nearest(offset, shares)) for offset in offsets) for shares in sorted(grid)
    }
    apart = _apart(offsets)
    fitting = [
        shares
        for shares in worst
        if worst[shares] <= min(TOLERANCE, Fraction(1, 4 * shares))
        and len({round(offset * shares) for offset in apart}) == len(apart)
    ]
    return fitting[0] if fitting else min(worst, key=lambda shares: (worst[shares], shares))


def _apart(offsets: list[Fraction]) -> list[Fraction]:
    """Onsets that are no chord with the one before: later by more than a 32nd of a beat."""
    found: list[Fraction] = []
    for offset in sorted(offsets):
        if not found or offset - found[-1] > Fraction(1, 32):
            found.append(offset)
    return found


def _nearest(offset: Fraction, shares: int) -> Fraction:
    return Fraction(round(offset * shares), shares)


def _moved(time: Fraction, shares: dict[int, int]) -> Fraction:
    beat = floor(time)
    return beat + _nearest(time - beat, shares.get(beat, 4))


def _measures(source: mido.MidiFile, end: Fraction) -> Iterator[Measure]:
    changes = sorted(
        (at, message.numerator, message.denominator)
        for messages in source.tracks
        for at, message in _timed(messages, source.ticks_per_beat)
        if message.type == "time_signature" and message.numerator and message.denominator <= 32
    )
    start, meter = Fraction(0), Meter()
    while start < end:
        while changes and changes[0][0] <= start:
            meter = Meter(*changes.pop(0)[1:])
        length = meter.length
        if changes and start < changes[0][0] < start + length:
            length = changes[0][0] - start
        yield Measure(start, length, meter.beats, meter.unit)
        start += length


def _tempi(source: mido.MidiFile) -> list[int]:
    found = [
        (at, message.tempo)
        for messages in source.tracks
        for at, message in _timed(messages, source.ticks_per_beat)
        if message.type == "set_tempo" and message.tempo
    ]
    return [tempo for _, tempo in sorted(found)]


def _tempo(source: mido.MidiFile) -> Fraction:
    tempi = _tempi(source) or [500_000]
    return Fraction(60_000_000, tempi[0]).limit_denominator(100)


def _name(source: mido.MidiFile, chosen: int) -> str:
    for messages in (source.tracks[chosen], *source.tracks):
        name = "".join(letter for letter in messages.name if letter.isprintable()).strip()
        if name:
            return name[:80]
    return "imported"


def _warnings(
    source: mido.MidiFile, heard: list[list[_Heard]], chosen: int, notes: tuple[Note, ...], guitar: Guitar
) -> Iterator[str]:
    if sum(bool(track) for track in heard) > 1:
        yield f"track {chosen} is read; the notes of other tracks are left out"
    if len(set(_tempi(source))) > 1:
        yield "changes of tempo are not kept"
    kinds = {message.type for message in source.tracks[chosen]}
    if "pitchwheel" in kinds and any(m.type == "pitchwheel" and m.pitch for m in source.tracks[chosen]):
        yield "bends are not read: add them to the notes"
    lost = sum(not any(True for _ in guitar.places(note.pitch or 0)) for note in notes)
    if lost:
        yield f"{lost} notes are beyond the reach of this guitar"
