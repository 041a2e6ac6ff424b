"""Prints a fragment as tab text, the inverse of reading it."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from pipeline.music.clues import HARD, SIGN_OF, SOFT
from pipeline.music.fragment import ClueMark, Fragment
from pipeline.music.tabgrid import Bar, Column, Score, bars_of
from pipeline.music.tabnote import head_of, prefix_of, tail_of
from pipeline.music.tabrows import string_labels
from pipeline.music.tabside import FINGERS, SPANS

WIDEST = 100
LABEL = 8
_FLAG_MARKS = {flag: mark for mark, flag in SPANS.items()}
_FINGER_SIGNS = {finger: sign for sign, finger in FINGERS.items()}
_ABOVE, _BELOW = ("count", "strokes", "PM", "LR"), ("fingers", "hand", "clues")


@dataclass
class Page:
    """The text as it grows: rows by name, string rows by number."""

    score: Score
    events: list[Fraction]
    starts: set[int]
    """Measures at which a repeat starts."""
    ends: dict[int, int]
    """Measures before which a repeat ends, with its times."""
    early: dict[int, str]
    """Measures whose bar line stands under a mark, as the bar before ends early."""
    hand: int | None = None
    holding: dict[int, Fraction] = field(default_factory=dict)
    """By string, the end of a note that is held over the end of a system."""
    rows: dict[str | int, list[str]] = field(default_factory=dict)

    def put(self, row: str | int, column: int, text: str) -> None:
        line = self.rows.setdefault(row, [])
        line += [" "] * (column + len(text) - len(line))
        line[column : column + len(text)] = text


def print_tab(fragment: Fragment, widest: int = WIDEST) -> str:
    """The text of a fragment. Raises ValueError where a note has no string: choose a reading first."""
    if any(note.string is None or (note.fret is None and not note.dead) for note in fragment.notes):
        raise ValueError("notes without string and fret cannot be printed: choose a reading first")
    score = Score(fragment)
    bars = bars_of(score)
    events = sorted(column.time for bar in bars for column in bar.columns if column.event)
    ends = {repeat.last + 1: repeat.times for repeat in fragment.repeats}
    early = {bar.index + 1: bar.end_mark for bar in bars if bar.end_mark}
    page = Page(score, events, {repeat.first for repeat in fragment.repeats}, ends, early)
    for column in (column for bar in bars for column in bar.columns):
        _measure(score, column)
    return "\n".join(_print_system(page, system) for system in _systems(page, bars, widest))


def _measure(score: Score, column: Column) -> None:
    """Find out how much room a column needs on either side."""
    spans = _shared_flags(score, column)
    column.before = 1 if column.mark.startswith("(") else 0
    column.width = max(2, len(column.mark), len(_clue_text(score, column)), len(_finger_text(score, column)))
    for index in column.notes:
        note = score.notes[index]
        head, offset, _ = head_of(note)
        column.before = max(column.before, len(prefix_of(note, score.before[index])) + offset)
        column.width = max(column.width, len(head) - offset + len(tail_of(note, spans)))


def _shared_flags(score: Score, column: Column) -> frozenset[str]:
    """The flags that all notes of a column have, so that a marks row can show them."""
    notes = [score.notes[index] for index in column.notes]
    return frozenset(flag for flag in _FLAG_MARKS if notes and all(getattr(note, flag) for note in notes))


def _clue_text(score: Score, column: Column) -> str:
    words = ""
    for place, index in enumerate(column.notes):
        string = f":{score.notes[index].string}" if place else ""
        words += "".join(clue_word(clue) + string for clue in score.clues.get(index, ()))
    return words


def clue_word(clue: ClueMark) -> str:
    """A clue as the clue row shows it."""
    plain = clue.value.isascii() and clue.value.isdigit()
    value = clue.value if plain or not clue.value else f"{{{clue.value}}}"
    soft = {HARD: "", SOFT: "?"}.get(clue.strength, f"?{round(clue.strength * 10)}")
    return SIGN_OF[clue.kind] + value + soft


def _finger_text(score: Score, column: Column) -> str:
    fingers = [score.notes[index].finger for index in column.notes]
    if all(finger is None for finger in fingers):
        return ""
    return "".join(_FINGER_SIGNS[finger] for finger in fingers)


def _systems(page: Page, bars: list[Bar], widest: int) -> Iterator[list[Bar]]:
    system: list[Bar] = []
    at = LABEL
    for bar in bars:
        end = _place(page, bar, at)
        if system and end > widest:
            yield system
            system = []
            end = _place(page, bar, LABEL)
        system.append(bar)
        at = end
    yield system


def _place(page: Page, bar: Bar, at: int) -> int:
    """Give a bar's columns their places after a bar line at `at`; the place of the next bar line."""
    bar.at = at
    at += _over_line(page, bar) + (len(bar.meter) + 1 if bar.meter else 0)
    for column in bar.columns:
        column.at = at + column.before
        at = column.at + column.width + 1
    return at + 1


def _over_line(page: Page, bar: Bar) -> int:
    """The room that the bar line before a bar needs, with what stands over it."""
    return 2 + max(len(page.early.get(bar.index, "")), 2 if bar.index in page.ends else 0)


def _print_system(page: Page, system: list[Bar]) -> str:
    page.rows = {}
    strings = range(1, page.score.fragment.guitar.string_count + 1)
    width = _place(page, system[-1], system[-1].at) + 1 if system else LABEL + 2
    for string in strings:
        page.put(string, LABEL, "-" * (width - LABEL))
    for bar in system:
        _draw_bar_line(page, bar.at, starts=bar.index in page.starts, ends=_inner_end(page, bar, system))
        _draw_bar(page, bar)
    last = system[-1].index + 1 if system else 0
    _draw_bar_line(page, width - 1, starts=False, ends=page.ends.get(last))
    if last in page.early:
        page.put("count", width - 1, page.early[last])
    _draw_spans(page, system)
    _draw_holds(page, system, width)
    return _text(page)


def _inner_end(page: Page, bar: Bar, system: list[Bar]) -> int | None:
    return None if bar is system[0] else page.ends.get(bar.index)


def _draw_bar_line(page: Page, at: int, starts: bool, ends: int | None) -> None:
    for string in range(1, page.score.fragment.guitar.string_count + 1):
        page.put(string, at, "|:" if starts else "|")
        if ends:
            page.put(string, at - 1, ":")
    if ends and ends != 2:
        page.put("PM", at, f"x{ends}")


def _draw_bar(page: Page, bar: Bar) -> None:
    if bar.meter:
        page.put("count", bar.at + _over_line(page, bar), bar.meter)
    if bar.index in page.early and bar.at != LABEL:
        page.put("count", bar.at, page.early[bar.index])
    for column in bar.columns:
        if column.mark:
            page.put("count", column.at - column.mark.startswith("("), column.mark)
        _draw_notes(page, column)


def _draw_notes(page: Page, column: Column) -> None:
    score, at = page.score, column.at
    spans = _shared_flags(score, column)
    for index in column.notes:
        note = score.notes[index]
        head, offset, _ = head_of(note)
        lead = prefix_of(note, score.before[index])
        assert note.string is not None
        page.put(note.string, at - offset - len(lead), lead + head + tail_of(note, spans))
        if note.stroke:
            page.put("strokes", at, note.stroke[0])
    for row, text in (("fingers", _finger_text(score, column)), ("clues", _clue_text(score, column))):
        if text:
            page.put(row, at, text)
    if column.notes and score.notes[column.notes[0]].position != page.hand:
        page.hand = score.notes[column.notes[0]].position
        page.put("hand", at, "-" if page.hand is None else str(page.hand))


def _draw_spans(page: Page, system: list[Bar]) -> None:
    columns = [column for bar in system for column in bar.columns if column.notes]
    for flag, mark in _FLAG_MARKS.items():
        first: int | None = None
        for column in columns:
            if flag not in _shared_flags(page.score, column):
                first = None
                continue
            first = column.at if first is None else first
            page.put(mark, first, mark + "-" * (column.at - first - 1))


def _draw_holds(page: Page, system: list[Bar], width: int) -> None:
    """Draw a line after each note that outlasts the next event, as far as it sounds."""
    columns = {column.time: column.at for bar in system for column in bar.columns if not column.grace}
    after = bisect_right(page.events, max(columns, default=Fraction(0)))
    for string, end in page.holding.items():
        _draw_hold(page, string, LABEL + 1, columns.get(end, width - 1))
    page.holding = {
        s: end for s, end in page.holding.items() if end not in columns and after < len(page.events)
    }
    for column in (column for bar in system for column in bar.columns if not column.grace):
        for index in column.notes:
            note = page.score.notes[index]
            following = bisect_right(page.events, note.onset)
            if note.end > (page.events[following] if following < len(page.events) else note.end):
                assert note.string is not None
                _draw_hold(page, note.string, column.at, columns.get(note.end, width - 1))
                if note.end not in columns:
                    page.holding[note.string] = note.end


def _draw_hold(page: Page, string: int, start: int, stop: int) -> None:
    line = page.rows[string]
    while start < stop and line[start] not in "-|":
        start += 1
    at = start
    while at < stop and line[at] in "-|:":
        at += 1
    end = at - 1 if line[at] not in "-|:=" else at
    for column in range(start, end):
        line[column] = "=" if line[column] == "-" else line[column]


def _text(page: Page) -> str:
    labels = dict(enumerate(string_labels(page.score.fragment.guitar), 1))
    names = [*_ABOVE, *labels, *_BELOW]
    titles = {"PM": "marks", "LR": "marks"} | labels
    lines = []
    for name in names:
        if name in page.rows:
            label = str(titles.get(name, name)).ljust(LABEL)
            lines.append((label + "".join(page.rows[name][LABEL:])).rstrip() + "\n")
    return "".join(lines)
