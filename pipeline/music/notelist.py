"""Fragments as a list of plain notes, for fragments that a program made.

Each note is a mapping whose keys are those of `pipeline.music.notekeys`. `onset` is asked for; `duration`
runs to the next onset if it is left out. A note has a `pitch`, or `string` and `fret`, or all three if they
agree; a pitch alone leaves the string open.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from pipeline.errors import did_you_mean
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.meter import COMMON, Meter
from pipeline.music.note import Note
from pipeline.music.notecheck import AtNote, Proof, check_note, check_sequence
from pipeline.music.notekeys import BY_NAME, NOTE_KEYS
from pipeline.music.notevalue import Wrong, note_value
from pipeline.music.pitch import pitch_name
from pipeline.music.tabprint import clue_word

MOST_NOTES = 20_000


@dataclass(frozen=True)
class Listed:
    """A list that was read: its fragment, and for each of the fragment's notes its number in the list."""

    fragment: Fragment
    order: tuple[int, ...]


def read_notes(
    name: str,
    notes: Sequence[Mapping[str, Any]],
    guitar: Guitar,
    at: AtNote,
    meter: Meter = COMMON,
    tempo: Fraction = Fraction(120),
    flats: bool = False,
    pickup: Fraction = Fraction(0),
) -> Fragment:
    """Make a fragment of plain notes; `pickup` is the length in beats of a first bar that is not full.

    Raises Faulty with every fault.
    """
    read = read_list(notes, guitar, at, meter, pickup)
    return read.fragment.but(name=name, tempo=tempo, flats=flats)


def read_list(
    notes: Sequence[Mapping[str, Any]],
    guitar: Guitar,
    at: AtNote,
    meter: Meter = COMMON,
    pickup: Fraction = Fraction(0),
) -> Listed:
    """Read plain notes, and where in the list each of them stands. Raises Faulty with every fault."""
    proof = Proof(at)
    if len(notes) > MOST_NOTES:
        proof.wrong(MOST_NOTES, "", f"{len(notes)} notes", f"keep to {MOST_NOTES}; divide the fragment")
        proof.stop_if_faulty()
    read = [(index, _note(index, item, guitar, proof)) for index, item in enumerate(notes)]
    proof.stop_if_faulty()
    ordered = sorted(read, key=lambda pair: _order(pair[1]))
    check_sequence(ordered, proof)
    proof.stop_if_faulty()
    clues = [
        replace(clue, note=n) for n, (_, fields) in enumerate(ordered) for clue in fields.pop("clues", ())
    ]
    made = _timed([fields for _, fields in ordered], meter)
    end = max((note.end for note in made), default=Fraction(1))
    fragment = Fragment("", guitar, made, _measures(end, meter, pickup), clues=tuple(clues))
    return Listed(fragment, tuple(index for index, _ in ordered))


def _order(fields: dict[str, Any]) -> tuple[Fraction, bool, int]:
    """Grace notes keep the order of the list, notes that sound together stand by string."""
    grace = bool(fields.get("grace"))
    return fields["onset"], not grace, 0 if grace else fields.get("string") or 0


def plain_notes(fragment: Fragment) -> list[dict[str, Any]]:
    """The notes as plain mappings, such as YAML can hold: what `read_notes` makes notes of."""
    clues: dict[int, str] = {}
    for clue in fragment.clues:
        clues[clue.note] = clues.get(clue.note, "") + clue_word(clue)
    plain = [_plain(note) for note in fragment.notes]
    return [note | ({"clues": clues[n]} if n in clues else {}) for n, note in enumerate(plain)]


def _plain(note: Note) -> dict[str, Any]:
    """What of a note differs from a plain one; the pitch is left to string and fret where they give it."""
    usual = vars(Note(Fraction(0), Fraction(0), None))
    found: dict[str, Any] = {"onset": _beat_text(note.onset), "duration": _beat_text(note.duration)}
    if note.pitch is not None and (note.string is None or note.fret is None):
        found["pitch"] = pitch_name(note.pitch)
    for key in (key for key in NOTE_KEYS if key.kind in ("number", "word", "flag")):
        if getattr(note, key.field) != usual[key.field]:
            found[key.name] = getattr(note, key.field)
    if note.bend:
        found["bend"] = [[_beat_text(point.at), _beat_text(point.semitones)] for point in note.bend]
    if note.harmonic:
        harmonic = note.harmonic
        touch = {} if harmonic.touch is None else {"touch": _beat_text(harmonic.touch)}
        found["harmonic"] = {"kind": harmonic.kind, "partial": harmonic.partial} | touch
    return found


def _beat_text(value: Fraction) -> int | str:
    return int(value) if value.denominator == 1 else f"{value.numerator}/{value.denominator}"


_PLACE = ("pitch", "string", "fret")
"""Keys that say where a note is; where one cannot be read, nothing more is said about the place."""


def _note(index: int, item: Mapping[str, Any], guitar: Guitar, proof: Proof) -> dict[str, Any]:
    """The fields of a note, and its clues."""
    fields: dict[str, Any] = {"onset": Fraction(0)}
    if not isinstance(item, Mapping):
        proof.wrong(index, "", "a note is not a mapping", "write it as {onset: 0, pitch: E4}")
        return fields
    lost = False
    for name, value in item.items():
        key = BY_NAME.get(name)
        if key is None:
            called = str(name)[:20]
            proof.wrong(index, str(name), f"a note has no {called!r}", did_you_mean(called, BY_NAME))
            lost = True
            continue
        try:
            fields[key.field] = note_value(key, value)
        except Wrong as fault:
            proof.wrong(index, key.name, fault.wrong, fault.remedy)
            lost = lost or key.name in _PLACE
    if "onset" not in item:
        proof.wrong(index, "", "a note without an onset", "say at which beat it starts: onset: 0")
    if not lost:
        check_note(index, fields, guitar, proof)
    fields.setdefault("pitch", None)
    return fields


def _timed(notes: list[dict[str, Any]], meter: Meter) -> tuple[Note, ...]:
    """Notes with their durations: to the next onset where none is given, a beat for the last."""
    onsets = sorted({fields["onset"] for fields in notes if not fields.get("grace")})
    following = dict(pairwise(onsets))
    made = []
    for fields in notes:
        onset = fields["onset"]
        usual = Fraction(0) if fields.get("grace") else following.get(onset, onset + meter.count) - onset
        values: dict[str, Any] = {"duration": usual} | fields
        made.append(Note(**values))
    return tuple(made)


def _measures(end: Fraction, meter: Meter, pickup: Fraction) -> tuple[Measure, ...]:
    parts = (meter.beats, meter.unit, meter.groups)
    measures = [Measure(Fraction(0), pickup, *parts)] if 0 < pickup < meter.length else []
    start = measures[0].end if measures else Fraction(0)
    while start < end or not measures:
        measures.append(Measure(start, meter.length, *parts))
        start += meter.length
    return tuple(measures)
