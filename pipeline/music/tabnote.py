"""One note of tab text, read and written: `t12~`, `(7)b9r7`, `5<17>`, `//9!`.

The notation is described in `pipeline.music.tabtext`. A note here is not yet in time: it has a column.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from pipeline.music.harmonics import partial_at
from pipeline.music.note import BendPoint, Harmonic, Note

PREFIX = re.compile(r"\[[/\\]|//|\\\\|[hptg/\\]")
HEAD = re.compile(r"(\()?(x)?(\d+)?(?:<([^<>]*)>)?(\))?")
BEND = re.compile(r"([bBr])(\d+(?:\.\d+)?)(?:@(\d+):(\d+))?")
TAIL = re.compile(rf"{BEND.pattern}|~+|[!'*_&]|[/\\]\]")
INSIDE = re.compile(r"(p)?(\d+(?:\.\d+)?)?(?::(\d+))?")
ATTACKS = {"h": "hammer", "p": "pull", "t": "tap", "/": "slide", "\\": "slide"}
FLAGS = {"!": "accent", "'": "staccato", "*": "tremolo", "_": "palm_mute", "&": "let_ring"}
WIDEST_BEND = 12


class Unreadable(ValueError):
    """A sign that is wrong at a column of its row: carries column, what is wrong and the remedy."""

    def __init__(self, column: int, wrong: str, remedy: str) -> None:
        super().__init__(wrong)
        self.column, self.wrong, self.remedy = column, wrong, remedy


@dataclass
class Sign:
    """A note as its row shows it. `column` to `last` are the columns of its head: fret, x or node."""

    column: int
    last: int
    fields: dict[str, Any] = field(default_factory=dict)
    slope: str = ""
    string: int = 0
    line: int = 0
    system: int = 0
    held: tuple[int, int] | None = None  # system and last column of the hold drawn after it
    begin: int = 0
    """The column of the first sign that leads to it, where that stands in its system."""
    end: int = 0
    """The column after its last sign."""

    @property
    def fret(self) -> int | None:
        fret: int | None = self.fields.get("fret")
        return fret

    @property
    def grace(self) -> bool:
        return bool(self.fields.get("grace"))


@dataclass
class Group:
    """Notes of one system that sound together, or one grace note. `time` is in beats."""

    system: int
    column: int
    last: int
    signs: list[Sign]
    grace: bool = False
    time: Fraction = Fraction(0)


def read_prefix(sign: str, fields: dict[str, Any], column: int) -> str:
    """Take a sign before a note into its fields; the slope is returned where it is a slide."""
    if sign == "g":
        fields["grace"] = True
    elif sign in ("[/", "[\\"):
        fields["slide_in"] = "below" if sign == "[/" else "above"
    elif "attack" in fields or "shift_slide" in fields:
        raise Unreadable(
            column, f"a second sign {sign!r} leads to one note", "keep one of h p t / \\ // \\\\"
        )
    elif sign in ("//", "\\\\"):
        fields["shift_slide"] = True
        return sign[0]
    else:
        fields["attack"] = ATTACKS[sign]
        return sign if sign in "/\\" else ""
    return ""


def read_note(text: str, start: int, fields: dict[str, Any]) -> tuple[Sign, int]:
    """Read the head and tail of a note at `start`; the sign and the column after it.

    Raises Unreadable where they make no note.
    """
    head = HEAD.match(text, start)
    if head is None or not (head[2] or head[3] or head[4] is not None):
        raise Unreadable(start, f"{text[start]!r} is no sign of a string row", SIGNS_HELP)
    if bool(head[1]) != bool(head[5]):
        raise Unreadable(start, "a bracket is open on one side", "write ghost notes as (7)")
    group = 2 if head[2] else 3 if head[3] else 4
    column, last = head.start(group), max(head.start(group), head.end(3 if head[3] else group) - 1)
    sign = Sign(column, last, fields)
    _take_head(sign, head)
    return sign, _read_tail(sign, text, head.end())


def _take_head(sign: Sign, head: re.Match[str]) -> None:
    fields = sign.fields
    fret = head[3]
    if fret is not None and len(fret) > 2:
        raise Unreadable(sign.column, f"fret {fret[:8]} is beyond any neck", "frets have one or two digits")
    fields["fret"] = int(fret) if fret is not None else None
    if head[1]:
        fields["ghost"] = True
    if head[2]:
        fields["dead"] = True
    if head[4] is not None:
        fields["harmonic"] = _read_harmonic(head[4], fields["fret"], sign.column)
        if fields["fret"] is None:
            fields["fret"] = 0


def _read_harmonic(inside: str, fret: int | None, column: int) -> Harmonic:
    match = INSIDE.fullmatch(inside)
    if match is None or len(inside) > 12:
        raise Unreadable(column, f"<{inside[:12]}> is no harmonic", HARMONIC_HELP)
    pinch, touch_text, partial_text = match.groups()
    touch = Fraction(touch_text) if touch_text else None
    kind = "pinch" if pinch else "natural" if fret is None else "artificial"
    partial = int(partial_text) if partial_text else derived_partial(kind, touch, fret or 0)
    if partial is None:
        raise Unreadable(column, f"no harmonic lies at {touch_text or 'an unnamed place'}", HARMONIC_HELP)
    if not 2 <= partial <= 32:
        raise Unreadable(
            column, f"partial {partial} cannot be heard", "partials go from 2 (the octave) to 32"
        )
    return Harmonic(kind, partial, touch)  # type: ignore[arg-type]


def derived_partial(kind: str, touch: Fraction | None, fret: int) -> int | None:
    """The partial that needs no writing: the one at the touch; the octave for a pinch of unknown place."""
    if touch is None:
        return 2 if kind == "pinch" else None
    return partial_at(float(touch) - fret)


def _read_tail(sign: Sign, text: str, start: int) -> int:
    moves: list[re.Match[str]] = []
    while tail := TAIL.match(text, start):
        _take_tail(sign, tail, moves)
        start = tail.end()
    if text[start : start + 1] in ("b", "B", "r"):
        raise Unreadable(start, "a bend does not say how far", "write the fret it sounds like, such as 7b9")
    if moves:
        sign.fields["bend"] = _read_bend(sign, moves)
    return start


def _take_tail(sign: Sign, tail: re.Match[str], moves: list[re.Match[str]]) -> None:
    word = tail[0]
    if word in FLAGS:
        sign.fields[FLAGS[word]] = True
    elif word[0] == "~":
        sign.fields["vibrato"] = "wide" if len(word) > 1 else "narrow"
    elif word[-1] == "]":
        sign.fields["slide_out"] = "up" if word[0] == "/" else "down"
    else:
        moves.append(tail)


def _read_bend(sign: Sign, moves: list[re.Match[str]]) -> tuple[BendPoint, ...]:
    if sign.fret is None:
        raise Unreadable(sign.column, "a bend starts from an unknown fret", "write the fret, such as x7b9")
    points = [BendPoint(Fraction(0), Fraction(0))]
    if moves[0][1] == "B":
        points = [BendPoint(Fraction(0), Fraction(moves.pop(0)[2]) - sign.fret)]
    for index, move in enumerate(moves, 1):
        share = _share(move)
        at = Fraction(index, len(moves) + 1) if share is None else share
        points.append(BendPoint(at, Fraction(move[2]) - sign.fret))
        _check_move(sign, move[1], points[-2], points[-1])
    if any(abs(point.semitones) > WIDEST_BEND for point in points):
        raise Unreadable(sign.column, "a bend of more than an octave", "write the fret that it sounds like")
    return tuple(points)


def _share(move: re.Match[str]) -> Fraction | None:
    if move[3] is None:
        return None
    return Fraction(int(move[3]), int(move[4])) if int(move[4]) else Fraction(-1)


def _check_move(sign: Sign, letter: str, before: BendPoint, now: BendPoint) -> None:
    if letter == "B":
        raise Unreadable(sign.column, "a pre-bend stands after a bend", "B comes first: 7B9r7")
    if not before.at <= now.at <= 1:
        raise Unreadable(sign.column, "a bend goes back in time", "shares rise from 0 to 1: 7b9@1:4r7@3:4")
    if (now.semitones < before.semitones) != (letter == "r"):
        raise Unreadable(sign.column, f"{letter} goes the wrong way", "b bends up or holds, r releases")


def decimal(value: Fraction) -> str:
    """A fraction as a short decimal, to a thousandth."""
    return f"{float(value):.3f}".rstrip("0").rstrip(".")


def prefix_of(note: Note, before: Note | None) -> str:
    """The signs in front of a note; `before` is the note before it on its string."""
    up = before is None or before.fret is None or note.fret is None or note.fret >= before.fret
    slope = "/" if up else "\\"
    words = {"hammer": "h", "pull": "p", "tap": "t", "slide": slope}
    link = words.get(note.attack, "") + (2 * slope if note.shift_slide else "")
    inward = {"below": "[/", "above": "[\\"}.get(note.slide_in or "", "")
    return link + ("g" if note.grace else "") + inward + ("=" if note.attack == "tie" else "")


def head_of(note: Note) -> tuple[str, int, int]:
    """The head of a note, the offset of its column in it, and the head's width from that column."""
    natural = note.harmonic is not None and note.harmonic.kind == "natural"
    core = "x" if note.dead else ""
    fret = "" if note.fret is None or natural else str(note.fret)
    ring = _harmonic_text(note) if note.harmonic else ""
    text = core + fret + ring
    offset = 1 if text.startswith("<") else 0
    width = len(core + fret) or len(ring) - 2
    return (f"({text})", offset + 1, width) if note.ghost else (text, offset, width)


def _harmonic_text(note: Note) -> str:
    harmonic = note.harmonic
    assert harmonic is not None
    touch = decimal(harmonic.touch) if harmonic.touch is not None else ""
    known = derived_partial(harmonic.kind, Fraction(touch) if touch else None, note.fret or 0)
    partial = "" if known == harmonic.partial else f":{harmonic.partial}"
    return f"<{'p' if harmonic.kind == 'pinch' else ''}{touch}{partial}>"


def tail_of(note: Note, spans: frozenset[str]) -> str:
    """The signs after a note; flags named in `spans` are written in a marks row instead."""
    flags = "".join(s for s, name in FLAGS.items() if getattr(note, name) and name not in spans)
    wave = {"narrow": "~", "wide": "~~"}.get(note.vibrato, "")
    outward = {"up": "/]", "down": "\\]"}.get(note.slide_out or "", "")
    return "".join(_bend_text(note)) + wave + flags + outward


def _bend_text(note: Note) -> Iterator[str]:
    if not note.bend:
        return
    fret, first = note.fret or 0, note.bend[0]
    moves = note.bend[1:]
    if first.at or first.semitones or not moves:
        yield f"B{decimal(fret + first.semitones)}"
    before = first
    for index, point in enumerate(moves, 1):
        letter = "r" if point.semitones < before.semitones else "b"
        usual = Fraction(index, len(moves) + 1)
        at = "" if point.at == usual else f"@{point.at.numerator}:{point.at.denominator}"
        yield f"{letter}{decimal(fret + point.semitones)}{at}"
        before = point


SIGNS_HELP = "use frets, x, ( ), < >, the signs h p t / \\ b r ~ g ! ' * _ & = and - between them"
HARMONIC_HELP = "write <12>, <2.7:7> or 5<17>; a pinch harmonic as 7<p:3>"
