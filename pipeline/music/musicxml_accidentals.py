"""Accidentals of a staff without key signature, so that an engraver draws them.

An accidental holds to the end of its bar, on its own line or space, and a tied note repeats none (common
practice, no source). The signs are MusicXML's `accidental-value`.
"""

from collections.abc import Iterator
from xml.etree.ElementTree import Element

SIGNS = {-1: "flat", 0: "natural", 1: "sharp"}


def add_accidentals(part: Element) -> None:
    """Write the accidental of every note that needs one into the notes of a part."""
    for measure in part.findall("measure"):
        held: dict[tuple[str, str], int] = {}
        for note in _in_time(measure):
            pitch = note.find("pitch")
            if pitch is None:
                continue
            line = pitch.findtext("step", ""), pitch.findtext("octave", "")
            alter = int(pitch.findtext("alter", "0"))
            tied = any(tie.get("type") == "stop" for tie in note.findall("tie"))
            if held.get(line, 0) != alter and not tied:
                held[line] = alter
                _add(note, SIGNS[alter])


def _in_time(measure: Element) -> list[Element]:
    """The notes of all voices in the order in which they are played."""
    return [note for _, note in sorted(_timed(measure), key=lambda pair: pair[0])]


def _timed(measure: Element) -> Iterator[tuple[int, Element]]:
    """Each note with the division at which it starts."""
    here = start = 0
    for element in measure:
        length = int(element.findtext("duration", "0"))
        if element.tag in ("backup", "forward"):
            here += length if element.tag == "forward" else -length
        elif element.tag == "note":
            if element.find("chord") is None:
                start, here = here, here + length
            yield start, element


def _add(note: Element, sign: str) -> None:
    """Put the sign where the schema wants it: after the note's value and its dots."""
    places = [place for place, child in enumerate(note) if child.tag in ("voice", "type", "dot")]
    accidental = Element("accidental")
    accidental.text = sign
    note.insert(max(places, default=len(note) - 1) + 1, accidental)
