"""Tab text cut into systems of labelled rows, with the limits that any text must keep.

Rows and columns count from 0 here; whoever called the reader knows where in a file they stand.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from pipeline.errors import Fault, Faulty, Place, did_you_mean
from pipeline.music.guitar import Guitar
from pipeline.music.pitch import parse_pitch, pitch_class_name, pitch_name

At = Callable[[int, int], Place]
OTHER_ROWS = ("count", "strokes", "fingers", "hand", "marks", "clues")
AROUND = 6
"""Characters shown on either side of a fault's column."""
LONGEST_TEXT, LONGEST_LINE = 200_000, 2_000
_LABEL = re.compile(r"\s*([^\s|]*)\s*")


@dataclass
class Proof:
    """Collects the faults of one text. `at` gives the place in the file for a row and column."""

    at: At
    lines: Sequence[str] = ()
    """The text, to show what stands around a fault's column."""
    faults: list[Fault] = field(default_factory=list)
    moved: dict[int, int] = field(default_factory=dict)
    """By row, how many columns it stands right of where it is read."""

    def wrong(self, row: int, column: int, wrong: str, remedy: str) -> None:
        column = max(0, column + self.moved.get(row, 0))
        self.faults.append(Fault(self.at(row, column), wrong, remedy + self._shown(row, column)))

    def _shown(self, row: int, column: int) -> str:
        """The few characters around a column, its own between arrows; nothing where the line holds none."""
        line = self.lines[row] if row < len(self.lines) else ""
        if not line[column : column + 1].strip():
            return ""
        start, end = max(0, column - AROUND), column + 1 + AROUND
        parts = (line[start:column], line[column], line[column + 1 : end])
        return f" (here: {'>'.join(parts[:2])}<{parts[2]})" if all(map(str.isprintable, parts)) else ""

    def stop_if_faulty(self) -> None:
        if self.faults:
            raise Faulty(self.faults)


@dataclass(frozen=True)
class Row:
    """A line of text after its label: its kind, its number, the column where its content starts."""

    kind: str
    line: int
    text: str
    start: int
    string: int = 0


@dataclass(frozen=True)
class System:
    """Rows that belong together, as they stand from top to bottom."""

    rows: tuple[Row, ...]

    def of(self, kind: str) -> tuple[Row, ...]:
        return tuple(row for row in self.rows if row.kind == kind)

    @property
    def strings(self) -> tuple[Row, ...]:
        return self.of("string")


def read_systems(text: str, guitar: Guitar, proof: Proof) -> tuple[System, ...]:
    """Cut a text into systems. Raises Faulty where a limit is broken; lesser faults go to `proof`."""
    lines = text.replace("\r\n", "\n").split("\n")
    _keep_limits(text, lines, proof)
    proof.stop_if_faulty()
    systems = tuple(_system(block, guitar, proof) for block in _blocks(lines))
    if not systems:
        proof.wrong(0, 0, "the text holds no notes", "write a row for each string, such as `E4|--5-7--|`")
    return systems


def _keep_limits(text: str, lines: list[str], proof: Proof) -> None:
    if len(text) > LONGEST_TEXT:
        proof.wrong(0, 0, f"the text has {len(text)} characters", f"keep to {LONGEST_TEXT}; divide it")
        return
    for row, line in enumerate(lines):
        bad = next((i for i, c in enumerate(line) if not c.isprintable()), None)
        if bad is not None:
            name = "a tab character" if line[bad] == "\t" else f"the control character U+{ord(line[bad]):04X}"
            proof.wrong(row, bad, f"{name} breaks the columns", "use spaces")
        elif len(line) > LONGEST_LINE:
            proof.wrong(
                row, LONGEST_LINE, f"a line of {len(line)} characters", "start a new system after a bar"
            )


def _blocks(lines: list[str]) -> Iterator[list[tuple[int, str]]]:
    block: list[tuple[int, str]] = []
    for number, line in enumerate(lines):
        if line.strip():
            block.append((number, line))
        elif block:
            yield block
            block = []
    if block:
        yield block


def _system(block: list[tuple[int, str]], guitar: Guitar, proof: Proof) -> System:
    rows = [row for number, line in block if (row := _row(number, line, proof))]
    strings = [row for row in rows if row.kind == "string"]
    every = len(strings) == guitar.string_count
    named = iter([_named(row, place, every, guitar, proof) for place, row in enumerate(strings)])
    rows = [next(named) if row.kind == "string" else row for row in rows]
    _check_order([row for row in rows if row.string > 0], proof)
    if not strings:
        proof.wrong(block[0][0], 0, "a system without strings", "write its string rows, such as `E4|--5--|`")
    return System(tuple(rows))


def _row(number: int, line: str, proof: Proof) -> Row | None:
    match = _LABEL.match(line)
    assert match is not None
    label, end = match[1], match.end()
    kind = next((kind for kind in OTHER_ROWS if label.lower() == kind), None)
    if kind:
        return Row(kind, number, line, match.end(1))
    if line[end : end + 1] == "|":
        return Row("string", number, line, end)
    if len(label) > 2 and label.isalpha():
        remedy = did_you_mean(label.lower(), OTHER_ROWS)
        proof.wrong(number, match.start(1), f"no row is named {label[:20]!r}", remedy)
    else:
        remedy = "start it with a label and a bar line (`E4|--5--|`) or a row name: " + ", ".join(OTHER_ROWS)
        proof.wrong(number, match.start(1), "a row without a label", remedy)
    return None


def _named(row: Row, place: int, every: bool, guitar: Guitar, proof: Proof) -> Row:
    label = row.text[: row.start].strip()
    column = len(row.text) - len(row.text.lstrip())
    fitting = [n for n in range(1, guitar.string_count + 1) if _fits(label, n, guitar)]
    if every and place + 1 in fitting:
        fitting = [place + 1]
    if len(fitting) != 1:
        names = ", ".join(string_labels(guitar))
        wrong = f"{label[:20]!r} could be several strings" if fitting else f"no string is {label[:20]!r}"
        proof.wrong(row.line, column, wrong, f"label the strings {names}, or by number from the top")
        return replace(row, string=-1 - place)  # its notes still stand under what is beside them
    return Row(row.kind, row.line, row.text, row.start, fitting[0])


def _fits(label: str, string: int, guitar: Guitar) -> bool:
    note = guitar.strings[string - 1]
    if label.isascii() and label.isdigit():
        return label == str(string)
    try:
        return parse_pitch(label) == note
    except ValueError:
        classes = (pitch_class_name(note), pitch_class_name(note, flats=True))
        return label.lower() in (name.lower() for name in classes)


def _check_order(rows: list[Row], proof: Proof) -> None:
    for above, below in pairwise(rows):
        if below.string <= above.string:
            proof.wrong(below.line, 0, "the strings stand out of order", "put the highest string on top")


def string_labels(guitar: Guitar) -> tuple[str, ...]:
    """The label of each string: its open pitch without capo, or its number where two strings are equal."""
    names = tuple(pitch_name(note) for note in guitar.strings)
    if len(set(names)) == len(names):
        return names
    return tuple(str(number) for number in range(1, len(names) + 1))
