"""Bar lines of tab text: where they stand on every string, and the repeats that they begin and end."""

import re
from collections import Counter
from dataclasses import dataclass

from pipeline.music.fragment import Repeat
from pipeline.music.tabcount import CountMark
from pipeline.music.tabnote import Group
from pipeline.music.tabrows import Row, System
from pipeline.music.tabscan import BAR
from pipeline.music.tabsheet import Sheet
from pipeline.music.tabslip import pipes


@dataclass(frozen=True)
class BarLine:
    """A bar line over columns `first` to `last`, and whether repeats end before or start after it."""

    first: int
    last: int
    ends: bool = False
    starts: bool = False


def bar_lines(sheet: Sheet, system: System) -> list[BarLine]:
    """Bar lines of a system; every string row must have them in the same columns."""
    found = {row: [m for m in BAR.finditer(row.text, row.start) if "|" in m[0]] for row in system.strings}
    columns = {row: pipes(row) for row in found}
    top = system.strings[0]
    usual = Counter(columns.values()).most_common(1)[0][0]
    for row, own in columns.items():
        _compare_bars(sheet, row, own, usual)
    matches = [match for own in found.values() for match in own]
    lines: list[BarLine] = []
    for match in found[top]:
        first = match.start() + match[0].index("|")
        last = match.start() + match[0].rindex("|")
        same = [m for m in matches if m.start() <= first < m.end()]
        ends = any(m[0].startswith(":") for m in same)
        starts = any(m[0].endswith(":") for m in same)
        lines.append(BarLine(first - ends, last + starts, ends, starts))
    return lines


def _compare_bars(sheet: Sheet, row: Row, own: tuple[int, ...], usual: tuple[int, ...]) -> None:
    """Most rows are taken to be right, the upper ones where as many stand on either side."""
    if own == usual:
        return
    at = next((min(a, b) for a, b in zip(own, usual, strict=False) if a != b), None)
    column = at if at is not None else max(own + usual)
    remedy = "put every | of a system in the same columns on all strings"
    sheet.proof.wrong(row.line, column, "a bar line does not stand where the other strings have it", remedy)


def refuse_on_lines(sheet: Sheet, groups: list[Group], columns: set[int]) -> None:
    """Tell of notes in the columns of bar lines and repeat signs."""
    for sign in (sign for group in groups if group.column in columns for sign in group.signs):
        remedy = "leave the column of the colon free on every string"
        sheet.proof.wrong(sign.line, sign.column, "a note stands in the column of a repeat sign", remedy)


def refuse_after(sheet: Sheet, bar: BarLine, marks: list[CountMark]) -> None:
    """Tell of count marks after the last bar line."""
    for mark in (mark for mark in marks if mark.column > bar.last):
        wrong = f"{mark.text} stands after the last bar line"
        sheet.proof.wrong(mark.line, mark.column, wrong, "draw the strings on, or take it away")


def pass_bar_line(sheet: Sheet, bar: BarLine, system: System) -> None:
    """Note the repeats that end or start at a bar line."""
    measure = len(sheet.measures)
    if bar.ends:
        first = (
            sheet.opened if sheet.opened is not None else (sheet.repeats[-1].last + 1 if sheet.repeats else 0)
        )
        if first >= measure:
            line = system.strings[0].line
            sheet.proof.wrong(line, bar.first, "a repeat ends before any bar", "put :| at the end of a bar")
        else:
            sheet.repeats.append(Repeat(first, measure - 1, _times(sheet, bar, system)))
        sheet.opened = None
    if bar.starts:
        sheet.opened, sheet.opened_at = measure, (system.strings[0].line, bar.first)


def _times(sheet: Sheet, bar: BarLine, system: System) -> int:
    for row in system.of("marks"):
        for match in re.finditer(r"x(\d+)", row.text):
            if bar.first <= match.start() <= bar.last + 1:
                if len(match[1]) <= 2 and int(match[1]) >= 2:
                    return int(match[1])
                sheet.proof.wrong(row.line, match.start(), f"{match[0][:8]} times", "repeat x2 to x99")
    return 2


def close_repeats(sheet: Sheet) -> None:
    """Tell of a repeat that never ends."""
    if sheet.opened is not None:
        remedy = "end it with :| at the end of its last bar"
        sheet.proof.wrong(*sheet.opened_at, "the repeat that starts here never ends", remedy)
