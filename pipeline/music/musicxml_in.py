"""Reads MusicXML 4.0 (score-partwise) into a fragment, with warnings of what is not kept.

One part is read: the one named, else the first with a tab staff, else the first with strings and frets, else
the first with notes; of its staves the tab staff. Times come from durations, not from note types.
"""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import ceil
from typing import Any

from pipeline.errors import Place, did_you_mean, faulty
from pipeline.music.clues import SIGN_OF
from pipeline.music.fragment import ClueMark, Fragment, Measure, Repeat
from pipeline.music.guitar import FEWEST_STRINGS, MOST_STRINGS, Guitar
from pipeline.music.meter import COMMON, Meter, read_meter
from pipeline.music.musicxml_note_in import ReadNote, decimal, read_fields, read_pitch, whole
from pipeline.music.musicxml_rows import losses
from pipeline.music.mxl import unpacked
from pipeline.music.note import Harmonic, Note
from pipeline.music.xmlread import Element, read_xml

MOST_MEASURES, LONGEST_MEASURE = 5_000, Fraction(256)


@dataclass(frozen=True)
class Imported:
    """A fragment and, in words, what of the file is not in it."""

    fragment: Fragment
    warnings: tuple[str, ...] = ()


@dataclass
class _Part:
    """A part as it is being read."""

    file: str
    divisions: Fraction = Fraction(1)
    transpose: int = 0
    meter: Meter = COMMON
    tab_staff: str = ""
    tempo: Fraction = Fraction(0)
    tuning: dict[int, int] = field(default_factory=dict)  # line to open MIDI note
    lines: int = 0
    capo: int = 0
    notes: list[ReadNote] = field(default_factory=list)
    measures: list[Measure] = field(default_factory=list)
    repeats: list[Repeat] = field(default_factory=list)
    opened: int = 0
    warnings: list[str] = field(default_factory=list)


def read_musicxml(data: bytes, file: str, part: str = "", guitar: Guitar | None = None) -> Imported:
    """Read the bytes of a MusicXML file, compressed (`.mxl`) or not. `part` is the name or id of a part.

    `guitar` says what the file does not: how it is strung, its frets, its scale length.

    Raises Faulty where the file is no MusicXML score or has no such part.
    """
    root = read_xml(unpacked(data, file), file)
    if root.tag != "score-partwise":
        remedy = "write it as MusicXML, part by part (score-partwise)"
        raise faulty(Place(file, root.line, 1), f"the file holds {root.tag[:30]}, no score-partwise", remedy)
    chosen = _choose(root, file, part)
    state = _Part(file)
    if len(list(root.all("part"))) > 1:
        state.warnings.append("the other parts of the score are left out")
    for index, measure in enumerate(chosen.all("measure")):
        if index >= MOST_MEASURES:
            raise faulty(Place(file, measure.line, 1), "too many measures", f"keep to {MOST_MEASURES}")
        _read_measure(state, measure, index)
    if not state.measures:
        raise faulty(Place(file, chosen.line, 1), "the part has no measures", "choose another part")
    return _imported(state, root, chosen, guitar or Guitar())


def _choose(root: Element, file: str, name: str) -> Element:
    parts = list(root.all("part"))
    names = {part.get("id"): part.word("part-name") for part in root.all("part-list", "score-part")}
    if name:
        known = {part.get("id"): part for part in parts}
        known |= {names.get(key, ""): part for key, part in known.items() if names.get(key)}
        if name not in known:
            raise faulty(Place(file), f"the score has no part {name[:30]!r}", did_you_mean(name[:30], known))
        return known[name]
    wishes = ("TAB", "string", "note")
    for wish in wishes:
        for part in parts:
            if any(e.tag == wish or (e.tag == "sign" and e.text.strip() == wish) for e in part.everything()):
                return part
    if not parts:
        raise faulty(Place(file, root.line, 1), "the score has no part", "export it again with its notes")
    return parts[0]


def _read_measure(state: _Part, element: Element, index: int) -> None:
    start = state.measures[-1].end if state.measures else Fraction(0)
    at = longest = Fraction(0)
    onset = Fraction(0)
    for child in element.children:
        length = _beats(state, child)
        if child.tag == "attributes":
            _read_attributes(state, child)
        elif child.tag == "note":
            chord = child.one("chord") is not None
            onset = onset if chord else at
            _read_note(state, child, start + onset, length)
            at = max(at, onset + length) if chord else at + length
        elif child.tag in ("backup", "forward"):
            at = max(Fraction(0), at + (length if child.tag == "forward" else -length))
        elif child.tag in ("direction", "sound"):
            _read_tempo(state, child, start + at)
        elif child.tag == "barline":
            _read_barline(state, child, index)
        longest = max(longest, at)
        if longest > LONGEST_MEASURE:
            place = Place(state.file, child.line, 1)
            raise faulty(place, "a measure has no end", f"keep measures to {LONGEST_MEASURE} quarters")
    state.measures.append(_measure(state, element, index, start, longest))


def _beats(state: _Part, element: Element) -> Fraction:
    if element.one("grace") is not None:
        return Fraction(0)
    return max(Fraction(0), decimal(element.word("duration"))) / state.divisions


def _measure(state: _Part, element: Element, index: int, start: Fraction, longest: Fraction) -> Measure:
    meter, full = state.meter, state.meter.length
    if longest > full:
        state.warnings.append(f"measure {element.get('number', '?')[:8]} is longer than its meter")
        return Measure(start, longest, ceil(longest / meter.count), meter.unit)
    short = longest > 0 and (element.get("implicit") == "yes" or index == 0)
    return Measure(start, longest if short else full, meter.beats, meter.unit, meter.groups)


def _read_attributes(state: _Part, element: Element) -> None:
    divisions = decimal(element.word("divisions"))
    if divisions > 0:
        state.divisions = divisions
    with suppress(ValueError):
        over = "".join(element.word("time", "beats").split())
        state.meter = read_meter(f"{over}/{element.word('time', 'beat-type').strip()}")
    transpose = element.one("transpose")
    if transpose is not None:
        octaves = decimal(transpose.word("octave-change"))
        state.transpose = int(decimal(transpose.word("chromatic")) + 12 * octaves)
    for clef in element.all("clef"):
        if clef.word("sign") == "TAB":
            state.tab_staff = clef.get("number", "1")
    for details in element.all("staff-details"):
        _read_staff(state, details)


def _read_staff(state: _Part, details: Element) -> None:
    state.lines = whole(details.word("staff-lines")) or state.lines
    state.capo = whole(details.word("capo")) or state.capo
    for tuning in details.all("staff-tuning"):
        line, note = whole(tuning.get("line")), read_pitch(tuning, "tuning-")
        if line and note is not None:
            state.tuning[line] = note


def _read_note(state: _Part, element: Element, onset: Fraction, length: Fraction) -> None:
    if element.one("rest") is not None or element.one("cue") is not None:
        return
    pitch = element.one("pitch")
    written = read_pitch(pitch) if pitch is not None else None
    sounding = None if written is None else min(max(written + state.transpose, 0), 127)
    note = ReadNote(element, onset, length, sounding)
    note.voice, note.staff = element.word("voice") or "1", element.word("staff") or "1"
    read_fields(note)
    if sounding is None:
        note.fields["dead"] = True
    state.notes.append(note)


def _read_tempo(state: _Part, element: Element, at: Fraction) -> None:
    sounds = [element] if element.tag == "sound" else list(element.all("sound"))
    for sound in sounds:
        tempo = decimal(sound.get("tempo"))
        if not 0 < tempo <= 2000:
            continue
        if not state.tempo:
            state.tempo = tempo
        elif tempo != state.tempo:
            state.warnings.append(f"the change of tempo at beat {float(at):g} is not kept")


def _read_barline(state: _Part, element: Element, index: int) -> None:
    for repeat in element.all("repeat"):
        if repeat.get("direction") == "forward":
            state.opened = index
        elif state.opened <= index:
            times = whole(repeat.get("times", "2")) or 2
            state.repeats.append(Repeat(state.opened, index, min(max(times, 2), 99)))
            state.opened = index + 1


def _imported(state: _Part, root: Element, chosen: Element, usual: Guitar) -> Imported:
    notes = sorted(_on_staff(state), key=lambda note: (note.onset, not note.grace))
    guitar = _guitar(state, root, notes, usual)
    _join_pitches(notes)
    _link(notes)
    made = list(_merged(notes, guitar, state.warnings))
    order = sorted(range(len(made)), key=lambda i: _order(made[i][0], i))
    numbers = {index: number for number, index in enumerate(order)}
    clues = [replace(clue, note=numbers[index]) for index, (_, own) in enumerate(made) for clue in own]
    known = tuple(sorted((clue for clue in clues if clue.kind in SIGN_OF), key=lambda clue: clue.note))
    title = root.word("work", "work-title") or root.word("movement-title") or "imported"
    fields = _fields(root)
    tempo = state.tempo or Fraction(120)
    fragment = Fragment(
        title[:80],
        guitar,
        tuple(made[index][0] for index in order),
        tuple(state.measures),
        tempo,
        tuple(state.repeats),
        known,
        fields.get("spelling") == "flats",
        _first_bar(state, chosen),
    )
    return Imported(fragment, tuple(dict.fromkeys([*state.warnings, *_lost(chosen)])))


def _first_bar(state: _Part, chosen: Element) -> int | None:
    """The number of the first bar where it is not the usual one: 1, or 0 for a pick-up."""
    first = chosen.one("measure")
    number = whole(first.get("number")) if first else None
    return None if number in (None, 0 if state.measures[0].pickup else 1) else number


def _order(note: Note, index: int) -> tuple[Fraction, bool, int, int]:
    return note.onset, not note.grace, 0 if note.grace else note.string or 0, index


def _on_staff(state: _Part) -> list[ReadNote]:
    if not state.tab_staff or all(note.staff == state.tab_staff for note in state.notes):
        return state.notes
    state.warnings.append("the other staves of the part are left out")
    return [note for note in state.notes if note.staff == state.tab_staff]


def _fields(root: Element) -> dict[str, str]:
    found = root.all("identification", "miscellaneous", "miscellaneous-field")
    return {field.get("name"): field.text.strip() for field in found}


def _guitar(state: _Part, root: Element, notes: list[ReadNote], usual: Guitar) -> Guitar:
    """The guitar that the file tells of, else the usual one."""
    fields = _fields(root)
    count = max([state.lines, len(state.tuning), *(note.string or 0 for note in notes)])
    tuning = [state.tuning.get(line) for line in range(count, 0, -1)]
    strings = tuple(note for note in tuning if note is not None)
    told = FEWEST_STRINGS <= len(strings) <= MOST_STRINGS and len(strings) == count
    capo = state.capo if told or state.capo else usual.capo
    frets = max([whole(fields.get("frets", "")) or usual.frets, *((n.fret or 0) + capo for n in notes)])
    scale = float(decimal(fields.get("scale-mm", ""), Fraction(usual.scale_mm)))
    left = fields.get("hand", "left" if usual.left_handed else "") == "left"
    return Guitar(
        strings if told else usual.strings,
        frets,
        scale if 300 <= scale <= 1000 else usual.scale_mm,
        min(capo, frets - 1),
        left,
    )


def _join_pitches(notes: list[ReadNote]) -> None:
    """Make one note of an artificial harmonic that is written as base, touched and sounding pitch."""
    kinds = {id(n): _harmonic_pitch(n) for n in notes}
    for base in [note for note in notes if kinds[id(note)] == "base-pitch"]:
        mates = [n for n in notes if n.onset == base.onset and n.voice == base.voice and n is not base]
        touch = next(
            (n for n in mates if kinds[id(n)] == "touching-pitch" and not n.fields.get("string")), None
        )
        sound = next((n for n in mates if kinds[id(n)] == "sounding-pitch"), None)
        if touch is None or base.sounding is None or touch.sounding is None:
            continue
        semitones = (sound.sounding or 0) - base.sounding if sound else 24
        partial = max(2, round(2 ** (semitones / 12)))
        place = Fraction((base.fret or 0) + touch.sounding - base.sounding)
        base.fields["harmonic"] = Harmonic("artificial", partial, place)
        for mate in (touch, sound):
            if mate in notes:
                notes.remove(mate)


def _harmonic_pitch(note: ReadNote) -> str:
    for harmonic in note.element.all("notations", "technical", "harmonic"):
        if harmonic.one("artificial") is not None:
            return next((c.tag for c in harmonic.children if c.tag.endswith("-pitch")), "")
    return ""


def _link(notes: list[ReadNote]) -> None:
    """Find out what joins each note to the one before on its string: hammered, pulled, slid or slurred."""
    latest: dict[tuple[str, int | None], ReadNote] = {}
    slurs: dict[str, int | None] = {}
    for note in notes:
        before = latest.get((note.staff, note.string))
        slurred = any(string in (None, note.string) for string in slurs.values())
        _take_joints(note, before, slurred)
        for slur in note.element.all("notations", "slur"):
            if slur.get("type") == "stop":
                slurs.pop(slur.get("number", "1"), None)
        for slur in note.element.all("notations", "slur"):
            if slur.get("type") == "start":
                slurs[slur.get("number", "1")] = note.string
        latest[(note.staff, note.string)] = note


def _take_joints(note: ReadNote, before: ReadNote | None, slurred: bool) -> None:
    stops = {
        child.tag
        for child in (*note.element.all("notations", "technical"), *note.element.all("notations"))
        for child in child.children
        if child.get("type") == "stop"
    }
    for tag, attack in (("hammer-on", "hammer"), ("pull-off", "pull")):
        if tag in stops:
            note.fields["attack"] = attack
    if stops & {"slide", "glissando"}:
        note.fields |= {"attack": "slide"} if slurred else {"shift_slide": True}
    elif slurred and "attack" not in note.fields and (rise := _rise(before, note)):
        note.fields["attack"] = "hammer" if rise > 0 else "pull"


def _rise(before: ReadNote | None, note: ReadNote) -> int:
    """Frets from the note before on the same string, 0 where one is unknown."""
    if before is None or note.string is None or before.fret is None or note.fret is None:
        return 0
    return note.fret - before.fret


def _merged(
    notes: list[ReadNote], guitar: Guitar, warnings: list[str]
) -> Iterator[tuple[Note, list[ClueMark]]]:
    """Notes with their ties: a tied part that names no string of its own lengthens the note before."""
    made: list[tuple[Note, ReadNote]] = []
    for note in notes:
        tied = any(tie.get("type") == "stop" for tie in note.element.all("tie"))
        index = _tied_to(note, made) if tied else None
        if index is not None and note.string is None:
            held, first = made[index]
            made[index] = (held.but(duration=note.onset + note.duration - held.onset), first)
            continue
        if index is not None:
            note.fields["attack"] = "tie"
        made.append((_note(note, guitar, warnings), note))
    yield from ((note, read.clues) for note, read in made)


def _tied_to(note: ReadNote, made: list[tuple[Note, ReadNote]]) -> int | None:
    """The note that a tie goes on from: it ends here at the same pitch, best in the same voice."""
    found = None
    for index in range(len(made) - 1, -1, -1):
        before, read = made[index]
        same = note.string is None or before.string == note.string
        pitches = (before.pitch, _heard(before))
        if before.end == note.onset and note.sounding in pitches and same and not before.grace:
            if read.voice == note.voice:
                return index
            found = index if found is None else found
    return found


def _heard(note: Note) -> int | None:
    """The pitch as a tied part of a note has it: of a natural harmonic, that of the touched fret."""
    harmonic = note.harmonic
    if note.pitch is None or harmonic is None or harmonic.kind != "natural" or harmonic.touch is None:
        return note.pitch
    return note.pitch + round(harmonic.touch)


def _note(note: ReadNote, guitar: Guitar, warnings: list[str]) -> Note:
    fields: dict[str, Any] = dict(note.fields)
    string, fret, pitch = fields.get("string"), fields.get("fret"), note.sounding
    if string is not None and string > guitar.string_count:
        warnings.append(f"string {string} is not on this guitar: its notes are left without string")
        string = fields["string"] = None
        fields["fret"] = None
    if string is not None and fret is not None:
        stopped = guitar.pitch(string, fret)
        if pitch is not None and pitch != stopped:
            warnings.append(
                f"at beat {float(note.onset):g} string and fret do not give the pitch: they are kept"
            )
        pitch = stopped
    elif string is None:
        fields["fret"] = None
    return Note(note.onset, note.duration, pitch, **fields)


def _lost(part: Element) -> Iterator[str]:
    """A warning for each kind of element that is not kept, where the part has one."""
    known = losses()
    seen = {element.tag for element in part.everything()} - {"key"}
    seen |= {
        "key" for fifths in part.all("measure", "attributes", "key", "fifths") if fifths.text.strip() != "0"
    }
    seen |= {"color" for element in part.everything() if element.get("color")}
    yield from (known[tag] for tag in sorted(seen & set(known)))
