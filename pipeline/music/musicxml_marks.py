"""The notations of one note in MusicXML 4.0: strings, frets, fingers, strokes and techniques.

The standard has no element for pick strokes (down-bow and up-bow serve), vibrato (wavy-line), let ring (a
tied of that type), palm muting (play/mute) or indeterminate slides (scoop, plop, doit, falloff). What it has
no element for at all stands in other-technical as a few plain words, which `pipeline.music.musicxml_in`
understands: `position 5`, `touch 2.7`, `partial 7`, `pinch`, `clue seen 1.0 5`.
"""

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from pipeline.music.fragment import ClueMark
from pipeline.music.harmonics import partial_at
from pipeline.music.note import BendPoint, Note
from pipeline.music.pitch import pitch_name

ARTICULATIONS = {"accent": "accent", "staccato": "staccato"}
SLIDE_MARKS = {
    ("slide_in", "below"): "scoop",
    ("slide_in", "above"): "plop",
    ("slide_out", "up"): "doit",
    ("slide_out", "down"): "falloff",
}
WAVES = {"narrow": "guitarVibratoStroke", "wide": "guitarWideVibratoStroke"}


@dataclass(frozen=True)
class Joint:
    """How a note is joined to the one after it, or before it, on its string: the element and its number."""

    tag: str
    number: int


def add(parent: Element, tag: str, text: object = None, **attributes: object) -> Element:
    """Append an element; underscores in attribute names stand for hyphens."""
    names = {name.replace("_", "-"): str(value) for name, value in attributes.items()}
    element = SubElement(parent, tag, names)
    if text is not None:
        element.text = str(text)
    return element


def add_pitch(parent: Element, note: int, flats: bool, prefix: str = "") -> None:
    name = pitch_name(note, flats)
    add(parent, f"{prefix}step", name[0])
    if name[1] in "#b":
        add(parent, f"{prefix}alter", 1 if name[1] == "#" else -1)
    add(parent, f"{prefix}octave", name.lstrip("ABCDEFG#b"))


def number(value: Fraction, places: int = 6) -> str:
    """A decimal as short as it can be."""
    return f"{float(value):.{places}f}".rstrip("0").rstrip(".") or "0"


def touched_fret(note: Note) -> int | None:
    """The fret that tab shows: of a natural harmonic the touched one, else the stopped one."""
    harmonic = note.harmonic
    if harmonic is not None and harmonic.kind == "natural" and harmonic.touch is not None:
        return round(harmonic.touch)
    return note.fret


def written_pitch(note: Note) -> int | None:
    """The pitch that belongs to the shown fret."""
    fret = touched_fret(note)
    if note.pitch is None or fret is None or note.fret is None:
        return note.pitch
    return note.pitch + fret - note.fret


def technical(note: Note, clues: Iterable[ClueMark]) -> Element:
    """The technical element of a note, without what joins it to other notes."""
    element = Element("technical")
    if note.stroke:
        add(element, f"{note.stroke}-bow")
    if note.harmonic is not None:
        _add_harmonic(element, note)
    if note.finger is not None:
        add(element, "fingering", "T" if note.finger == 0 else note.finger)
    if note.string is not None:
        add(element, "string", note.string)
    fret = touched_fret(note)
    if fret is not None and note.string is not None:
        add(element, "fret", fret)
    if note.attack == "tap":
        add(element, "tap", "T", hand="right")
    for bend in bends(note.bend):
        element.append(bend)
    for words in _other_words(note, clues):
        add(element, "other-technical", words)
    return element


def _add_harmonic(element: Element, note: Note) -> None:
    assert note.harmonic is not None
    natural = note.harmonic.kind == "natural"
    harmonic = add(element, "harmonic")
    add(harmonic, "natural" if natural else "artificial")
    add(harmonic, "touching-pitch" if natural and note.harmonic.touch is not None else "base-pitch")


def _other_words(note: Note, clues: Iterable[ClueMark]) -> Iterator[str]:
    harmonic = note.harmonic
    if harmonic is not None:
        known = touched_fret(note) if harmonic.kind == "natural" and harmonic.touch is not None else None
        if harmonic.kind == "pinch":
            yield "pinch"
        if harmonic.touch is not None and harmonic.touch != known:
            yield f"touch {number(harmonic.touch)}"
        if known is None or partial_at(float(harmonic.touch or 0)) != harmonic.partial:
            yield f"partial {harmonic.partial}"
    if note.position is not None:
        yield f"position {note.position}"
    for clue in clues:
        yield f"clue {clue.kind} {clue.strength} {clue.value}".strip()


def bends(points: tuple[BendPoint, ...]) -> Iterator[Element]:
    """A bend element for each move; shares of the note are percentages (`first-beat`, `last-beat`)."""
    if not points:
        return
    if points[0].semitones:
        bend = Element("bend")
        add(bend, "bend-alter", number(-abs(points[0].semitones)))
        add(bend, "pre-bend")
        yield bend
    for before, after in itertools.pairwise(points):
        change = after.semitones - before.semitones
        if change:
            share = {"first-beat": number(before.at * 100), "last-beat": number(after.at * 100)}
            bend = Element("bend", share)
            add(bend, "bend-alter", number(change))
            if change < 0:
                add(bend, "release")
            yield bend


def articulations(note: Note) -> Element:
    element = Element("articulations")
    for flag, tag in ARTICULATIONS.items():
        if getattr(note, flag):
            add(element, tag)
    for (name, value), tag in SLIDE_MARKS.items():
        if getattr(note, name) == value:
            add(element, tag)
    return element


def ornaments(note: Note) -> Element:
    element = Element("ornaments")
    if note.vibrato != "none":
        add(element, "wavy-line", type="start", number=1, smufl=WAVES[note.vibrato])
        add(element, "wavy-line", type="stop", number=1)
    if note.tremolo:
        add(element, "tremolo", 0, type="unmeasured")
    return element
