"""Writes a finding back into a script: the one block that it concerns, every other byte as it was.

Only on request, and whole or not at all.
"""

from codecs import BOM_UTF8
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from shutil import copymode

from pipeline.errors import faulty
from pipeline.files.place import placed
from pipeline.lesson.material import FragmentKeys
from pipeline.lesson.splice import At, with_key, without
from pipeline.music.fragment import Fragment
from pipeline.music.tabedit import Row, edited
from pipeline.source import Source, parse_yaml, read_yaml

DOUBTFUL = 0.5
"""A mark under this confidence gets a comment that asks to look at it."""


def write_fragment(script: Path, name: str, fragment: Fragment) -> None:
    """Put what changed of a fragment into its text in a script: its cells and rows, all else as it was.

    Raises Faulty where it is no text block there.
    """
    source = read_yaml(script, patient=True)
    at: At = ("fragments", name, "text")
    keys = source.data["fragments"][name]
    if not source.in_block(at):
        raise faulty(
            source.place(at), "this passage is not a text block", "write it as `text: |` and a block"
        )
    meter = FragmentKeys.model_validate({"text": keys["text"], "meter": keys.get("meter", "4/4")}).meter
    rows = edited(keys["text"], fragment, meter)
    changed = _with_rows(source, at, rows)
    if without(parse_yaml(changed, source.file, patient=True).data, at) != without(source.data, at):
        raise faulty(
            source.place(at), "the passage cannot be written here", "write `text: |` on its own line"
        )
    _put(script, changed)


def _with_rows(source: Source, at: At, rows: list[Row]) -> str:
    """The script with these rows in a text block, those of the old text on their lines."""
    lines, inside = source.text.split("\n"), source.inside(at)
    first, old = inside(0, 0).line - 1, source.data["fragments"][at[1]]["text"].rstrip("\n").split("\n")
    indent = " " * (inside(0, 0).column - 1)
    made = []
    for row in rows:
        same = row.old is not None and row.old < len(old) and row.text == old[row.old]
        made.append(lines[first + row.old] if same and row.old is not None else (indent + row.text).rstrip())
    while made and not made[-1].strip():
        made.pop()
    return "\n".join([*lines[:first], *made, *lines[first + len(old) :]])


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


def _put(script: Path, text: str) -> None:
    """Write a script anew; its byte order mark, line ends, permissions and a link to it stay as they were."""
    file = script.resolve()
    before = file.read_bytes()
    ends = "\r\n" if before.count(b"\r\n") * 2 > before.count(b"\n") else "\n"
    mark = BOM_UTF8 if before.startswith(BOM_UTF8) else b""
    with placed(file) as part:
        part.write_bytes(mark + text.replace("\n", ends).encode("utf-8"))
        copymode(file, part)
