"""Voices as the notes, rests and notations of a MusicXML measure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import lcm
from xml.etree.ElementTree import Element

from pipeline.music.beams import beams
from pipeline.music.fragment import ClueMark, Fragment, Measure
from pipeline.music.musicxml_marks import (
    Joint,
    add,
    add_pitch,
    articulations,
    ornaments,
    technical,
    written_pitch,
)
from pipeline.music.musicxml_staff import bent_notes, tie_side, touched_note
from pipeline.music.note import Note
from pipeline.music.rhythm import TYPE_NAMES, Event, Piece, pieces, voices

DIVISIONS = 2520
"""Divisions of a quarter that hold 2- to 10-fold shares."""


@dataclass(frozen=True)
class Score:
    """A fragment with what writing looks up; `tab` shows strings and frets, `ids` names the notes."""

    fragment: Fragment
    tab: bool = True
    ids: tuple[str, ...] = ()

    @cached_property
    def divisions(self) -> int:
        times = [note.onset.denominator for note in self.fragment.notes]
        times += [note.end.denominator for note in self.fragment.notes]
        times += [measure.end.denominator for measure in self.fragment.measures]
        return lcm(DIVISIONS, *times)

    @cached_property
    def voices(self) -> tuple[tuple[Event, ...], ...]:
        return voices(self.fragment) or ((),)

    @cached_property
    def first_voice(self) -> dict[Fraction, int]:
        """For each moment the first voice that starts a note there: it shows the grace notes."""
        found: dict[Fraction, int] = {}
        for place, voice in enumerate(self.voices):
            for event in voice:
                found.setdefault(event.start, place)
        return found

    @cached_property
    def graces(self) -> dict[Fraction, list[int]]:
        found: dict[Fraction, list[int]] = {}
        for index, note in enumerate(self.fragment.notes):
            if note.grace:
                found.setdefault(note.onset, []).append(index)
        return found

    @cached_property
    def clues(self) -> dict[int, list[ClueMark]]:
        found: dict[int, list[ClueMark]] = {}
        for clue in self.fragment.clues:
            found.setdefault(clue.note, []).append(clue)
        return found

    @cached_property
    def joints(self) -> tuple[dict[int, list[Joint]], dict[int, list[Joint]]]:
        """For each note what starts on it and what stops on it."""
        starts: dict[int, list[Joint]] = {}
        stops: dict[int, list[Joint]] = {}
        latest: dict[int | None, int] = {}
        for index, note in enumerate(self.fragment.notes):
            for joint in _joints(note):
                if note.string in latest:
                    starts.setdefault(latest[note.string], []).append(joint)
                if note.string in latest or joint.tag != "slur":
                    stops.setdefault(index, []).append(joint)
            latest[note.string] = index
        return starts, stops

    def ticks(self, beats: Fraction) -> int:
        return int(beats * self.divisions)


def _joints(note: Note) -> Iterator[Joint]:
    string = note.string or 1
    if note.attack in ("hammer", "pull"):
        yield Joint("hammer-on" if note.attack == "hammer" else "pull-off", string)
        yield Joint("slur", string)
    if note.attack == "slide":
        yield Joint("slide", string)
        yield Joint("slur", string)
    if note.shift_slide:
        yield Joint("slide", string)
    if note.attack == "tie":
        yield Joint("tied", string)


def add_voice(
    element: Element, score: Score, measure: Measure, voice: Sequence[Event], place: int, pickup: bool
) -> None:
    shown = pieces(measure, voice, pickup)
    groups = beams(measure, shown, pickup)
    for index, piece in enumerate(shown):
        if piece.first and place == score.first_voice.get(piece.start, 0):
            for grace in score.graces.get(piece.start, ()):
                element.append(_note(score, grace, piece, place, grace=True))
        if not piece.event.notes:
            element.append(_rest(score, measure, piece, place))
        for rank, note in enumerate(piece.event.notes):
            element.append(_note(score, note, piece, place, chord=rank > 0, joined=groups.get(index, ())))
        if piece.first and not score.tab:
            _add_staff_alone(element, score, piece, place)


def _add_staff_alone(element: Element, score: Score, piece: Piece, place: int) -> None:
    """What only a staff shows of an event: where harmonics are touched, where bends lead."""
    fragment, voice = score.fragment, place + 1
    for index in piece.event.notes:
        touched = touched_note(fragment, index, score.ticks(piece.length), voice)
        if touched is not None:
            _add_value(touched, piece)
            add(touched, "notehead", "diamond", filled="no")
            element.append(touched)
    element.extend(bent_notes(fragment, piece.event.notes, voice))


def _rest(score: Score, measure: Measure, piece: Piece, place: int) -> Element:
    note = Element("note", {"print-object": "no"} if place else {})
    whole = piece.length == measure.length
    if score.ids and not place:
        note.set("id", f"r{score.ticks(piece.start)}")
    add(note, "rest", **({"measure": "yes"} if whole else {}))
    add(note, "duration", score.ticks(piece.length))
    add(note, "voice", place + 1)
    _add_value(note, piece)
    _add_tuplet(add(note, "notations"), piece)
    _drop_empty(note)
    return note


def _note(
    score: Score,
    index: int,
    piece: Piece,
    place: int,
    chord: bool = False,
    grace: bool = False,
    joined: Sequence[str] = (),
) -> Element:
    source = score.fragment.notes[index]
    note = Element("note")
    opening = piece.first or grace
    if score.ids:
        note.set("id", score.ids[index] if opening else f"{score.ids[index]}-{score.ticks(piece.start)}")
    if grace:
        add(note, "grace", slash="yes")
    if chord:
        add(note, "chord")
    _add_sound(note, score, source)
    if not grace:
        add(note, "duration", score.ticks(piece.length))
        _add_ties(note, score, index, piece)
    add(note, "voice", place + 1)
    if grace:
        add(note, "type", "eighth")
    else:
        _add_value(note, piece)
    _add_notehead(note, source)
    for level, word in enumerate(joined if not chord else (), 1):
        add(note, "beam", word, number=level)
    _add_notations(note, score, index, piece, opening, chord, grace)
    if source.palm_mute:
        add(add(note, "play"), "mute", "palm")
    return note


def _add_sound(note: Element, score: Score, source: Note) -> None:
    shown = written_pitch(source)
    if shown is None and source.string and not score.tab:
        shown = score.fragment.guitar.open_pitch(source.string)
    if shown is None:
        add(note, "unpitched")
    else:
        add_pitch(add(note, "pitch"), shown, score.fragment.flats)


def _add_value(note: Element, piece: Piece) -> None:
    if piece.value is None:
        return
    add(note, "type", TYPE_NAMES[piece.value])
    for _ in range(piece.dots):
        add(note, "dot")
    if piece.tuplet:
        change = add(note, "time-modification")
        add(change, "actual-notes", piece.tuplet.actual)
        add(change, "normal-notes", piece.tuplet.normal)
        add(change, "normal-type", TYPE_NAMES[piece.tuplet.value])


def _add_notehead(note: Element, source: Note) -> None:
    diamond = source.harmonic is not None and source.harmonic.kind != "artificial"
    if not (source.dead or source.ghost or diamond):
        return
    shape = "x" if source.dead else "diamond" if diamond else "normal"
    add(note, "notehead", shape, **({"parentheses": "yes"} if source.ghost else {}))


def _add_ties(note: Element, score: Score, index: int, piece: Piece) -> None:
    for kind in _tie_kinds(score, index, piece):
        add(note, "tie", type=kind)


def _tie_kinds(score: Score, index: int, piece: Piece) -> list[str]:
    starts, stops = score.joints
    tied_from = any(joint.tag == "tied" for joint in stops.get(index, ()))
    tied_on = any(joint.tag == "tied" for joint in starts.get(index, ()))
    kinds = ["stop"] if not piece.first or tied_from else []
    return kinds + (["start"] if not piece.last or tied_on else [])


def _add_notations(
    note: Element, score: Score, index: int, piece: Piece, opening: bool, chord: bool, grace: bool
) -> None:
    source = score.fragment.notes[index]
    notations = add(note, "notations")
    away = {} if score.tab else tie_side(source)
    for kind in () if grace else _tie_kinds(score, index, piece):
        add(notations, "tied", type=kind, **(away if kind == "start" else {}))
    if opening and source.let_ring and score.tab:
        add(notations, "tied", type="let-ring")
    if not (chord or grace):
        _add_tuplet(notations, piece)
    if opening:
        _add_marks(notations, score, index)
    _drop_empty(note)


def _add_marks(notations: Element, score: Score, index: int) -> None:
    source = score.fragment.notes[index]
    starts, stops = score.joints
    marks = technical(source, score.clues.get(index, ())) if score.tab else Element("technical")
    ends = [("stop", stops.get(index, ())), ("start", starts.get(index, ()))]
    through = _slurred(starts, index) and _slurred(stops, index)
    for kind, joint in ((kind, joint) for kind, joints in ends for joint in joints):
        if joint.tag == "slur" and through:
            continue
        if joint.tag in ("slur", "slide"):
            add(notations, joint.tag, type=kind, number=joint.number)
        elif joint.tag != "tied" and score.tab:
            text = {"hammer-on": "H", "pull-off": "P"}[joint.tag] if kind == "start" else None
            add(marks, joint.tag, text, type=kind, number=joint.number)
    if score.tab:
        notations.append(ornaments(source))
    notations.append(marks)
    notations.append(articulations(source))
    for element in [child for child in notations if child.tag in _GROUPS and not len(child)]:
        notations.remove(element)


_GROUPS = ("ornaments", "technical", "articulations")


def _slurred(joints: dict[int, list[Joint]], index: int) -> bool:
    return any(joint.tag == "slur" for joint in joints.get(index, ()))


def _add_tuplet(notations: Element, piece: Piece) -> None:
    tuplet = piece.tuplet
    if tuplet and piece.start == tuplet.start:
        add(notations, "tuplet", type="start", number=1, bracket="yes")
    if tuplet and piece.end == tuplet.end:
        add(notations, "tuplet", type="stop", number=1)


def _drop_empty(note: Element) -> None:
    notations = note.find("notations")
    if notations is not None and not len(notations):
        note.remove(notations)
