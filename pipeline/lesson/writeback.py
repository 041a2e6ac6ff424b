"""Writes a finding back into a script: the one block that it concerns, every other byte as it was.

Only on request, and whole or not at all.
"""

from codecs import BOM_UTF8
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from shutil import copymode
from typing import Any

from pipeline.errors import faulty
from pipeline.files.place import placed
from pipeline.lesson.listedit import edited_list
from pipeline.lesson.material import FragmentKeys
from pipeline.lesson.splice import At, with_key, without
from pipeline.music.fragment import Fragment
from pipeline.music.tabedit import edited
from pipeline.source import Source, parse_yaml, read_yaml
from pipeline.textfile import read_text

DOUBTFUL = 0.5
"""A mark under this confidence gets a comment that asks to look at it."""


def write_fragment(script: Path, name: str, fragment: Fragment) -> Path:
    """Put what changed of a fragment where a script has it: its cells, rows or values, all else as it was.

    Returns the file that was written: the script, or the text or list that it names. Raises Faulty where the
    passage is of another form.
    """
    source = read_yaml(script, patient=True)
    at: At = ("fragments", name)
    form = FragmentKeys.model_validate(_form(source.data["fragments"][name]))
    if form.text is not None:
        _put(script, _with_text(source, (*at, "text"), fragment, form))
    elif form.notes is not None:
        _put(script, edited_list(source, (*at, "notes"), fragment, form.meter, form.pickup))
    else:
        return _write_file(script.parent / str(form.file), source, (*at, "file"), fragment, form)
    return script


def _form(keys: dict[str, Any]) -> dict[str, Any]:
    """Of a fragment's keys those that say how it is written."""
    form = {key: keys[key] for key in ("text", "notes", "file", "meter", "pickup") if key in keys}
    return form | ({"notes": tuple(form["notes"])} if "notes" in form else {})


def _write_file(path: Path, source: Source, at: At, fragment: Fragment, form: FragmentKeys) -> Path:
    if path.suffix.lower() == ".txt":
        text = read_text(path)
        _put(path, "\n".join(_rows(text, text.split("\n"), fragment, form)) + "\n" * text.endswith("\n"))
    elif path.suffix.lower() == ".yaml":
        own = read_yaml(path, patient=True)
        _put(path, edited_list(own, ("notes",), fragment, form.meter, form.pickup))
    else:
        wrong = f"{form.file} is read and never written"
        remedy = f"put what `fretscene import {path}` prints in the script instead, and do this again"
        raise faulty(source.place(at), wrong, remedy)
    return path


def _with_text(source: Source, at: At, fragment: Fragment, form: FragmentKeys) -> str:
    """The script with what changed of a fragment in a text block."""
    if not source.in_block(at):
        raise faulty(
            source.place(at), "this passage is not a text block", "write it as `text: |` and a block"
        )
    changed = _with_rows(source, at, fragment, form)
    if without(parse_yaml(changed, source.file, patient=True).data, at) != without(source.data, at):
        raise faulty(
            source.place(at), "the passage cannot be written here", "write `text: |` on its own line"
        )
    return changed


def _with_rows(source: Source, at: At, fragment: Fragment, form: FragmentKeys) -> str:
    """The script with the rows of a text block changed, those that did not on their lines."""
    lines, inside, text = source.text.split("\n"), source.inside(at), str(form.text)
    first, count = inside(0, 0).line - 1, len(text.rstrip("\n").split("\n"))
    indent = " " * (inside(0, 0).column - 1)
    made = _rows(text, lines[first : first + count], fragment, form, indent)
    return "\n".join([*lines[:first], *made, *lines[first + count :]])


def _rows(text: str, lines: list[str], fragment: Fragment, form: FragmentKeys, indent: str = "") -> list[str]:
    """The lines of a changed text, for rows that did not change those that held them."""
    old = text.rstrip("\n").split("\n")
    made = []
    for row in edited(text, fragment, form.meter):
        same = row.old is not None and row.old < len(old) and row.text == old[row.old]
        made.append(lines[row.old] if same and row.old is not None else (indent + row.text).rstrip())
    while made and not made[-1].strip():
        made.pop()
    return made


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
