"""Reads tab text into a fragment. The notation is described in `pipeline.music.tabtext`."""

import re
from bisect import bisect_right
from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

from pipeline.music.fragment import ClueMark, Fragment, Measure, Repeat
from pipeline.music.guitar import Guitar
from pipeline.music.meter import COMMON, Meter
from pipeline.music.note import Note
from pipeline.music.tabcount import CountMark, led, read_marks, time_bar
from pipeline.music.tabnote import PREFIX, Group, Sign, Unreadable, read_note, read_prefix
from pipeline.music.tabrows import At, Proof, Row, System, read_systems
from pipeline.music.tabside import read_sides
from pipeline.music.tabslip import pipes, straight_sides, straight_strings

BAR = re.compile(r"[|:]+")
HOLD = re.compile(r"=+")


@dataclass(frozen=True)
class BarLine:
    """A bar line over columns `first` to `last`, and whether repeats end before or start after it."""

    first: int
    last: int
    ends: bool = False
    starts: bool = False


@dataclass
class Sheet:
    """The text as it is being read."""

    guitar: Guitar
    proof: Proof
    meter: Meter
    groups: list[Group] = field(default_factory=list)
    slots: list[tuple[int, int, Fraction]] = field(default_factory=list)  # system, column, time
    rests: set[Fraction] = field(default_factory=set)
    measures: list[Measure] = field(default_factory=list)
    repeats: list[Repeat] = field(default_factory=list)
    latest: dict[int, Sign] = field(default_factory=dict)  # by string
    opened: int | None = None  # the measure after the last sign that starts a repeat
    opened_at: tuple[int, int] = (0, 0)
    waiting: dict[int, dict[str, object]] = field(default_factory=dict)  # signs before a note, by string
    begun: dict[int, tuple[int, int]] = field(default_factory=dict)  # system, column of the first of them
    slopes: dict[int, str] = field(default_factory=dict)

    @property
    def end(self) -> Fraction:
        return self.measures[-1].end if self.measures else Fraction(0)


@dataclass(frozen=True)
class Layout:
    """A text that was read, with its systems and with the groups of notes in the fragment's order."""

    sheet: Sheet
    systems: tuple[System, ...]
    groups: tuple[Group, ...]
    notes: tuple[Note, ...]
    clues: tuple[ClueMark, ...]


def read_tab(
    name: str,
    text: str,
    guitar: Guitar,
    at: At,
    meter: Meter = COMMON,
    tempo: Fraction = Fraction(120),
    flats: bool = False,
) -> Fragment:
    """Read aligned text into a fragment.

    `at(row, column)`, both from 0 in the text, gives the place in the file. Raises Faulty with every fault.
    """
    read = read_layout(text, guitar, at, meter)
    measures, repeats = tuple(read.sheet.measures), tuple(read.sheet.repeats)
    return Fragment(name, guitar, read.notes, measures, tempo, repeats, read.clues, flats)


def read_layout(text: str, guitar: Guitar, at: At, meter: Meter) -> Layout:
    """Read aligned text, and where in it everything stands. Raises Faulty with every fault."""
    sheet = Sheet(guitar, Proof(at, text.replace("\r\n", "\n").split("\n")), meter)
    read = read_systems(text, guitar, sheet.proof)
    systems = tuple(_read_system(sheet, number, system) for number, system in enumerate(read))
    if systems and not sheet.measures:
        sheet.proof.wrong(
            0, 0, "the text holds no bar", "write notes or - after a bar line, such as `E4|--5--|`"
        )
    _close_repeats(sheet)
    _time_graces(sheet)
    ordered = sorted(sheet.groups, key=lambda group: (group.time, not group.grace))
    clues = read_sides(systems, sheet.groups, ordered, sheet.proof)
    notes = _notes(sheet, ordered)
    sheet.proof.stop_if_faulty()
    return Layout(sheet, systems, tuple(ordered), tuple(notes), _sorted(clues))


def _sorted(clues: list[ClueMark]) -> tuple[ClueMark, ...]:
    return tuple(sorted(clues, key=lambda clue: clue.note))


def _read_system(sheet: Sheet, number: int, system: System) -> System:
    """Read a system; returns it with the rows in line that had slipped."""
    if not system.strings:
        return system
    system = straight_strings(system, sheet.proof)
    signs = [sign for row in system.strings for sign in _scan(sheet, number, row)]
    bars = _bar_lines(sheet, system)
    groups = _grouped(sheet, number, signs)
    sheet.groups += groups
    system = straight_sides(system, groups, sheet.proof)
    columns = [column for bar in bars for column in range(bar.first, bar.last + 1)]
    if len({pipes(row) for row in system.strings}) == 1:
        _refuse_on_lines(sheet, groups, set(columns))
    marks = [mark for row in system.of("count") for mark in read_marks(row, columns, sheet.proof)]
    marks.sort(key=lambda mark: mark.column)
    width = max(len(row.text) for row in system.rows)
    for place, bar in enumerate(bars):
        closing = bars[place + 1] if place + 1 < len(bars) else None
        stop = closing.first if closing else width
        empty = all(not row.text[bar.last + 1 : stop].strip() for row in system.strings)
        _pass_bar_line(sheet, bar, system)
        if closing is None and empty:
            _refuse_after(sheet, bar, marks)
        else:
            _read_bar(
                sheet, number, bar, closing, stop, [g for g in groups if bar.last < g.column < stop], marks
            )
    return system


def _refuse_on_lines(sheet: Sheet, groups: list[Group], columns: set[int]) -> None:
    for sign in (sign for group in groups if group.column in columns for sign in group.signs):
        remedy = "leave the column of the colon free on every string"
        sheet.proof.wrong(sign.line, sign.column, "a note stands in the column of a repeat sign", remedy)


def _refuse_after(sheet: Sheet, bar: BarLine, marks: list[CountMark]) -> None:
    for mark in (mark for mark in marks if mark.column > bar.last):
        wrong = f"{mark.text} stands after the last bar line"
        sheet.proof.wrong(mark.line, mark.column, wrong, "draw the strings on, or take it away")


def _scan(sheet: Sheet, system: int, row: Row) -> list[Sign]:
    """The notes of a string row, from left to right; signs before a note wait until it comes."""
    signs, column, text = [], row.start, row.text
    while column < len(text):
        try:
            sign, column = _step(sheet, system, row, column)
        except Unreadable as fault:
            sheet.proof.wrong(row.line, fault.column, fault.wrong, fault.remedy)
            column = max(column, fault.column) + 1
            while column < len(text) and text[column] not in "- |":
                column += 1
            continue
        if sign:
            signs.append(sign)
    return signs


def _step(sheet: Sheet, system: int, row: Row, column: int) -> tuple[Sign | None, int]:
    text, string = row.text, row.string
    if text[column] in "- ":
        return None, column + 1
    if bar := BAR.match(text, column):
        if "|" not in bar[0]:
            raise Unreadable(column, "a colon without a bar line", "write |: or :| for repeats")
        return None, bar.end()
    waiting = sheet.waiting.setdefault(string, {})
    if hold := HOLD.match(text, column):
        return None, _hold(sheet, system, row, hold, waiting)
    if prefix := PREFIX.match(text, column):
        sheet.slopes[string] = read_prefix(prefix[0], waiting, column) or sheet.slopes.get(string, "")
        sheet.begun.setdefault(string, (system, column))
        return None, prefix.end()
    sign, after = read_note(text, column, waiting)
    begun = sheet.begun.pop(string, (system, column))
    sign.begin, sign.end = begun[1] if begun[0] == system else column, after
    sheet.waiting[string] = {}
    sign.slope, sign.string, sign.line, sign.system = sheet.slopes.pop(string, ""), string, row.line, system
    _check_link(sheet, sign)
    sheet.latest[string] = sign
    return sign, after


def _hold(sheet: Sheet, system: int, row: Row, hold: re.Match[str], waiting: dict[str, object]) -> int:
    before = sheet.latest.get(row.string)
    if before is None:
        raise Unreadable(hold.start(), "= holds a note, but none stands before it", "write - for silence")
    before.held = (system, hold.end() - 1)
    follows = row.text[hold.end() : hold.end() + 1]
    if follows.isdigit() or follows in ("x", "(", "<"):
        waiting["attack"] = "tie"
    return hold.end()


def _check_link(sheet: Sheet, sign: Sign) -> None:
    before, attack = sheet.latest.get(sign.string), sign.fields.get("attack")
    if not (attack in ("pull", "slide", "tie") or sign.slope):
        return
    if before is None:
        raise Unreadable(
            sign.column, f"the {attack or 'slide'} comes from no note", "write the note before it"
        )
    if before.fret is None or sign.fret is None:
        return
    rise = sign.fret - before.fret
    if attack == "tie" and rise:
        remedy = f"write ={before.fret}, or leave the = away"
        raise Unreadable(sign.column, f"{sign.fret} cannot continue {before.fret}", remedy)
    if attack == "pull" and rise >= 0:
        raise Unreadable(
            sign.column, f"a pull-off from {before.fret} to {sign.fret}", "h goes up, p goes down"
        )
    if sign.slope and rise and (rise > 0) != (sign.slope == "/"):
        wrong = f"{sign.slope} slides the wrong way from {before.fret} to {sign.fret}"
        raise Unreadable(sign.column, wrong, "/ slides up the neck, \\ down")


def _bar_lines(sheet: Sheet, system: System) -> list[BarLine]:
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


def _grouped(sheet: Sheet, system: int, signs: list[Sign]) -> list[Group]:
    groups: list[Group] = []
    for sign in sorted(signs, key=lambda sign: (sign.column, -sign.last, sign.string)):
        last = next((g for g in reversed(groups) if not g.grace), None)
        if sign.grace or last is None or sign.column > last.last:
            groups.append(Group(system, sign.column, sign.last, [sign], sign.grace))
        else:
            if sign.column != last.column and sign.last > last.last:
                remedy = "start notes that sound together in the same column, others after it"
                sheet.proof.wrong(sign.line, sign.column, "a note stands half under another", remedy)
            last.signs.append(sign)
            last.last = max(last.last, sign.last)
            last.signs.sort(key=lambda sign: sign.string)
    return groups


def _pass_bar_line(sheet: Sheet, bar: BarLine, system: System) -> None:
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


def _close_repeats(sheet: Sheet) -> None:
    if sheet.opened is not None:
        remedy = "end it with :| at the end of its last bar"
        sheet.proof.wrong(*sheet.opened_at, "the repeat that starts here never ends", remedy)


def _read_bar(
    sheet: Sheet,
    number: int,
    bar: BarLine,
    closing: BarLine | None,
    stop: int,
    groups: list[Group],
    marks: list[CountMark],
) -> None:
    inside = [mark for mark in marks if bar.last < mark.column < stop]
    _take_meter(sheet, [mark for mark in inside if mark.meter], inside)
    ends = [m for m in marks if closing and closing.first <= m.column <= closing.last]
    if not sheet.measures:
        for mark in (m for m in marks if m.column <= bar.last):
            sheet.proof.wrong(
                mark.line, mark.column, f"{mark.text} stands before the bar", "put it over its note"
            )
    columns = [(group.column, group.last) for group in groups if not group.grace]
    plain = [mark for mark in inside if not mark.meter]
    counted = led(plain, columns, _graces(groups, columns), sheet.proof)
    meter = sheet.meter
    timed = time_bar(
        counted, columns, meter.beats, ends[0] if ends else None, not sheet.measures, sheet.proof
    )
    start, count = sheet.end, meter.count
    times = {slot.column: start + (slot.count - timed.begin) * count for slot in timed.slots}
    sheet.measures.append(
        Measure(start, (timed.end - timed.begin) * count, meter.beats, meter.unit, meter.groups)
    )
    sheet.slots += [(number, column, time) for column, time in times.items()]
    sheet.rests |= {times[slot.column] for slot in timed.slots if slot.rest}
    for group in groups:
        group.time = times.get(group.column, start)


def _graces(groups: list[Group], columns: list[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """First and last column of each grace note that has them for itself, and the column of its note."""
    found = []
    for group in (group for group in groups if group.grace):
        first = group.column - 1  # its g
        if all(last < first or column > group.last for column, last in columns):
            note = next((column for column, _ in columns if column > group.last), -1)
            found.append((first, group.last, note))
    return found


def _take_meter(sheet: Sheet, meters: list[CountMark], inside: list[CountMark]) -> None:
    for mark in meters:
        if mark is not inside[0]:
            wrong = f"the meter {mark.text} stands inside a bar"
            sheet.proof.wrong(mark.line, mark.column, wrong, "put it first after the bar line")
        elif mark.meter:
            sheet.meter = mark.meter


def _time_graces(sheet: Sheet) -> None:
    following: Group | None = None
    for group in reversed(sheet.groups):
        if not group.grace:
            following = group
        elif following:
            group.time = following.time
        else:
            line = group.signs[0].line
            sheet.proof.wrong(line, group.column, "a grace note before no note", "write the note after it")


def _notes(sheet: Sheet, ordered: list[Group]) -> list[Note]:
    onsets = sorted({g.time for g in sheet.groups if not g.grace} | sheet.rests | {sheet.end})
    return [_note(sheet, group, sign, onsets) for group in ordered for sign in group.signs]


def _note(sheet: Sheet, group: Group, sign: Sign, events: list[Fraction]) -> Note:
    end = group.time
    if not group.grace:
        after = bisect_right(events, group.time)
        end = events[after] if after < len(events) else sheet.end
        if sign.held:
            end = max(end, _held_until(sheet, sign.held))
    return Note(group.time, end - group.time, _pitch(sheet, sign), sign.string, **sign.fields)


def _held_until(sheet: Sheet, held: tuple[int, int]) -> Fraction:
    index = bisect_right(sheet.slots, held, key=lambda slot: (slot[0], slot[1]))
    return sheet.slots[index][2] if index < len(sheet.slots) else sheet.end


def _pitch(sheet: Sheet, sign: Sign) -> int | None:
    if sign.fret is None or not sign.string:  # a row whose label was refused has no string
        return None
    try:
        return sheet.guitar.pitch(sign.string, sign.fret)
    except ValueError as fault:
        remedy = f"use 0 to {sheet.guitar.highest_fret}"
        sheet.proof.wrong(sign.line, sign.column, str(fault), remedy)
        return None
