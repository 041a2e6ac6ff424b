"""Rows of tab text that slipped: their signs stand beside the notes that they belong to.

Such rows are told of once. One that slipped as a whole is read as if it stood right, of one that drifts away
nothing more is said; so a slip does not make a fault of each sign.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.errors import enumerated
from pipeline.music.tabcount import MARK
from pipeline.music.tabnote import Group
from pipeline.music.tabrows import Proof, Row, System

SLIPS = (-1, 1, -2, 2)
"""How far a row may have slipped, in columns; a count two columns from a note is a moment of its own."""
_BRACES = re.compile(r"\{[^{}]*\}")
FEWEST_SLIPPED, FEWEST_ADRIFT = 2, 3
"""Signs astray that make a fault of the row; fewer are told by themselves."""
SIDES = ("count", "strokes", "fingers", "hand", "clues")


@dataclass(frozen=True)
class Beside:
    """What of a row beside the strings stands astray: the first column of each such sign."""

    row: Row
    astray: tuple[int, ...]
    slip: int = 0
    """How many columns the whole row stands right of where it belongs; 0 where it only drifts."""


def straight_strings(system: System, proof: Proof) -> System:
    """The system with each string row in line whose bar lines all stand as far beside those of the others."""
    bars = {row: pipes(row) for row in system.strings}
    if len(bars) < 2:
        return system
    usual = Counter(bars.values()).most_common(1)[0][0]
    slips = {row: slip for row, own in bars.items() if (slip := _offset(own, usual))}
    for row, slip in slips.items():
        proof.wrong(row.line, row.start, f"this row stands {_way(slip)} the other strings", _mend(slip, "|"))
    return _told(system, slips, proof)


def straight_sides(system: System, groups: Sequence[Group], proof: Proof) -> System:
    """The system with the rows in line that slipped as a whole, and without those that drift away."""
    sides = [row for row in system.rows if row.kind in SIDES]
    found = [beside for row in sides if (beside := _beside(row, groups, FEWEST_ADRIFT))]
    if any(not beside.slip for beside in found):
        found = [beside for row in sides if (beside := _beside(row, groups, 1))]
    for slip in sorted({beside.slip for beside in found}):
        alike = [beside for beside in found if beside.slip == slip]
        names = _listed([beside.row.kind for beside in alike])
        first = alike[0]
        if slip:
            wrong = f"{names} {_way(slip)} the notes"
            proof.wrong(first.row.line, first.astray[0], wrong, _mend(slip, "sign"))
        else:
            count = sum(len(beside.astray) for beside in alike)
            wrong = f"{names} beside the notes, {count} signs in all{_nearest(first, groups)}"
            proof.wrong(first.row.line, first.astray[0], wrong, "put each in the column of its note's fret")
    return _told(system, {beside.row: beside.slip for beside in found}, proof)


def _listed(kinds: Sequence[str]) -> str:
    return f"this row ({kinds[0]}) stands" if len(kinds) == 1 else f"the rows {enumerated(kinds)} stand"


def _way(slip: int) -> str:
    return f"{_columns(abs(slip))} {'right' if slip > 0 else 'left'} of"


def _columns(count: int) -> str:
    return {1: "one column", 2: "two columns"}.get(count, f"{count} columns")


def _mend(slip: int, first: str) -> str:
    spaces = {1: "one space", 2: "two spaces"}.get(abs(slip), f"{abs(slip)} spaces")
    how = f"take {spaces} away" if slip > 0 else f"put {spaces} more"
    return f"{how} before the first {first}{'' if first == '|' else ' of each'}"


def _nearest(beside: Beside, groups: Sequence[Group]) -> str:
    """How far the first sign astray is from the nearest note."""
    column = beside.astray[0]
    aways = [column - near for group in groups for near in (group.column, group.last)]
    away = min(aways, key=abs, default=0)
    return f", the first {_way(away)} a note" if away else ""


def pipes(row: Row) -> tuple[int, ...]:
    """The columns of a string row's bar lines."""
    return tuple(column for column in range(row.start, len(row.text)) if row.text[column] == "|")


def _offset(own: tuple[int, ...], usual: tuple[int, ...]) -> int:
    """By how much all bar lines are off, 0 where not all by as much."""
    offsets = {mine - theirs for mine, theirs in zip(own, usual, strict=False)}
    return offsets.pop() if len(own) == len(usual) and len(offsets) == 1 else 0


def _beside(row: Row, groups: Sequence[Group], fewest: int) -> Beside | None:
    """What of a row stands astray; None where it is less than `fewest` and no slip of the row."""
    find = _counts_astray if row.kind == "count" else _signs_astray
    astray = find(row, groups, 0)
    slips = [slip for slip in SLIPS if row.kind != "count" or abs(slip) == 1]
    best = min(slips, key=lambda slip: len(find(row, groups, slip)))
    if len(astray) >= FEWEST_SLIPPED and len(find(row, groups, best)) * 4 <= len(astray):
        return Beside(row, astray, best)
    return Beside(row, astray) if len(astray) >= fewest else None


def _signs_astray(row: Row, groups: Sequence[Group], slip: int) -> tuple[int, ...]:
    """Of a row whose every word belongs over a note: the words that stand over none once the row is moved."""
    text = _BRACES.sub(lambda match: "-" * len(match[0]), row.text)
    starts = [at for at in range(row.start, len(text)) if text[at] not in " |" and text[at - 1] in " |"]
    over = {column for group in groups for column in range(group.column, group.last + 1)}
    return tuple(start for start in starts if start - slip not in over)


def _counts_astray(row: Row, groups: Sequence[Group], slip: int) -> tuple[int, ...]:
    """Of the count row: the counts that only just miss a note that has no mark of its own."""
    found = [match for match in MARK.finditer(row.text, row.start) if not match["meter"]]
    columns = {match.start() + len(match["open"] or ""): bool(match["dot"]) for match in found}
    notes = [(group.column, group.last) for group in groups if not group.grace]
    free = [(a, b) for a, b in notes if not any(a <= column - slip <= b for column in columns)]
    over = {column for a, b in notes for column in range(a, b + 1)}
    beside = {column for a, b in free for column in (a - 1, b + 1)} - over
    return tuple(column for column, dot in columns.items() if not dot and column - slip in beside)


def _told(system: System, slips: dict[Row, int], proof: Proof) -> System:
    """The system with rows moved back, or emptied where they drift; faults keep their place."""
    for row, slip in slips.items():
        proof.moved[row.line] = slip
    return System(tuple(_back(row, slips[row]) if row in slips else row for row in system.rows))


def _back(row: Row, slip: int) -> Row:
    if not slip:
        meters = [match for match in MARK.finditer(row.text, row.start) if match["meter"]]
        kept = {column for match in meters for column in range(*match.span())}
        text = "".join(c if at in kept else " " for at, c in enumerate(row.text))
        return replace(row, text=text if row.kind == "count" else "")
    text = row.text[slip:] if slip > 0 else " " * -slip + row.text
    return replace(row, text=text, start=max(0, row.start - slip))
