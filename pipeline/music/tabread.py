"""Reads tab text into a fragment. The notation is described in `pipeline.music.tabtext`."""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction

from pipeline.music.fragment import ClueMark, Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.meter import COMMON, Meter
from pipeline.music.note import Note
from pipeline.music.tabbars import (
    BarLine,
    bar_lines,
    close_repeats,
    pass_bar_line,
    refuse_after,
    refuse_on_lines,
)
from pipeline.music.tabcount import CountMark, led, read_marks, time_bar
from pipeline.music.tabnote import Group, Sign
from pipeline.music.tabrows import At, Proof, System, read_systems
from pipeline.music.tabscan import grouped, refuse_leads, scan
from pipeline.music.tabsheet import Sheet
from pipeline.music.tabside import read_sides
from pipeline.music.tabslip import pipes, straight_sides, straight_strings


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
    close_repeats(sheet)
    refuse_leads(sheet, systems)
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
    signs = [sign for row in system.strings for sign in scan(sheet, number, row)]
    bars = bar_lines(sheet, system)
    groups = grouped(sheet, number, signs)
    sheet.groups += groups
    system = straight_sides(system, groups, sheet.proof)
    columns = [column for bar in bars for column in range(bar.first, bar.last + 1)]
    if len({pipes(row) for row in system.strings}) == 1:
        refuse_on_lines(sheet, groups, set(columns))
    marks = [mark for row in system.of("count") for mark in read_marks(row, columns, sheet.proof)]
    marks.sort(key=lambda mark: mark.column)
    width = max(len(row.text) for row in system.rows)
    for place, bar in enumerate(bars):
        closing = bars[place + 1] if place + 1 < len(bars) else None
        stop = closing.first if closing else width
        empty = all(not row.text[bar.last + 1 : stop].strip() for row in system.strings)
        pass_bar_line(sheet, bar, system)
        if closing is None and empty:
            refuse_after(sheet, bar, marks)
        else:
            _read_bar(
                sheet, number, bar, closing, stop, [g for g in groups if bar.last < g.column < stop], marks
            )
    return system


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
    if sign.fret is None or sign.string < 1:  # a row whose label was refused is of no string
        return None
    try:
        return sheet.guitar.pitch(sign.string, sign.fret)
    except ValueError as fault:
        remedy = f"use 0 to {sheet.guitar.highest_fret}"
        sheet.proof.wrong(sign.line, sign.column, str(fault), remedy)
        return None
