"""Writes what changed of a fragment into the list of notes it was read from: only the values it concerns."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pipeline.errors import Faulty, faulty
from pipeline.lesson.splice import At, at_path, nested_end, own_lines, without
from pipeline.music.fragment import Fragment
from pipeline.music.meter import Meter
from pipeline.music.notelist import Listed, read_list
from pipeline.music.tabedit import told
from pipeline.music.tabprint import clue_word
from pipeline.source import Source, parse_yaml

KEPT = ("string", "fret", "finger", "position", "stroke")
"""What a reading says of a note."""


@dataclass(frozen=True)
class _Edit:
    """The characters from `start` to `end` of a text give way to others."""

    start: int
    end: int
    text: str


def edited_list(source: Source, at: At, fragment: Fragment, meter: Meter, pickup: Fraction) -> str:
    """The text of a file whose list of notes at a path says what a fragment says. Raises Faulty.

    The fragment's notes are those of the list, in the order in which it is read.
    """
    listed = _read(source, at, fragment, meter, pickup)
    edits = [
        edit
        for number, changes in _changes(listed, fragment)
        for edit in _edits(source, (*at, number), changes)
    ]
    text = source.text
    for edit in sorted(edits, key=lambda edit: edit.start, reverse=True):
        text = text[: edit.start] + edit.text + text[edit.end :]
    _refuse_harm(source, at, text, fragment, meter, pickup)
    return text


def _read(source: Source, at: At, fragment: Fragment, meter: Meter, pickup: Fraction) -> Listed:
    notes = at_path(source.data, at)
    return read_list(notes, fragment.guitar, lambda index, key: source.place((*at, index)), meter, pickup)


def _changes(listed: Listed, fragment: Fragment) -> Iterator[tuple[int, dict[str, str]]]:
    """For each note that changed its number in the list, and the keys to set with what to write there."""
    before, after = listed.fragment, fragment
    clues = [_clue_words(passage) for passage in (before, after)]
    pairs = zip(before.notes, after.notes, listed.order, strict=True)
    for note, (old, found, number) in enumerate(pairs):
        new = found if found.picked else found.but(stroke=None)
        changes = {key: _written(getattr(new, key)) for key in KEPT if getattr(old, key) != getattr(new, key)}
        if clues[0].get(note) != clues[1].get(note):
            changes["clues"] = json.dumps(clues[1].get(note, ""), ensure_ascii=False)
        if changes:
            yield number, changes


def _clue_words(fragment: Fragment) -> dict[int, str]:
    words: dict[int, str] = {}
    for clue in fragment.clues:
        words[clue.note] = words.get(clue.note, "") + clue_word(clue)
    return words


def _written(value: Any) -> str:
    return "null" if value is None else str(value)


def _edits(source: Source, note: At, changes: dict[str, str]) -> Iterator[_Edit]:
    keys = at_path(source.data, note)
    fresh = []
    for key, word in changes.items():
        if key in keys:
            start, end = source.extent((*note, key))
            yield _Edit(start, end, " " * source.text[:start].endswith(":") + word)
        else:
            fresh.append(f"{key}: {word}")
    if fresh:
        yield (
            _in_brackets(source, note, fresh) if source.in_brackets(note) else _in_lines(source, note, fresh)
        )


def _in_brackets(source: Source, note: At, fresh: list[str]) -> _Edit:
    end = source.extent(note)[1] - 1
    end -= len(source.text[:end]) - len(source.text[:end].rstrip())
    lead = " " if source.text[:end].endswith(",") else ", "
    return _Edit(end, end, lead + ", ".join(fresh))


def _in_lines(source: Source, note: At, fresh: list[str]) -> _Edit:
    """New lines under those of a note that has a key a line."""
    last = (*note, list(at_path(source.data, note))[-1])
    indent, lines = source.place(last, key=True).column - 1, source.text.split("\n")
    end = nested_end(lines, own_lines(source, last), indent)
    rows = "".join(f"{' ' * indent}{row}\n" for row in fresh)
    if end < len(lines):
        start = source.offset(end, 0)
        return _Edit(start, start, rows)
    return _Edit(len(source.text), len(source.text), f"\n{rows.removesuffix(chr(10))}")


def _refuse_harm(
    source: Source, at: At, text: str, fragment: Fragment, meter: Meter, pickup: Fraction
) -> None:
    """Raises Faulty where a changed text says anything else than it should."""
    try:
        changed = parse_yaml(text, source.file, patient=True)
        read = _read(changed, at, fragment, meter, pickup).fragment
    except Faulty as error:
        fault = error.faults[0]
        raise faulty(fault.place, f"what was found cannot be written: {fault.wrong}", fault.remedy) from None
    same = told(read.notes, read.clues) == told(fragment.notes, fragment.clues)
    if not same or without(changed.data, at) != without(source.data, at):
        wrong = "the notes cannot be written here without harm to what stands beside them"
        raise faulty(source.place(at), wrong, "write each note out, on lines without remarks or aliases")
