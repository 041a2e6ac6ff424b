"""The rows around the strings, read: strokes, fingers, hand positions, spans, clues.

Each sign belongs to the notes in whose columns it stands; a sign over nothing is a fault.
"""

import re
from collections.abc import Iterator

from pipeline.errors import did_you_mean
from pipeline.music.clues import CLUE_SIGNS, HARD, SOFT
from pipeline.music.fragment import ClueMark
from pipeline.music.tabnote import Group, Sign
from pipeline.music.tabrows import Proof, Row, System

STROKES = {"d": "down", "u": "up"}
FINGERS = {"T": 0, "1": 1, "2": 2, "3": 3, "4": 4, ".": None}
SPANS = {"PM": "palm_mute", "LR": "let_ring"}
CLUE = re.compile(r"(\S)(\d+(?:\.\d+)?|\{[^{}]*\})?(\?\d?)?(?::(\d+))?")
SPAN = re.compile(r"(PM|LR)-*|x\d+")
HIGHEST = 36
"""The highest fret that any neck has."""
HAND = re.compile(r"\d+|-")


def read_sides(
    systems: tuple[System, ...], groups: list[Group], ordered: list[Group], proof: Proof
) -> list[ClueMark]:
    """Take the side rows into the notes' fields, in place, and return the clues.

    `groups` stand as in the text, `ordered` as in the fragment: the order that gives notes their numbers.
    """
    clues: list[ClueMark] = []
    signs = [sign for group in ordered for sign in group.signs]
    numbers = {id(sign): number for number, sign in enumerate(signs)}
    hand: int | None = None
    of_system: list[list[Group]] = [[] for _ in systems]
    for group in groups:
        of_system[group.system].append(group)
    for system, own in zip(systems, of_system, strict=True):
        for row in system.of("strokes"):
            _read_strokes(row, own, proof)
        for row in system.of("fingers"):
            _read_fingers(row, own, proof)
        for row in system.of("marks"):
            _read_spans(row, own, proof)
        for row in system.of("clues"):
            clues += _read_clues(row, own, numbers, proof)
        hand = _read_hand(system.of("hand"), own, hand, proof)
    return clues


def _over(row: Row, column: int, groups: list[Group], proof: Proof) -> Group | None:
    """The notes under a column; a fault where there are none."""
    here = [group for group in groups if group.column <= column <= group.last]
    if not here:
        proof.wrong(
            row.line, column, f"{row.text[column]!r} stands over no note", "put it in a note's column"
        )
        return None
    return min(here, key=lambda group: group.grace)


def _marks(row: Row) -> Iterator[int]:
    """The columns of a row that hold a sign; bar lines are passed over."""
    column = row.start
    while column < len(row.text):
        if row.text[column] not in " |":
            yield column
        column += 1


def _read_strokes(row: Row, groups: list[Group], proof: Proof) -> None:
    for column in _marks(row):
        letter = row.text[column]
        if letter not in STROKES:
            proof.wrong(row.line, column, f"{letter!r} is no stroke", "write d for down or u for up")
        elif group := _over(row, column, groups, proof):
            picked = [sign for sign in group.signs if "attack" not in sign.fields]
            for sign in picked:
                sign.fields["stroke"] = STROKES[letter]
            if not picked:
                wrong = "a stroke stands over a note that is not picked"
                proof.wrong(row.line, column, wrong, "take it away, or the sign that slurs the note")


def _read_fingers(row: Row, groups: list[Group], proof: Proof) -> None:
    taken = row.start
    for column in _marks(row):
        if column < taken:
            continue
        group = _over(row, column, groups, proof)
        taken = column + (len(group.signs) if group else 1)
        letters = row.text[column:taken].split(" ")[0]
        bad = next((letter for letter in letters if letter not in FINGERS), None)
        if bad is not None:
            remedy = "write 1 to 4, T for the thumb, . for a note without a finger"
            proof.wrong(row.line, column, f"{bad!r} is no finger", remedy)
        elif group and len(letters) != len(group.signs):
            wrong = f"{len(letters)} fingers for a chord of {len(group.signs)} notes"
            remedy = "write one a note, from the highest string down, . where there is none"
            proof.wrong(row.line, column, wrong, remedy)
        elif group:
            for sign, letter in zip(group.signs, letters, strict=True):
                sign.fields["finger"] = FINGERS[letter]


def _read_hand(rows: tuple[Row, ...], groups: list[Group], hand: int | None, proof: Proof) -> int | None:
    changes: dict[int, int | None] = {}
    for row in rows:
        for match in HAND.finditer(row.text, row.start):
            if group := _over(row, match.start(), groups, proof):
                changes[id(group)] = None if match[0] == "-" else _position(row, match, proof)
        for column in _marks(row):
            if not row.text[column].isdigit() and row.text[column] != "-":
                wrong = f"{row.text[column]!r} is no hand position"
                proof.wrong(row.line, column, wrong, "write the fret under the index finger, or - for none")
    for group in sorted(groups, key=lambda group: (group.column, not group.grace)):
        hand = changes.get(id(group), hand)
        if hand is not None:
            for sign in group.signs:
                sign.fields["position"] = hand
    return hand


def _position(row: Row, match: re.Match[str], proof: Proof) -> int | None:
    if len(match[0]) > 2 or int(match[0]) > HIGHEST:
        wrong = f"position {match[0][:8]} is beyond any neck"
        proof.wrong(row.line, match.start(), wrong, f"use 0 to {HIGHEST}")
        return None
    return int(match[0])


def _read_spans(row: Row, groups: list[Group], proof: Proof) -> None:
    column = row.start
    while column < len(row.text):
        if row.text[column] in " |":
            column += 1
            continue
        match = SPAN.match(row.text, column)
        if match is None:
            wrong = f"{row.text[column:].split()[0][:12]!r} is no mark"
            proof.wrong(row.line, column, wrong, "write PM--- (palm mute), LR--- (let ring) or x3 over a :|")
            column += len(row.text[column:].split()[0])
            continue
        if match[1]:
            _span(row, match, groups, proof)
        column = match.end()


def _span(row: Row, match: re.Match[str], groups: list[Group], proof: Proof) -> None:
    under = [group for group in groups if match.start() <= group.column < match.end()]
    if not under:
        proof.wrong(row.line, match.start(), f"{match[1]} stands over no note", "put it over its first note")
    for group in under:
        for sign in group.signs:
            sign.fields[SPANS[match[1]]] = True


def _read_clues(row: Row, groups: list[Group], numbers: dict[int, int], proof: Proof) -> Iterator[ClueMark]:
    taken, group = row.start, None
    for column in _marks(row):
        if column < taken:
            continue
        follows = column == taken and column > row.start and group is not None
        group = group if follows else _over(row, column, groups, proof)
        match = CLUE.match(row.text, column)
        assert match is not None
        taken = match.end()
        sign = _clue_sign(row, match, group, proof)
        if sign:
            yield ClueMark(
                numbers[id(sign)], CLUE_SIGNS[match[1]], clue_value(match[2]), clue_strength(match[3])
            )


def _clue_sign(row: Row, match: re.Match[str], group: Group | None, proof: Proof) -> Sign | None:
    """The note that a clue speaks of: the highest string of a chord, or the one named after a colon."""
    if match[1] not in CLUE_SIGNS:
        known = ", ".join(f"{sign} {kind}" for sign, kind in CLUE_SIGNS.items())
        proof.wrong(row.line, match.start(), f"{match[1]!r} is no clue", f"known here: {known}")
        return None
    if group is None or match[4] is None:
        return group.signs[0] if group else None
    found = next((sign for sign in group.signs if str(sign.string) == match[4]), None)
    if found is None:
        remedy = did_you_mean(match[4][:4], [str(sign.string) for sign in group.signs])
        proof.wrong(row.line, match.start(), f"no note here is on string {match[4][:4]}", remedy)
    return found


def clue_value(text: str | None) -> str:
    """A clue's value as it stands behind its sign, without its braces."""
    return (text or "").strip("{}")


def clue_strength(text: str | None) -> float:
    """How sure a clue is, by the `?` behind it."""
    if text is None:
        return HARD
    return int(text[1]) / 10 if len(text) > 1 else SOFT
