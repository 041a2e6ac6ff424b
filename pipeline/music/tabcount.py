"""The count row: which column is which moment of its bar.

Within a bar, moments are counts from 0: in 4/4 a count is a quarter note, in 6/8 an eighth.
"""

import re
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from pipeline.music.meter import Meter, read_meter
from pipeline.music.tabrows import Proof, Row

METER_SIGN = r"\(\d+(?:\+\d+)+\)/\d+|\d+(?:\+\d+){2,}/\d+|\d+/\d+"
"""A meter as the count row has it: of two groups only in brackets, as `2+1/4` is a moment."""
MARK = re.compile(
    rf"(?P<meter>{METER_SIGN})|(?P<open>\()?(?:(?P<number>\d+)(?:\+(?P<share>\d+/\d+))?|(?P<word>[e&a])|(?P<dot>\.))"
    r"(?P<close>\))?"
)
SYLLABLES = {"e": Fraction(1, 4), "&": Fraction(1, 2), "a": Fraction(3, 4)}
HELP = (
    "write counts (1 2 3), & e a between them, . for any other moment, ( ) around a rest, "
    "3/4 or (2+3)/8 for a meter"
)


@dataclass(frozen=True)
class CountMark:
    """A mark of the count row. `word` is a syllable whose count is not yet known."""

    line: int
    column: int
    text: str
    rest: bool = False
    meter: Meter | None = None
    count: Fraction | None = None
    word: str = ""


@dataclass(frozen=True)
class Slot:
    """A column that has a moment: counts from the bar's first count, and whether it is a rest."""

    column: int
    count: Fraction
    rest: bool


@dataclass(frozen=True)
class Bar:
    """A bar in counts: where it begins (later than 0 in a pick-up), where it ends, and its slots."""

    begin: Fraction
    end: Fraction
    slots: tuple[Slot, ...]


def read_marks(row: Row, bars: Iterable[int], proof: Proof) -> list[CountMark]:
    """The marks of a count row; bar lines drawn in it at columns of `bars` are passed over."""
    marks, column, lines = [], row.start, set(bars)
    while column < len(row.text):
        if row.text[column].isspace() or (row.text[column] == "|" and column in lines):
            column += 1
            continue
        match = MARK.match(row.text, column)
        mark = _mark(row, match) if match else None
        if match is None or mark is None:
            column += _reject(row, column, proof)
            continue
        marks.append(mark)
        column = match.end()
    return marks


def _reject(row: Row, column: int, proof: Proof) -> int:
    """Report a sign that is no count; the number of columns to pass over."""
    word = row.text[column:].split()[0]
    if word[0] == "|":
        remedy = "put the | of all rows in the same columns, or leave it away here"
        proof.wrong(row.line, column, "a bar line stands where the strings have none", remedy)
        return 1
    proof.wrong(row.line, column, f"{word[:8]!r} is no count", HELP)
    return len(word)


def _mark(row: Row, match: re.Match[str]) -> CountMark | None:
    if match["meter"]:
        return _meter(row, match)
    if bool(match["open"]) != bool(match["close"]) or len(match[0]) > 16:
        return None
    column, rest = match.start() + len(match["open"] or ""), bool(match["open"])
    if match["number"]:
        count = _count(match["number"], match["share"])
        return None if count is None else CountMark(row.line, column, match[0], rest, count=count)
    return CountMark(row.line, column, match[0], rest, word=match["word"] or "")


def _meter(row: Row, match: re.Match[str]) -> CountMark | None:
    try:
        return CountMark(row.line, match.start(), match[0], meter=read_meter(match[0]))
    except ValueError:
        return None


def _count(number: str, share: str | None) -> Fraction | None:
    top, bottom = (int(part) for part in share.split("/")) if share else (0, 1)
    if len(number) > 2 or bottom == 0 or top >= bottom or number.strip("0") == "":
        return None
    return int(number) - 1 + Fraction(top, bottom)


def time_bar(
    marks: list[CountMark],
    columns: list[tuple[int, int]],
    beats: int,
    end: CountMark | None,
    first: bool,
    proof: Proof,
) -> Bar:
    """Give every column of a bar its moment.

    `columns` holds the first and last column of each group of notes, `end` the mark on the closing bar line,
    `first` says whether the bar may be a pick-up. Faults go to `proof`.
    """
    pickup = first and bool(marks) and (not columns or marks[0].column <= columns[0][1])
    marks = _resolved(marks, beats, pickup)
    starts = [column for column, _ in columns]
    _check_single(marks, columns, proof)
    placed = {_column(mark, columns, starts): mark for mark in marks}
    rests = {column for column, mark in placed.items() if mark.rest}
    _check_rests(placed, rests & set(starts), proof)
    _check_beside(marks, columns, proof)
    pins = {column: mark for column, mark in placed.items() if mark.count is not None}
    counts = {column: mark.count for column, mark in pins.items() if mark.count is not None}
    ordered = sorted({*starts, *placed})
    if ordered:
        counts.setdefault(ordered[0], Fraction(0))
    begin = counts[ordered[0]] if ordered and pickup else Fraction(0)
    finish = _finish(end, beats, proof)
    _check_rising(pins, counts, finish, beats, proof)
    return Bar(begin, finish, tuple(_shared(ordered, counts, finish, rests)))


def _check_single(marks: list[CountMark], columns: list[tuple[int, int]], proof: Proof) -> None:
    """Refuse a second mark over a note: only one could hold."""
    starts = [first for first, _ in columns]
    taken: set[int] = set()
    for mark in marks:
        column = _column(mark, columns, starts)
        if column in taken:
            wrong = f"{mark.text} is a second mark over one note"
            proof.wrong(mark.line, mark.column, wrong, "keep one; a grace note has none of its own")
        taken.add(column)


def led(
    marks: list[CountMark],
    columns: list[tuple[int, int]],
    graces: list[tuple[int, int, int]],
    proof: Proof,
) -> list[CountMark]:
    """The marks of a bar, those over a grace note moved to the note that it leads to.

    `columns` holds the first and last column of each group of notes, `graces` those of each grace note and
    the column of its note, -1 where that note stands in a later bar.
    """

    def own(mark: CountMark) -> bool:
        return any(first <= mark.column <= last for first, last in columns)

    return [mark if own(mark) else _led(mark, graces, proof) for mark in marks]


def _led(mark: CountMark, graces: list[tuple[int, int, int]], proof: Proof) -> CountMark:
    over = next((note for first, last, note in graces if first <= mark.column <= last), None)
    beside = any(mark.column in (first - 1, last + 1) for first, last, _ in graces)
    if over == -1:
        wrong = f"{mark.text} stands over a grace note whose note is in the next bar"
        proof.wrong(mark.line, mark.column, wrong, "put it over that note")
    elif over is None and beside and mark.count is not None:
        wrong = f"count {mark.text} stands just beside a grace note"
        proof.wrong(mark.line, mark.column, wrong, "put it over the note that the grace note leads to")
    return mark if over in (None, -1) else replace(mark, column=over)


def _check_rests(placed: dict[int, CountMark], struck: set[int], proof: Proof) -> None:
    for mark in (placed[column] for column in struck):
        proof.wrong(mark.line, mark.column, f"the rest {mark.text} stands on a note", "take off its ( )")


def _check_beside(marks: list[CountMark], columns: list[tuple[int, int]], proof: Proof) -> None:
    """Refuse a count that only just misses a note: read as a moment of its own it would shift the rhythm."""
    starts = [first for first, _ in columns]
    taken = {_column(mark, columns, starts) for mark in marks}
    edges = {first - 1: first for first in starts} | {last + 1: first for first, last in columns}
    for mark in marks:
        missed = edges.get(mark.column)
        own = _column(mark, columns, starts) not in starts
        if own and mark.count is not None and missed is not None and missed not in taken:
            remedy = "put it in the note's column, or two columns away if it is a moment of its own"
            proof.wrong(mark.line, mark.column, f"count {mark.text} stands just beside a note", remedy)


def _finish(end: CountMark | None, beats: int, proof: Proof) -> Fraction:
    if end is None:
        return Fraction(beats)
    if end.count is None or not 0 < end.count < beats:
        remedy = "a mark over a bar line ends the bar early; put a count over its note"
        proof.wrong(end.line, end.column, f"{end.text} stands over a bar line", remedy)
        return Fraction(beats)
    return end.count


def _resolved(marks: list[CountMark], beats: int, pickup: bool) -> list[CountMark]:
    """Give syllables their counts: after the count before them, else before the first count of the bar."""
    numbers = [mark.count for mark in marks if mark.count is not None]
    current = Fraction(0)
    if pickup or numbers:
        current = Fraction(max(0, int(numbers[0]) - 1) if numbers else beats - 1)
    if not pickup and not numbers:
        current = Fraction(0)
    resolved = []
    for mark in marks:
        if mark.count is not None:
            current = Fraction(int(mark.count))
        count = current + SYLLABLES[mark.word] if mark.word else mark.count
        resolved.append(CountMark(mark.line, mark.column, mark.text, mark.rest, count=count))
    return resolved


def _column(mark: CountMark, columns: list[tuple[int, int]], starts: list[int]) -> int:
    """The column of the notes that a mark stands over, else its own."""
    index = bisect_right(starts, mark.column) - 1
    if index >= 0 and mark.column <= columns[index][1]:
        return starts[index]
    return mark.column


def _check_rising(
    pins: dict[int, CountMark], counts: dict[int, Fraction], finish: Fraction, beats: int, proof: Proof
) -> None:
    before, latest = Fraction(-1), None
    for column, count in sorted(counts.items()):
        mark = pins.get(column)
        if mark and count >= finish:
            remedy = (
                f"it has {beats} counts" if finish == beats else "the mark over its bar line ends it before"
            )
            proof.wrong(mark.line, mark.column, f"count {mark.text} lies beyond the bar", remedy)
        elif mark and count <= before:
            wrong = f"count {mark.text} does not come later than the one before"
            proof.wrong(mark.line, mark.column, wrong, _why_fallen(latest))
        before, latest = count, mark


def _why_fallen(before: CountMark | None) -> str:
    if before and "/" in before.text:
        return f"if {before.text} is a meter of two groups, put them in brackets: (2+3)/8"
    return "counts must rise; is a bar line missing, or a note before the first count?"


def _shared(
    columns: list[int], counts: dict[int, Fraction], finish: Fraction, rests: set[int]
) -> Iterable[Slot]:
    """Share the time between two pinned columns evenly among the slots between them."""
    pinned = [index for index, column in enumerate(columns) if column in counts]
    for place, first in enumerate(pinned):
        after = pinned[place + 1] if place + 1 < len(pinned) else len(columns)
        start = counts[columns[first]]
        stop = counts[columns[after]] if after < len(columns) else finish
        for index in range(first, after):
            count = start + (stop - start) * Fraction(index - first, after - first)
            yield Slot(columns[index], count, columns[index] in rests)
