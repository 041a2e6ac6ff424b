"""String rows, scanned: their notes from left to right, and which of them sound together."""

import re

from pipeline.music.tabnote import PREFIX, Group, Sign, Unreadable, read_note, read_prefix
from pipeline.music.tabrows import Row, System
from pipeline.music.tabsheet import Sheet

BAR = re.compile(r"[|:]+")
HOLD = re.compile(r"=+")


def scan(sheet: Sheet, system: int, row: Row) -> list[Sign]:
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


def refuse_leads(sheet: Sheet, systems: tuple[System, ...]) -> None:
    """Tell of signs that lead to a note which never comes."""
    for string, (number, column) in sheet.begun.items():
        row = next((row for row in systems[number].strings if row.string == string), None)
        if row is not None:
            sign = row.text[column : column + 1]
            slid = f"; a note slides out with {sign}]" * (sign in "/\\")
            remedy = f"write the note, or take it away{slid}"
            sheet.proof.wrong(row.line, column, f"{sign!r} leads to no note", remedy)


def grouped(sheet: Sheet, system: int, signs: list[Sign]) -> list[Group]:
    """Notes in groups that sound together, from left to right; a grace note is a group of its own."""
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
