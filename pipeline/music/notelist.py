"""Fragments as a list of plain notes, for fragments that a program made.

Each note is a mapping. `onset` is asked for; `duration` runs to the next onset if it is left out (both in
beats, as numbers or as text such as `7/3`). A note has a `pitch` (`E4`, or a MIDI note), or `string` and
`fret`, or both if they agree; a pitch alone leaves the string open. `bend` is a list of [share, semitones],
`harmonic` a mapping of kind, partial and touch. All other keys are the fields of
`pipeline.music.note.Note` with their values.
"""

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Any, get_args

from pipeline.errors import Place, did_you_mean
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Attack, BendPoint, Harmonic, HarmonicKind, Note, Stroke, Vibrato
from pipeline.music.pitch import parse_pitch, pitch_name
from pipeline.music.tabrows import Proof

AtNote = Callable[[int, str], Place]
MOST_NOTES, LONGEST_BEATS = 20_000, 20_000
_FLAGS = ("grace", "dead", "ghost", "palm_mute", "let_ring", "accent", "staccato", "tremolo", "shift_slide")
_WORDS: dict[str, tuple[str, ...]] = {
    "stroke": get_args(Stroke),
    "attack": get_args(Attack),
    "vibrato": get_args(Vibrato),
    "slide_in": ("below", "above"),
    "slide_out": ("up", "down"),
}
_RANGES = {"string": (1, 9), "fret": (0, 36), "finger": (0, 4), "position": (0, 36)}
_TIMES = ("onset", "duration")
KEYS = (*_TIMES, "pitch", *_RANGES, *_WORDS, *_FLAGS, "bend", "harmonic")


def read_notes(
    name: str,
    notes: Sequence[Mapping[str, Any]],
    guitar: Guitar,
    at: AtNote,
    meter: tuple[int, int] = (4, 4),
    tempo: Fraction = Fraction(120),
    flats: bool = False,
    pickup: Fraction = Fraction(0),
) -> Fragment:
    """Make a fragment of plain notes; `pickup` is the length in beats of a first bar that is not full.

    `at(index, key)` gives the place of a note's key in its file; key "" is the note itself. Raises Faulty
    with every fault.
    """
    proof = Proof(lambda index, key: at(index, KEYS[key] if key < len(KEYS) else ""))
    if len(notes) > MOST_NOTES:
        proof.wrong(
            MOST_NOTES, len(KEYS), f"{len(notes)} notes", f"keep to {MOST_NOTES}; divide the fragment"
        )
        proof.stop_if_faulty()
    read = [(index, _note(index, item, guitar, proof)) for index, item in enumerate(notes)]
    proof.stop_if_faulty()
    ordered = sorted(
        read, key=lambda pair: (pair[1]["onset"], not pair[1].get("grace"), pair[1].get("string") or 0)
    )
    _check_strings(ordered, proof)
    proof.stop_if_faulty()
    made = _timed([fields for _, fields in ordered], meter)
    end = max((note.end for note in made), default=Fraction(1))
    return Fragment(name, guitar, made, _measures(end, meter, pickup), tempo, flats=flats)


def plain_notes(fragment: Fragment) -> list[dict[str, Any]]:
    """The notes as plain mappings, such as YAML can hold: what `read_notes` makes notes of."""
    return [_plain(note) for note in fragment.notes]


def _plain(note: Note) -> dict[str, Any]:
    """What of a note differs from a plain one; the pitch is left to string and fret where they give it."""
    usual = vars(Note(Fraction(0), Fraction(0), None))
    found: dict[str, Any] = {"onset": _beat_text(note.onset), "duration": _beat_text(note.duration)}
    if note.pitch is not None and (note.string is None or note.fret is None):
        found["pitch"] = pitch_name(note.pitch)
    plain_keys = (*_RANGES, *_WORDS, *_FLAGS)
    found |= {key: getattr(note, key) for key in plain_keys if getattr(note, key) != usual[key]}
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


class _Wrong(ValueError):
    """What is wrong with a value, and the remedy."""

    def __init__(self, wrong: str, remedy: str) -> None:
        super().__init__(wrong)
        self.wrong, self.remedy = wrong, remedy


def _note(index: int, item: Mapping[str, Any], guitar: Guitar, proof: Proof) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if not isinstance(item, Mapping):
        proof.wrong(index, len(KEYS), "a note is not a mapping", "write it as {onset: 0, pitch: E4}")
        return {"onset": Fraction(0)}
    for key, value in item.items():
        if key not in KEYS:
            proof.wrong(
                index, len(KEYS), f"a note has no {str(key)[:20]!r}", did_you_mean(str(key)[:20], KEYS)
            )
            continue
        try:
            fields[key] = _value(key, value)
        except _Wrong as fault:
            proof.wrong(index, KEYS.index(key), fault.wrong, fault.remedy)
    if "onset" not in item:
        proof.wrong(index, len(KEYS), "a note without an onset", "say at which beat it starts: onset: 0")
    fields.setdefault("onset", Fraction(0))
    if all(key in fields or (key in KEYS and key not in _PLACE) for key in item):
        _place(index, fields, guitar, proof)
    fields.setdefault("pitch", None)
    return fields


def _value(key: str, value: Any) -> Any:
    if key in _TIMES:
        return _beats(key, value)
    if key == "pitch":
        return _pitch(value)
    if key in _RANGES:
        return _number(key, value, *_RANGES[key])
    if key in _WORDS:
        return _word(key, value, _WORDS[key])
    if key in _FLAGS:
        return _flag(key, value)
    return _bend(value) if key == "bend" else _harmonic(value)


def _fraction(what: str, value: Any) -> Fraction:
    if isinstance(value, bool) or not isinstance(value, (int, float, str, Fraction)) or len(str(value)) > 40:
        raise _Wrong(f"{what} is no number", "write a number or a fraction such as 7/3")
    try:
        return Fraction(str(value).strip())
    except (ValueError, ZeroDivisionError):
        raise _Wrong(
            f"{what} {str(value)[:20]} is no number", "write a number or a fraction such as 7/3"
        ) from None


def _beats(key: str, value: Any) -> Fraction:
    beats = _fraction(key, value)
    if not 0 <= beats <= LONGEST_BEATS:
        raise _Wrong(f"{key} {beats} is out of reach", f"beats go from 0 to {LONGEST_BEATS}")
    return beats


def _pitch(value: Any) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 127:
        return value
    try:
        return parse_pitch(str(value)[:8])
    except ValueError as fault:
        raise _Wrong(str(fault), "write a pitch such as E4 or Bb3, or a MIDI note from 0 to 127") from None


def _number(key: str, value: Any, low: int, high: int) -> int | None:
    if value is None:
        return None
    if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
        raise _Wrong(
            f"{key} {str(value)[:20]} is out of reach", f"{key} is a whole number from {low} to {high}"
        )
    return value


def _word(key: str, value: Any, known: tuple[str, ...]) -> str | None:
    if value is not None and value not in known:
        raise _Wrong(f"{key} cannot be {str(value)[:20]!r}", did_you_mean(str(value)[:20], known))
    return None if value is None else str(value)


def _flag(key: str, value: Any) -> bool:
    if not isinstance(value, bool):
        raise _Wrong(f"{key} is neither true nor false", "write true or false")
    return value


def _bend(value: Any) -> tuple[BendPoint, ...]:
    remedy = "write pairs of share and semitones, such as [[0, 0], [1/2, 2]]"
    if not isinstance(value, (list, tuple)) or len(value) > 64:
        raise _Wrong("a bend is no list of points", remedy)
    points = []
    for pair in value:
        if not isinstance(pair, (list, tuple)) or len(pair) != 2:
            raise _Wrong("a point of a bend is no pair", remedy)
        points.append(BendPoint(_fraction("a share", pair[0]), _fraction("a bend", pair[1])))
    shares = [point.at for point in points]
    if shares != sorted(shares) or any(not 0 <= share <= 1 for share in shares):
        raise _Wrong("the shares of a bend do not rise from 0 to 1", remedy)
    return tuple(points)


def _harmonic(value: Any) -> Harmonic:
    remedy = "write {kind: natural, partial: 2, touch: 12}"
    kinds = get_args(HarmonicKind)
    if not isinstance(value, Mapping) or not set(value) <= {"kind", "partial", "touch"}:
        raise _Wrong("a harmonic is no mapping of kind, partial and touch", remedy)
    if value.get("kind") not in kinds:
        raise _Wrong("a harmonic without a kind", f"kinds are {', '.join(kinds)}")
    partial = _number("partial", value.get("partial", 2), 2, 32)
    touch = None if value.get("touch") is None else _fraction("touch", value["touch"])
    return Harmonic(value["kind"], partial or 2, touch)


def _place(index: int, fields: dict[str, Any], guitar: Guitar, proof: Proof) -> None:
    """Check string, fret and pitch against each other and the guitar; fill in the pitch."""
    string, fret, pitch = fields.get("string"), fields.get("fret"), fields.get("pitch")
    if string is not None and fret is not None:
        try:
            stopped = guitar.pitch(string, fret)
        except ValueError as fault:
            remedy = f"use strings 1 to {guitar.string_count} and frets 0 to {guitar.highest_fret}"
            proof.wrong(index, KEYS.index("fret"), str(fault), remedy)
            return
        if pitch is not None and pitch != stopped:
            wrong = f"string {string} fret {fret} is MIDI note {stopped}, not {pitch}"
            proof.wrong(index, KEYS.index("pitch"), wrong, "leave one of them away")
        fields["pitch"] = stopped
    elif pitch is None and not fields.get("dead"):
        proof.wrong(index, len(KEYS), "a note without pitch", "give pitch, or string and fret")
    elif pitch is not None and not any(True for _ in guitar.places(pitch)):
        low, high = min(guitar.strings) + guitar.capo, max(guitar.strings) + guitar.frets
        remedy = f"this guitar reaches from MIDI note {low} to {high}"
        proof.wrong(index, KEYS.index("pitch"), f"MIDI note {pitch} is not on this guitar", remedy)


def _check_strings(ordered: list[tuple[int, dict[str, Any]]], proof: Proof) -> None:
    seen: set[tuple[Fraction, int]] = set()
    for index, fields in ordered:
        key = (fields["onset"], fields.get("string") or 0)
        if key[1] and not fields.get("grace") and key in seen:
            proof.wrong(
                index, KEYS.index("string"), f"a second note at beat {key[0]} on string {key[1]}", "move one"
            )
        if not fields.get("grace"):
            seen.add(key)


def _timed(notes: list[dict[str, Any]], meter: tuple[int, int]) -> tuple[Note, ...]:
    """Notes with their durations: to the next onset where none is given, a beat for the last."""
    onsets = sorted({fields["onset"] for fields in notes if not fields.get("grace")})
    following = dict(pairwise(onsets))
    made = []
    for fields in notes:
        onset = fields["onset"]
        usual = (
            Fraction(0)
            if fields.get("grace")
            else following.get(onset, onset + Fraction(4, meter[1])) - onset
        )
        values: dict[str, Any] = {"duration": usual} | fields
        made.append(Note(**values))
    return tuple(made)


def _measures(end: Fraction, meter: tuple[int, int], pickup: Fraction) -> tuple[Measure, ...]:
    beats, unit = meter
    full = Fraction(4 * beats, unit)
    measures = [Measure(Fraction(0), pickup, beats, unit)] if 0 < pickup < full else []
    start = measures[0].end if measures else Fraction(0)
    while start < end or not measures:
        measures.append(Measure(start, full, beats, unit))
        start += full
    return tuple(measures)
