"""The values of a note's keys, read from plain data such as YAML gives."""

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from pipeline.errors import did_you_mean
from pipeline.music.clues import CLUE_SIGNS, KINDS
from pipeline.music.fragment import ClueMark
from pipeline.music.note import BendPoint, Harmonic
from pipeline.music.notekeys import NoteKey
from pipeline.music.pitch import parse_pitch
from pipeline.music.tabnote import WIDEST_BEND
from pipeline.music.tabside import CLUE, clue_strength, clue_value

LONGEST_BEATS = 20_000
MOST_CLUES = 16
FARTHEST_TOUCH = 48
"""Frets above the nut beyond which no neck and no string is left to touch."""
_NUMBER = re.compile(r"-?\d{1,12}(?:\.\d{1,12})?|\d{1,9}/[1-9]\d{0,8}", re.ASCII)


class Wrong(ValueError):
    """What is wrong with a value, and the remedy."""

    def __init__(self, wrong: str, remedy: str) -> None:
        super().__init__(wrong)
        self.wrong, self.remedy = wrong, remedy


def note_value(key: NoteKey, value: Any) -> Any:
    """The value of a key, as the note's field holds it; clues as marks of note 0. Raises Wrong."""
    return _READERS[key.kind](key, value)


def _fraction(what: str, value: Any) -> Fraction:
    if isinstance(value, bool) or not isinstance(value, (int, float, str, Fraction)) or len(str(value)) > 40:
        raise Wrong(f"{what} is no number", "write a number or a fraction such as 7/3")
    text = str(value).strip()
    if isinstance(value, str) and not _NUMBER.fullmatch(text):
        raise Wrong(f"{what} {text[:20]} is no number", "write a number or a fraction such as 7/3")
    try:
        return Fraction(text)
    except ValueError:  # a float that is none
        raise Wrong(f"{what} {text} is no number", "write a number or a fraction such as 7/3") from None


def _beats(key: NoteKey, value: Any) -> Fraction:
    beats = _fraction(key.name, value)
    if not 0 <= beats <= LONGEST_BEATS:
        raise Wrong(f"{key.name} {beats} is out of reach", f"beats go from 0 to {LONGEST_BEATS}")
    return beats


def _pitch(key: NoteKey, value: Any) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 127:
        return value
    try:
        return parse_pitch(str(value)[:8])
    except ValueError as fault:
        raise Wrong(str(fault), "write a pitch such as E4 or Bb3, or a MIDI note from 0 to 127") from None


def _number(key: NoteKey, value: Any) -> int | None:
    if value is None:
        return None
    if not isinstance(value, int) or isinstance(value, bool) or not key.least <= value <= key.most:
        wrong = f"{key.name} {str(value)[:20]} is out of reach"
        raise Wrong(wrong, f"{key.name} is a whole number from {key.least} to {key.most}")
    return value


def _word(key: NoteKey, value: Any) -> str | None:
    if value is None:
        return key.default or None
    if value not in key.words:
        raise Wrong(f"{key.name} cannot be {str(value)[:20]!r}", did_you_mean(str(value)[:20], key.words))
    return str(value)


def _flag(key: NoteKey, value: Any) -> bool:
    if not isinstance(value, bool):
        raise Wrong(f"{key.name} is neither true nor false", "write true or false")
    return value


def _bend(key: NoteKey, value: Any) -> tuple[BendPoint, ...]:
    remedy = "write pairs of share and semitones, such as [[0, 0], [1/2, 2]]"
    if not isinstance(value, (list, tuple)) or len(value) > 64:
        raise Wrong("a bend is no list of points", remedy)
    points = []
    for pair in value:
        if not isinstance(pair, (list, tuple)) or len(pair) != 2:
            raise Wrong("a point of a bend is no pair", remedy)
        points.append(BendPoint(_fraction("a share", pair[0]), _fraction("a bend", pair[1])))
    shares = [point.at for point in points]
    if shares != sorted(shares) or any(not 0 <= share <= 1 for share in shares):
        raise Wrong("the shares of a bend do not rise from 0 to 1", remedy)
    if shares[:1] not in ([], [0]):
        raise Wrong("a bend does not begin at share 0", remedy)
    if any(not 0 <= point.semitones <= WIDEST_BEND for point in points):
        wrong = "a bend goes below its fret or more than an octave above"
        raise Wrong(wrong, f"write 0 to {WIDEST_BEND} semitones")
    return tuple(points)


def _harmonic(key: NoteKey, value: Any) -> Harmonic:
    remedy = "write {kind: natural, partial: 2, touch: 12}"
    if not isinstance(value, Mapping) or not set(value) <= {"kind", "partial", "touch"}:
        raise Wrong("a harmonic is no mapping of kind, partial and touch", remedy)
    if value.get("kind") not in key.words:
        raise Wrong("a harmonic without a kind", f"kinds are {', '.join(key.words)}")
    partial = _number(_PARTIAL, value.get("partial", 2))
    touch = None if value.get("touch") is None else _fraction("touch", value["touch"])
    if touch is not None and not 0 < touch <= FARTHEST_TOUCH:
        raise Wrong(
            f"touch {touch} is out of reach", f"a touched fret is more than 0 and at most {FARTHEST_TOUCH}"
        )
    if touch is None and value["kind"] == "natural":
        raise Wrong("a natural harmonic without a touch", remedy)
    return Harmonic(value["kind"], partial or 2, touch)


def _clues(key: NoteKey, value: Any) -> tuple[ClueMark, ...]:
    remedy = f"write signs such as s?6 or b{{0.5}}: {', '.join(f'{k.sign} {k.kind}' for k in KINDS)}"
    if not isinstance(value, str) or len(value) > 200:
        raise Wrong("clues are no text", remedy)
    marks: list[ClueMark] = []
    at = 0
    while at < len(value):
        match = CLUE.match(value, at)
        if match is None or match[1] not in CLUE_SIGNS or match[4] or len(marks) == MOST_CLUES:
            raise Wrong(f"{value[at : at + 12]!r} is no clue", remedy)
        marks.append(ClueMark(0, CLUE_SIGNS[match[1]], clue_value(match[2]), clue_strength(match[3])))
        at = match.end()
        at += len(value[at:]) - len(value[at:].lstrip(" "))
    return tuple(marks)


_PARTIAL = NoteKey("partial", "number", "", least=2, most=32)
_READERS: dict[str, Callable[[NoteKey, Any], Any]] = {
    "beats": _beats,
    "pitch": _pitch,
    "number": _number,
    "word": _word,
    "flag": _flag,
    "bend": _bend,
    "harmonic": _harmonic,
    "clues": _clues,
}
