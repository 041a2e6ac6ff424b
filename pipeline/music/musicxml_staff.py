"""Notes that a staff shows and a tab does not: where artificial harmonics are touched, where bends lead.

An artificial harmonic is a plain head at the stopped pitch and a hollow diamond at the touched one over it,
the base pitch and touching pitch of MusicXML 4.0's `harmonic`; a bend leads to small heads in brackets
(common practice, no source).
"""

from collections.abc import Iterator, Sequence
from xml.etree.ElementTree import Element

from pipeline.music.bends import bend_turns
from pipeline.music.fragment import Fragment
from pipeline.music.harmonics import nodes
from pipeline.music.musicxml_marks import add, add_pitch
from pipeline.music.note import Note


def touched_over(note: Note) -> int | None:
    """Semitones from the stopped pitch to that over whose fret an artificial harmonic is touched."""
    harmonic = note.harmonic
    if harmonic is None or harmonic.kind != "artificial":
        return None
    if harmonic.touch is None:
        return round(nodes(harmonic.partial)[0].fret)
    return round(harmonic.touch - (note.fret or 0))


def touched_note(fragment: Fragment, index: int, ticks: int, voice: int) -> Element | None:
    """The pitch of the touch as one more note of the chord, without its value."""
    source = fragment.notes[index]
    over = touched_over(source)
    if source.pitch is None or over is None:
        return None
    note = Element("note", {"id": f"h{index}"})
    add(note, "chord")
    add_pitch(add(note, "pitch"), source.pitch + over, fragment.flats)
    add(note, "duration", ticks)
    add(note, "voice", voice)
    return note


def bent_pitches(note: Note) -> list[int | None]:
    """The pitch at the end of each of a bend's moves; None between two semitones, where no head can stand."""
    if note.pitch is None or note.harmonic is not None:
        return []
    ends = (level for _, level in bend_turns(note))
    return [note.pitch + int(level) if level.denominator == 1 else None for level in ends]


def bent_notes(fragment: Fragment, chord: Sequence[int], voice: int) -> Iterator[Element]:
    """Small heads in brackets after a chord, those at the same move of several bends over one another."""
    moves = {index: bent_pitches(fragment.notes[index]) for index in chord}
    for turn in range(max((len(found) for found in moves.values()), default=0)):
        there = [(index, found[turn]) for index, found in moves.items() if turn < len(found)]
        heads = [(index, pitch) for index, pitch in there if pitch is not None]
        for rank, (index, pitch) in enumerate(heads):
            yield _bent(f"b{index}-{turn + 1}", pitch, fragment.flats, voice, chord=rank > 0)


def tie_side(note: Note) -> dict[str, str]:
    """On which side a tie leaves a note: under one that is bent, as what its bend leads to stands over it."""
    return {"orientation": "under"} if note.bend else {}


def _bent(name: str, pitch: int, flats: bool, voice: int, chord: bool) -> Element:
    note = Element("note", {"id": name})
    add(note, "grace")
    if chord:
        add(note, "chord")
    add_pitch(add(note, "pitch"), pitch, flats)
    add(note, "voice", voice)
    add(note, "type", "quarter")
    add(note, "stem", "none")
    add(note, "notehead", "normal", parentheses="yes")
    return note
