"""Writes what changed of a fragment into the text it was read from: only the rows and cells that it concerns.

The author's columns and rows stay. A moved note keeps its column; where its new sign needs more room the
system is widened there.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from pipeline.errors import Faulty, Place
from pipeline.music.fragment import ClueMark, Fragment
from pipeline.music.meter import COMMON, Meter
from pipeline.music.note import Note
from pipeline.music.tabcanvas import Block, Canvas, Line
from pipeline.music.tabnote import FLAGS, Group, Sign, head_of, prefix_of, tail_of
from pipeline.music.tabprint import clue_word, print_tab
from pipeline.music.tabread import read_layout
from pipeline.music.tabside import FINGERS, HAND

FINGER_SIGNS = {finger: sign for sign, finger in FINGERS.items()}


@dataclass(frozen=True)
class Row:
    """A row of the new text, and the number of the row of the old text that it is or has come from."""

    text: str
    old: int | None = None


def edited(text: str, fragment: Fragment, meter: Meter = COMMON) -> list[Row]:
    """The rows of a text after it was changed to say what a fragment says: places, fingers, hand, strokes,
    new clues. The fragment's notes are those of the text, in its order. Raises Faulty, ValueError."""
    layout = read_layout(text, fragment.guitar, _nowhere, meter)
    canvas = Canvas(text, layout, fragment.guitar)
    signs = [sign for group in layout.groups for sign in group.signs]
    _Edit(canvas, dict(zip(map(id, signs), fragment.notes, strict=True)), fragment).run(signs, layout.clues)
    rows = [Row(line.text, line.old) for line in canvas.rows()]
    if _says(rows, fragment, meter):
        return rows
    return [Row(row) for row in print_tab(fragment).rstrip("\n").split("\n")]


def _nowhere(row: int, column: int) -> Place:
    return Place("text", row + 1, column + 1)


def _says(rows: Iterable[Row], fragment: Fragment, meter: Meter) -> bool:
    """Whether the rows say what the fragment says."""
    try:
        read = read_layout("\n".join(row.text for row in rows), fragment.guitar, _nowhere, meter)
    except Faulty:
        return False
    return told(read.notes, read.clues) == told(fragment.notes, fragment.clues)


def told(notes: tuple[Note, ...], clues: tuple[ClueMark, ...]) -> tuple[object, object]:
    """What notes and clues say, in an order that no choice of strings changes."""
    bare = [note.but(stroke=note.stroke if note.picked else None) for note in notes]
    known = Counter((bare[c.note], c.kind, c.value, round(c.strength, 1)) for c in clues)
    return sorted(bare, key=lambda note: (note.onset, not note.grace, note.string or 0)), known


def _bars(line: Line, column: int) -> list[int]:
    """The column of the first bar line after one."""
    return [at for at in range(column, len(line.text)) if line.char(at) in "|:"][:1]


class _Edit:
    """The changes of one text. `notes` finds the new note of a sign that was read."""

    def __init__(self, canvas: Canvas, notes: dict[int, Note], fragment: Fragment) -> None:
        self.canvas, self.notes, self.fragment = canvas, notes, fragment
        self.hand: int | None = None
        self.was: int | None = None
        """Where the hand was before the next notes, by the new text and by the old."""
        self.latest: dict[int, Note] = {}

    def run(self, signs: list[Sign], known: tuple[ClueMark, ...]) -> None:
        """Make every change."""
        self._clear([sign for sign in signs if self._moves(sign)])
        for block in self.canvas.blocks:
            self._strings(block)
            for group in block.groups:
                self._strokes(block, group)
                self._fingers(block, group)
                self._hand(block, group)
        fresh = Counter(self.fragment.clues) - Counter(known)
        for clue in self.fragment.clues:
            if fresh[clue]:
                fresh[clue] -= 1
                self._clue(signs[clue.note], clue)

    def note(self, sign: Sign) -> Note:
        return self.notes[id(sign)]

    def _moves(self, sign: Sign) -> bool:
        return (sign.string, sign.fret) != (self.note(sign).string, self.note(sign).fret)

    # strings -------------------------------------------------------------------------------------------

    def _clear(self, moved: list[Sign]) -> None:
        """Take moved notes from their strings; what was drawn to hold them goes along."""
        for sign in moved:
            self.canvas.blocks[sign.system].string(self.note(sign).string or 0)
        holds = [(sign, cells) for sign in moved if (cells := list(self._held(sign)))]
        for sign in moved:
            row = self.canvas.blocks[sign.system].string(sign.string)
            sign.fields["drawn"] = row.text[sign.begin : sign.end]
            row.erase(sign.begin, sign.end)
        for sign, cells in holds:
            for block, column in cells:
                block.string(sign.string).erase(column, column + 1)
        for sign, cells in holds:
            for block, column in cells:
                row = block.string(self.note(sign).string or 0)
                row.put(column, "=" if row.char(column) == "-" else row.char(column))

    def _held(self, sign: Sign) -> Iterator[tuple[Block, int]]:
        """Where a note that changes its string is drawn on."""
        if sign.held is None or self.note(sign).string == sign.string:
            return
        for number in range(sign.system, sign.held[0] + 1):
            block = self.canvas.blocks[number]
            row = block.string(sign.string)
            start = sign.end if number == sign.system else row.start
            stop = sign.held[1] + 1 if number == sign.held[0] else len(row.text)
            yield from ((block, column) for column in range(start, stop) if row.char(column) == "=")

    def _strings(self, block: Block) -> None:
        for group in block.groups:
            for sign in group.signs:
                note = self.note(sign)
                if "drawn" in sign.fields:
                    self._draw(block, group, sign, note)
                self.latest[note.string or 0] = note
            self._draw_in(block, group)

    @staticmethod
    def _draw_in(block: Block, group: Group) -> None:
        """Where a fret has fewer digits now, what stood over a digit that is gone moves to the one left."""
        last = max(group.column, *(sign.last for sign in group.signs))
        for line in (line for line in block.lines if line.kind not in ("string", "")):
            for column in range(last + 1, group.last + 1):
                if line.char(column) not in " |-" and line.char(group.column) == " ":
                    end = column
                    while line.char(end) not in " |":
                        end += 1
                    word = line.text[column:end]
                    line.erase(column, end)
                    line.put(group.column, word)
        group.last = last

    def _draw(self, block: Block, group: Group, sign: Sign, note: Note) -> None:
        """Put a note on its new string, in the column of its group, and make room for it first."""
        drawn = sign.fields.pop("drawn")
        spans = frozenset(flag for letter, flag in FLAGS.items() if letter not in drawn)
        head, offset, width = head_of(note)
        lead = prefix_of(note, self.latest.get(note.string or 0))
        text = lead + head + tail_of(note, spans)
        row = block.string(note.string or 0)
        lack = self._lack_before(row, group.column - offset - len(lead), group.column)
        standing = [one.begin for one in group.signs if "drawn" not in one.fields and one is not sign]
        block.widen(min([group.column, *standing]), lack)
        start = group.column - offset - len(lead)
        self._room_after(block, row, group, start + len(text), group.column + width)
        row.put(start, text)
        sign.string, sign.column, sign.last = note.string or 0, group.column, group.column + width - 1
        sign.begin, sign.end = start, start + len(text)
        group.last = max(group.last, sign.last)

    @staticmethod
    def _lack_before(row: Line, start: int, column: int) -> int:
        """How many columns are missing left of a note's column."""
        free = column
        while free > start - 1 and row.char(free - 1) in "-=":
            free -= 1
        edge = 0 if row.char(free - 1) in "|:" else 1
        return max(0, free + edge - start)

    @staticmethod
    def _room_after(block: Block, row: Line, group: Group, end: int, last: int) -> None:
        """Widen the system where a sign that ends before `end` would meet what follows."""
        after = [one for one in block.groups if one.column > group.column]
        stop = group.column
        while stop < end + 1 and row.char(stop) in "-=":
            stop += 1
        lack = max(0, end + 1 - stop) if stop <= end else 0
        if after:
            lack = max(lack, last - after[0].column + (1 if lack else 0))
        if lack <= 0:
            return
        begins = [sign.begin for one in after[:1] for sign in one.signs]
        bars = [at for line in block.of("string") for at in _bars(line, group.column)]
        block.widen(min([*begins, *bars], default=stop), lack)

    # rows beside the strings ---------------------------------------------------------------------------

    def _strokes(self, block: Block, group: Group) -> None:
        picked = [sign for sign in group.signs if "attack" not in sign.fields]
        wanted = next((self.note(sign).stroke for sign in picked if self.note(sign).stroke), None)
        if any(sign.fields.get("stroke") != wanted for sign in picked):
            self._cell(block, "strokes", group, wanted[0] if wanted else "", 1)

    def _fingers(self, block: Block, group: Group) -> None:
        notes = sorted((self.note(sign) for sign in group.signs), key=lambda note: note.string or 0)
        if [sign.fields.get("finger") for sign in group.signs] == [note.finger for note in notes]:
            return
        text = "".join(FINGER_SIGNS[note.finger] for note in notes)
        self._cell(block, "fingers", group, text if text.strip(".") else "", len(notes))

    def _hand(self, block: Block, group: Group) -> None:
        wanted = self.note(group.signs[0]).position
        here = [
            match[0]
            for row in block.of("hand")
            for match in HAND.finditer(row.text, row.start)
            if group.column <= match.start() <= group.last
        ]
        before, self.hand, self.was = (self.hand, self.was), wanted, group.signs[0].fields.get("position")
        word = "-" if wanted is None else str(wanted)
        said_twice = bool(here) and before[1] == self.was
        if here[-1:] != [word] or not (said_twice or wanted != before[0]):
            self._cell(block, "hand", group, word if wanted != before[0] else "", 2)

    def _cell(self, block: Block, kind: str, group: Group, text: str, width: int) -> None:
        """Write a group's cell in a row of a kind, over what stood there, which is at most so wide."""
        for row in block.of(kind):
            for column in range(group.column, group.last + 1):
                if row.char(column) not in " |" and column >= row.start:
                    end = column + 1
                    while end < column + width and row.char(end) not in " |":
                        end += 1
                    row.erase(column, end)
                    break
        if text:
            self._place(block, kind, group, text, beside=" |" if kind in ("hand", "clues") else "")

    @staticmethod
    def _place(block: Block, kind: str, group: Group, text: str, beside: str = " |") -> None:
        """Put a word over a group in the first row of a kind that has room, else in a new one."""
        for row in block.of(kind):
            start, end = group.column, group.column + len(text)
            free = start > row.start and all(row.char(at) == " " for at in range(start, end))
            if free and all(not beside or row.char(at) in beside for at in (start - 1, end)):
                row.put(start, text)
                return
        row = block.row(kind, group.column)
        row.put(group.column, text)

    def _clue(self, sign: Sign, clue: ClueMark) -> None:
        block = self.canvas.blocks[sign.system]
        group = next(one for one in block.groups if sign in one.signs)
        top = min(group.signs, key=lambda one: one.string)
        word = clue_word(clue) + ("" if sign is top else f":{sign.string}")
        for row in block.of("clues"):
            at = next(self._ends(row, group), None)
            if at is not None and all(row.char(c) == " " for c in range(at, at + len(word) + 1)):
                row.put(at, word)
                return
        self._place(block, "clues", group, word)

    @staticmethod
    def _ends(row: Line, group: Group) -> Iterator[int]:
        """The column after the clues that a row has of a group already."""
        for column in range(max(group.column, row.start), group.last + 1):
            if row.char(column) not in " |" and row.char(column - 1) in " |":
                while row.char(column) not in " |":
                    column += 1
                yield column
