"""One note of a MusicXML measure, read: its pitch, place on the neck, fingers, strokes and techniques."""

import re
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from pipeline.music.fragment import ClueMark
from pipeline.music.harmonics import partial_at
from pipeline.music.musicxml_marks import ARTICULATIONS, SLIDE_MARKS, WAVES
from pipeline.music.note import BendPoint, Harmonic
from pipeline.music.xmlread import Element

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NUMBER = re.compile(r"[+-]?\d{1,9}(\.\d{1,9})?")


@dataclass
class ReadNote:
    """A note on its way into a fragment. `sounding` is the pitch at concert height; times are beats."""

    element: Element
    onset: Fraction
    duration: Fraction
    sounding: int | None
    fields: dict[str, Any] = field(default_factory=dict)
    clues: list[ClueMark] = field(default_factory=list)
    voice: str = "1"
    staff: str = "1"

    @property
    def string(self) -> int | None:
        string: int | None = self.fields.get("string")
        return string

    @property
    def fret(self) -> int | None:
        fret: int | None = self.fields.get("fret")
        return fret

    @property
    def grace(self) -> bool:
        return bool(self.fields.get("grace"))


def decimal(text: str, default: Fraction = Fraction(0)) -> Fraction:
    """A decimal as an exact fraction, the default where the text is none or absurdly long."""
    text = text.strip()
    return Fraction(text) if _NUMBER.fullmatch(text) else default


def whole(text: str) -> int | None:
    text = text.strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 4 else None


def read_pitch(element: Element, prefix: str = "") -> int | None:
    """MIDI note of step, alter and octave; None where they make none (microtones are rounded)."""
    step, octave = element.word(f"{prefix}step"), whole(element.word(f"{prefix}octave"))
    if step not in STEPS or octave is None:
        return None
    note = STEPS[step] + round(decimal(element.word(f"{prefix}alter"))) + 12 * (octave + 1)
    return note if 0 <= note <= 127 else None


def read_fields(note: ReadNote) -> None:
    """Take everything that stands on a note by itself into its fields."""
    element, fields = note.element, note.fields
    _take_head(element, fields)
    for notations in element.all("notations"):
        for technical in notations.all("technical"):
            _take_technical(note, technical)
        _take_articulations(notations, fields)
        _take_ornaments(notations, fields)
        if any(tied.get("type") == "let-ring" for tied in notations.all("tied")):
            fields["let_ring"] = True


def _take_head(element: Element, fields: dict[str, Any]) -> None:
    head = element.one("notehead")
    if head is not None and head.text.strip() == "x":
        fields["dead"] = True
    if head is not None and head.get("parentheses") == "yes":
        fields["ghost"] = True
    if any(mute.text.strip() == "palm" for mute in element.all("play", "mute")):
        fields["palm_mute"] = True
    if element.one("grace") is not None:
        fields["grace"] = True


def _take_technical(note: ReadNote, technical: Element) -> None:
    fields = note.fields
    for name, most in (("string", 9), ("fret", 36)):
        value = whole(technical.word(name))
        if value is not None and value <= most and (value or name == "fret"):
            fields[name] = value
    finger = technical.word("fingering").upper()
    if finger in ("1", "2", "3", "4", "T", "0"):
        fields["finger"] = 0 if finger in "T0" else int(finger)
    for stroke in ("down", "up"):
        if technical.one(f"{stroke}-bow") is not None:
            fields["stroke"] = stroke
    if technical.one("open-string") is not None:
        fields.setdefault("fret", 0)
    if technical.one("tap") is not None:
        fields["attack"] = "tap"
    points = read_bend(list(technical.all("bend")))
    if points:
        fields["bend"] = points
    words = [other.text.strip() for other in technical.all("other-technical")]
    _take_words(note, words)
    harmonic = technical.one("harmonic")
    if harmonic is not None:
        _take_harmonic(note, harmonic, words)


def _take_words(note: ReadNote, words: list[str]) -> None:
    for text in words:
        name, _, rest = text.partition(" ")
        if name == "position" and whole(rest) is not None:
            note.fields["position"] = whole(rest)
        elif name == "clue":
            kind, strength, value = (*rest.split(" ", 2), "", "")[:3]
            note.clues.append(ClueMark(0, kind, value, float(decimal(strength, Fraction(1)))))


def _take_harmonic(note: ReadNote, harmonic: Element, words: list[str]) -> None:
    """Say which harmonic it is, and turn the fret into the stopped one."""
    fields, said = note.fields, dict(text.partition(" ")[::2] for text in words)
    touch = decimal(said["touch"]) if "touch" in said else None
    partial = whole(said.get("partial", ""))
    if harmonic.one("natural") is not None:
        fret = note.fret
        if harmonic.one("base-pitch") is None and fret:
            touch = Fraction(fret) if touch is None else touch
            if harmonic.one("sounding-pitch") is None and note.sounding is not None:
                note.sounding -= fret
            fields["fret"] = 0
        partial = partial or (partial_at(float(touch)) if touch else None)
        fields["harmonic"] = Harmonic("natural", partial or 2, touch)
    else:
        kind = "pinch" if "pinch" in said or (touch is None and partial is None) else "artificial"
        known = partial_at(float(touch) - (note.fret or 0)) if touch else None
        fields["harmonic"] = Harmonic(kind, partial or known or 2, touch)  # type: ignore[arg-type]


def read_bend(bends: list[Element]) -> tuple[BendPoint, ...]:
    """The points of a note's bend elements: changes that start and end at shares of the note."""
    if not bends:
        return ()
    moves = [bend for bend in bends if bend.one("pre-bend") is None]
    before = [bend for bend in bends if bend.one("pre-bend") is not None]
    height = abs(decimal(before[0].word("bend-alter"))) if before else Fraction(0)
    points = [BendPoint(Fraction(0), height)]
    for index, bend in enumerate(moves, 1):
        start = _share(bend.get("first-beat"), points[-1].at)
        end = _share(bend.get("last-beat"), Fraction(index, len(moves) + 1))
        change = decimal(bend.word("bend-alter"))
        if bend.one("release") is not None:
            change = -abs(change)
        if start > points[-1].at:
            points.append(BendPoint(start, points[-1].semitones))
        points.append(BendPoint(max(end, points[-1].at), points[-1].semitones + change))
    return tuple(points)


def _share(text: str, default: Fraction) -> Fraction:
    if not text:
        return default
    return min(max((decimal(text) / 100).limit_denominator(1000), Fraction(0)), Fraction(1))


def _take_articulations(notations: Element, fields: dict[str, Any]) -> None:
    for articulations in notations.all("articulations"):
        tags = {child.tag for child in articulations.children}
        for flag, tag in ARTICULATIONS.items():
            if tag in tags or (flag == "accent" and "strong-accent" in tags):
                fields[flag] = True
        for (name, value), tag in SLIDE_MARKS.items():
            if tag in tags:
                fields[name] = value


def _take_ornaments(notations: Element, fields: dict[str, Any]) -> None:
    for ornaments in notations.all("ornaments"):
        wave = ornaments.one("wavy-line")
        if wave is not None:
            fields["vibrato"] = "wide" if wave.get("smufl") == WAVES["wide"] else "narrow"
        if any(
            tremolo.get("type", "single") in ("single", "unmeasured") for tremolo in ornaments.all("tremolo")
        ):
            fields["tremolo"] = True
