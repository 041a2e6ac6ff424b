"""Writes a finding back into a script: the one block that it concerns, every other byte as it was.

Only on request, and whole or not at all.
"""

from codecs import BOM_UTF8
from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path
from shutil import copymode
from typing import Any

from pipeline.errors import Faulty, faulty
from pipeline.files.place import placed
from pipeline.lesson.splice import nested_end, with_key, without
from pipeline.music.fragment import Fragment
from pipeline.music.tabtext import print_tab
from pipeline.source import Source, Step, parse_yaml, read_yaml

DOUBTFUL = 0.5
"""A mark under this confidence gets a comment that asks to look at it."""


def write_fragment(script: Path, name: str, fragment: Fragment) -> None:
    """Put a fragment's text back into a script. Raises Faulty where it is no text block there."""
    source = read_yaml(script)
    at: tuple[Step, ...] = ("fragments", name, "text")
    header = _line(source, at)
    if not header.rstrip().endswith(("|", "|-", "|+")):
        raise faulty(
            source.place(at), "this passage is not a text block", "write it as `text: |` and a block"
        )
    _replace(script, source, at, header, print_tab(fragment).rstrip("\n").split("\n"))


def write_marks(
    script: Path, clip: str, fragment: Fragment, marks: Iterable[tuple[Fraction, Fraction, float]]
) -> bool:
    """Put marks (beat, clip second, confidence) into a clip of a script, doubtful ones with a comment.

    They take the place of marks and of a tempo; returns whether there was one. Raises Faulty.
    """
    source = read_yaml(script, patient=True)
    rows = [_mark_row(fragment, *mark) for mark in marks]
    _put(script, with_key(source, ("clips", clip, "marks"), rows, instead_of="tempo"))
    return "tempo" in source.data["clips"][clip]


def moment_in_words(fragment: Fragment, beat: Fraction) -> str:
    """A beat as scripts write it: bar:count, with the part of a count as a fraction."""
    bar = fragment.measure_at(beat)
    measure = fragment.measures[bar]
    missing = measure.beats * measure.count - measure.length if bar == 0 else Fraction(0)
    count = (beat - measure.start + max(missing, Fraction(0))) / measure.count
    whole, rest = divmod(count, 1)
    first = 0 if fragment.measures[0].pickup else 1
    return f"{bar + first}:{whole + 1}" + (f"+{rest}" if rest else "")


def _mark_row(fragment: Fragment, beat: Fraction, second: Fraction, confidence: float) -> tuple[str, str]:
    doubt = f"  # doubtful ({confidence:.2f}): listen again" if confidence < DOUBTFUL else ""
    return f"{moment_in_words(fragment, beat)}: {float(second):.6f}", doubt


def _line(source: Source, at: Sequence[Step]) -> str:
    return source.text.split("\n")[source.place(at, key=True).line - 1]


def _replace(script: Path, source: Source, at: tuple[Step, ...], header: str, rows: Iterable[str]) -> None:
    """Replace the key's line by `header` and what is nested under it by `rows`."""
    place = source.place(at, key=True)
    lines = source.text.split("\n")
    indent = place.column - 1
    end = nested_end(lines, place.line, indent)
    inner = " " * (indent + 2)
    made = [f"{inner}{row}".rstrip() for row in rows]
    text = "\n".join([*lines[: place.line - 1], header, *made, *lines[end:]])
    if without(_data(text, source.file), at) != without(source.data, at):
        wrong = "nothing can be put here without harm to what stands beside it"
        raise faulty(
            source.place(at), wrong, f"put `{at[-1]}:` on a line of its own, its value indented below it"
        )
    _put(script, text)


def _data(text: str, file: str) -> Any:
    try:
        return parse_yaml(text, file).data
    except Faulty:
        return None


def _put(script: Path, text: str) -> None:
    """Write a script anew; its byte order mark, line ends, permissions and a link to it stay as they were."""
    file = script.resolve()
    before = file.read_bytes()
    ends = "\r\n" if before.count(b"\r\n") * 2 > before.count(b"\n") else "\n"
    mark = BOM_UTF8 if before.startswith(BOM_UTF8) else b""
    with placed(file) as part:
        part.write_bytes(mark + text.replace("\n", ends).encode("utf-8"))
        copymode(file, part)
