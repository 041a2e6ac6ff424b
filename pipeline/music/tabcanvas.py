"""Tab text as a grid to write on: lines by system, columns that may be put in, cells that are free.

Whatever is not written on stays as its author wrote it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from pipeline.music.guitar import Guitar
from pipeline.music.tabnote import Group, Sign
from pipeline.music.tabread import Layout
from pipeline.music.tabrows import OTHER_ROWS, string_labels

ABOVE = ("count", "strokes", "marks")
"""Rows that stand over the strings where nobody has put them elsewhere."""


@dataclass(eq=False)
class Line:
    """A line of the text: what kind of row it is, the number it had (None for a new one), where it starts."""

    kind: str
    text: str
    old: int | None = None
    start: int = 0
    string: int = 0

    def char(self, column: int) -> str:
        return self.text[column : column + 1] or " "

    def put(self, column: int, text: str) -> None:
        padded = self.text.ljust(column)
        self.text = padded[:column] + text + padded[column + len(text) :]

    def _bar(self, column: int) -> bool:
        """Whether a bar line or the colon of a repeat stands in a column."""
        here, beside = self.char(column), self.char(column - 1) + self.char(column + 1)
        return here == "|" or (here == ":" and "|" in beside)

    def erase(self, start: int, end: int) -> None:
        """Make cells empty: with a string's line, or with nothing."""
        fill = "-" if self.kind == "string" else " "
        self.put(start, "".join(self.text[at] if self._bar(at) else fill for at in range(start, end)))
        if fill == " ":
            self.text = self.text.rstrip()


@dataclass(eq=False)
class Block:
    """The lines of a system and the groups of notes that stand in it."""

    canvas: "Canvas"
    lines: list[Line]
    groups: list[Group] = field(default_factory=list)

    def of(self, kind: str) -> list[Line]:
        return [line for line in self.lines if line.kind == kind]

    def string(self, number: int) -> Line:
        """The row of a string, drawn anew where the author left it out."""
        rows = self.of("string")
        found = next((line for line in rows if line.string == number), None)
        if found is not None:
            return found
        labels = [row.text[: row.start].strip() for row in rows]
        label = str(number) if labels[0].isdigit() else string_labels(self.canvas.guitar)[number - 1]
        self.canvas.shift(max(0, len(label) - rows[0].start))
        start = rows[0].start
        drawn = "".join(c if c in "|:" else "-" for c in rows[0].text[start:].rstrip())
        line = Line("string", label.rjust(start) + drawn, None, start, number)
        following = next((row for row in rows if row.string > number), None)
        at = self.lines.index(following) if following else self.lines.index(rows[-1]) + 1
        self.lines.insert(at, line)
        return line

    def row(self, kind: str, column: int) -> Line:
        """A new row of a kind, below others of it, whose label leaves a column free."""
        sides = [line for line in self.lines if line.kind in OTHER_ROWS]
        indent = len(sides[0].text) - len(sides[0].text.lstrip()) if sides else 0
        self.canvas.shift(max(0, indent + len(kind) + 1 - column))
        line = Line(kind, " " * indent + kind, None, indent + len(kind))
        same, strings = self.of(kind), self.of("string")
        above = strings[0] if kind in ABOVE else None
        at = self.lines.index(above) if above else len(self.lines)
        self.lines.insert(self.lines.index(same[-1]) + 1 if same else at, line)
        return line

    def signs(self) -> Iterator[Sign]:
        return (sign for group in self.groups for sign in group.signs)

    def widen(self, column: int, count: int) -> None:
        """Put in columns before one; a sign or a word that reaches over it stays whole."""
        if not count:
            return
        for line in self.lines:
            at = self._whole(line, column)
            if at < len(line.text):
                line.text = line.text[:at] + self._fill(line, at) * count + line.text[at:]
        for group in self.groups:
            group.last += count * (group.column >= column)
            group.column += count * (group.column >= column)
        for sign in self.signs():
            sign.last += count * (sign.column >= column)
            sign.end += count * (sign.column >= column)
            sign.column += count * (sign.column >= column)
            sign.begin += count * (sign.begin >= column)

    def _whole(self, line: Line, column: int) -> int:
        """The column at which a line may be parted, `column` or the first after it."""
        if line.kind == "string":
            over = (s for s in self.signs() if s.string == line.string and "drawn" not in s.fields)
            return next((sign.end for sign in over if sign.begin < column < sign.end), column)
        while column > line.start and line.char(column - 1) not in " |-" and line.char(column) not in " |-":
            column += 1
        return column

    @staticmethod
    def _fill(line: Line, column: int) -> str:
        before, after = line.char(column - 1), line.char(column)
        if line.kind == "string":
            return "=" if before == "=" and after not in "-|" else "-"
        return "-" if before == after == "-" else " "


class Canvas:
    """A text that was read, to be written on."""

    def __init__(self, text: str, layout: Layout, guitar: Guitar) -> None:
        self.guitar = guitar
        plain = text.replace("\r\n", "\n").split("\n")
        rows = {row.line: row for system in layout.systems for row in system.rows}
        self.lines: list[Block | Line] = []
        of_line: dict[int, Block] = {}
        self.blocks: list[Block] = []
        for system in layout.systems:
            block = Block(self, [])
            self.blocks.append(block)
            of_line |= {row.line: block for row in system.rows}
        for number, line in enumerate(plain):
            block_here = of_line.get(number)
            if block_here is None:
                self.lines.append(Line("", line, number))
                continue
            row = rows[number]
            block_here.lines.append(Line(row.kind, line, number, row.start, row.string))
            if block_here not in self.lines:
                self.lines.append(block_here)
        for group in layout.groups:
            self.blocks[group.system].groups.append(group)
        for block in self.blocks:
            block.groups.sort(key=lambda group: (group.column, not group.grace))

    def shift(self, count: int) -> None:
        """Move everything to the right, where labels need room."""
        for block in self.blocks if count else ():
            for line in block.lines:
                line.text, line.start = " " * count + line.text, line.start + count
            for group in block.groups:
                group.column, group.last = group.column + count, group.last + count
            for sign in block.signs():
                sign.column, sign.last = sign.column + count, sign.last + count
                sign.begin, sign.end = sign.begin + count, sign.end + count

    def rows(self) -> Iterator[Line]:
        """The lines of the text as they stand now."""
        for one in self.lines:
            yield from one.lines if isinstance(one, Block) else (one,)
