"""Writes a fragment as MusicXML 4.0: one part on a tab staff, with all that the standard can say.

Durations are whole numbers of a division that holds 2- to 10-fold shares of a quarter and whatever else
occurs (2520 or a multiple). Source of the format: W3C Community Group Final Report, 1 June 2021.
"""

from collections.abc import Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element, indent, tostring

from pipeline.music.fragment import Fragment
from pipeline.music.musicxml_accidentals import add_accidentals
from pipeline.music.musicxml_marks import add, add_pitch, number
from pipeline.music.musicxml_note import Score, add_voice

LOW_STRINGS = 52
"""An instrument whose highest open string lies below this (E3) is a bass, and written in the bass clef."""
MIDI_STEEL_GUITAR = 26  # programs count from 1 in MusicXML (W3C tutorial: 26 is a steel-string guitar)
_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_TYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def write_musicxml(fragment: Fragment) -> str:
    """The fragment as a MusicXML 4.0 text."""
    score = Score(fragment)
    root = Element("score-partwise", {"version": "4.0"})
    add(add(root, "work"), "work-title", fragment.name)
    _add_identification(root, fragment)
    _add_part_list(root)
    part = add(root, "part", id="P1")
    for index in range(len(fragment.measures)):
        part.append(_measure(score, index))
    return document(root)


def document(root: Element) -> str:
    """An element as the text of a file."""
    indent(root, " ")
    return _HEAD + _TYPE + tostring(root, encoding="unicode") + "\n"


def _add_identification(root: Element, fragment: Fragment) -> None:
    identification = add(root, "identification")
    add(add(identification, "encoding"), "software", "fretscene")
    fields = add(identification, "miscellaneous")
    guitar = fragment.guitar
    add(fields, "miscellaneous-field", guitar.frets, name="frets")
    add(fields, "miscellaneous-field", guitar.scale_mm, name="scale-mm")
    add(fields, "miscellaneous-field", "left" if guitar.left_handed else "right", name="hand")
    add(fields, "miscellaneous-field", "flats" if fragment.flats else "sharps", name="spelling")


def _add_part_list(root: Element) -> None:
    part = add(add(root, "part-list"), "score-part", id="P1")
    add(part, "part-name", "Guitar")
    instrument = add(part, "score-instrument", id="P1-I1")
    add(instrument, "instrument-name", "Guitar")
    add(instrument, "instrument-sound", "pluck.guitar")
    midi = add(part, "midi-instrument", id="P1-I1")
    add(midi, "midi-channel", 1)
    add(midi, "midi-program", MIDI_STEEL_GUITAR)


def _measure(score: Score, index: int) -> Element:
    fragment = score.fragment
    measure = fragment.measures[index]
    element = Element("measure", {"number": str(fragment.bar_number(index))})
    if measure.pickup:
        element.set("implicit", "yes")
    _add_barline(element, fragment, index, "left")
    _add_attributes(element, score, index)
    if index == 0:
        _add_tempo(element, fragment.tempo)
    for place, voice in enumerate(score.voices):
        if place:
            add(add(element, "backup"), "duration", score.ticks(measure.length))
        add_voice(element, score, measure, voice, place, pickup=index == 0 and measure.pickup)
    _add_barline(element, fragment, index, "right")
    return element


def _add_attributes(element: Element, score: Score, index: int) -> None:
    measures = score.fragment.measures
    measure, before = measures[index], measures[index - 1]
    if index and measure.meter == before.meter:
        return
    attributes = add(element, "attributes")
    if index == 0:
        add(attributes, "divisions", score.divisions)
        add(add(attributes, "key"), "fifths", 0)
    time = add(attributes, "time")
    add(time, "beats", measure.meter.over)
    add(time, "beat-type", measure.unit)
    if index == 0:
        _add_staff(attributes, score)


def _add_staff(attributes: Element, score: Score) -> None:
    guitar = score.fragment.guitar
    clef = add(attributes, "clef")
    if not score.tab:
        low = guitar.open_pitch(1) < LOW_STRINGS
        add(clef, "sign", "F" if low else "G")
        add(clef, "line", 4 if low else 2)
        add(clef, "clef-octave-change", -1)
        return
    add(clef, "sign", "TAB")
    add(clef, "line", 5)
    details = add(attributes, "staff-details")
    add(details, "staff-lines", guitar.string_count)
    for line in range(1, guitar.string_count + 1):
        tuning = add(details, "staff-tuning", line=line)
        add_pitch(tuning, guitar.strings[guitar.string_count - line], score.fragment.flats, "tuning-")
    if guitar.capo:
        add(details, "capo", guitar.capo)


def _add_tempo(element: Element, tempo: Fraction) -> None:
    direction = add(element, "direction", placement="above")
    metronome = add(add(direction, "direction-type"), "metronome")
    add(metronome, "beat-unit", "quarter")
    add(metronome, "per-minute", number(tempo, 3))
    add(direction, "sound", tempo=number(tempo, 3))


def _add_barline(element: Element, fragment: Fragment, index: int, side: str) -> None:
    starts = [repeat for repeat in fragment.repeats if side == "left" and repeat.first == index]
    ends = [repeat for repeat in fragment.repeats if side == "right" and repeat.last == index]
    last = side == "right" and index == len(fragment.measures) - 1
    if not (starts or ends or last):
        return
    barline = add(element, "barline", location=side)
    add(barline, "bar-style", "heavy-light" if starts else "light-heavy")
    if starts:
        add(barline, "repeat", direction="forward")
    for repeat in ends:
        add(barline, "repeat", direction="backward", times=repeat.times)


def staff_xml(fragment: Fragment, ids: Sequence[str] = ()) -> str:
    """The fragment on a staff alone, for an engraver: treble or bass clef an octave down, tuplets, beams.

    Pitches are at sounding height, which that clef shows an octave higher; a dead note without fret stands on
    its open string. Vibrato, let ring and what belongs to tab are left out. `ids` has a name for each note;
    further parts of a tied note are named after it with the division at which they start, and a rest that is
    seen is named `r` and that division. Where a harmonic of note 5 is touched is named `h5`, the second pitch
    that its bend leads to `b5-2`.
    """
    score = Score(fragment, tab=False, ids=tuple(ids))
    root = Element("score-partwise", {"version": "4.0"})
    part_list = add(root, "part-list")
    add(add(part_list, "score-part", id="P1"), "part-name", "")
    part = add(root, "part", id="P1")
    for index in range(len(fragment.measures)):
        part.append(_measure(score, index))
    for direction in part.findall("measure/direction"):
        part[0].remove(direction)
    add_accidentals(part)
    return document(root)
