"""YAML files, read safely into plain data, and where each value stands in the file.

This is YAML 1.2's JSON-like core and nothing more: plain `true`, `false`, `null`, integers and decimal
numbers mean what they mean in JSON, and everything else is a string (`1:30`, `010`, `no`, `2024-01-01`, `=`).
Keys are strings. Tags, several documents in a file, control characters and anything over the limits below
are faults. The parser's events are read in a loop, so that no nesting can exhaust the stack.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import accumulate
from pathlib import Path
from typing import Any

import yaml

from pipeline.errors import Fault, Faulty, Place, faulty
from pipeline.textfile import HIDDEN, read_text, refuse_controls

MOST_VALUES = 1_000_000
"""Values in the file with every alias written out."""
DEEPEST = 64
MOST_DIGITS = 30

Step = str | int
Locate = Callable[[int, int], Place]
"""From a row and column of a text (both from 0) to the place in the file that holds it."""

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NUMBER = re.compile(r"-?(?:0|[1-9]\d*)(\.\d+)?([eE][+-]?\d+)?", re.ASCII)
_WORDS = {"true": True, "false": False, "null": None, "": None}
_WORDING = {
    "mapping values are not allowed in this context": (
        "a colon stands where no key can be",
        "put a text that holds ': ' in quotes, or check the indentation",
    ),
    "block sequence entries are not allowed in this context": (
        "a list begins on the line of its key",
        "put each '- ' on a line of its own under the key",
    ),
    "did not find expected key": ("the indentation does not fit", "line this up with the keys above"),
    "did not find expected '-' indicator": (
        "the indentation does not fit",
        "line this up with the '- ' above, or indent it further",
    ),
    "found unexpected end of stream": ("a quote is never closed", "close the quote on its line"),
    "found unknown escape character": (
        "a backslash in double quotes begins no known escape",
        "write the text in single quotes",
    ),
    "found a tab character where an indentation space is expected": (
        "a tab is used for indentation",
        "use spaces",
    ),
    "did not find expected ',' or ']'": ("a '[' list is not closed", "close it with ']'"),
    "did not find expected ',' or '}'": ("a '{' mapping is not closed", "close it with '}'"),
    "exceeded maximum nesting depth": (
        "the values are nested too deeply",
        f"nest at most {DEEPEST} levels",
    ),
}


@dataclass(slots=True, eq=False)
class _Value:
    """One value as it stands in the file. Lines and columns count from 0, as the parser does."""

    data: Any
    line: int
    column: int
    style: str | None = None
    anchor: str | None = None
    children: "dict[str, _Entry] | list[_Value] | tuple[()]" = ()
    end: tuple[int, int] = (0, 0)
    """The line and column after it; of what is indented and not in brackets the parser looks past it."""
    size: int = 1
    height: int = 0
    waiting: tuple[str, int, int] | None = None
    """The key that was read and has no value yet."""
    is_open: bool = False


_Entry = tuple[_Value, int, int]
"""A value of a mapping, and the line and column of its key."""


@dataclass(frozen=True, eq=False)
class Source:
    """A file that was read: its plain data, and the place of every key and value."""

    file: str
    text: str = field(repr=False)
    data: Any
    _root: _Value = field(repr=False)
    faults: tuple[Fault, ...] = ()
    """What is wrong and did not stop the reading: keys given twice, tags, numbers out of reach."""

    def place(self, path: Sequence[Step] = (), key: bool = False) -> Place:
        """Where a value (or, with `key`, the key before it) stands; the nearest one around it if absent."""
        value, where = self._root, (self._root.line, self._root.column)
        for step in path:
            child = _child(value, step)
            if child is None:
                break
            value = child[0]
            where = child[1:] if key else (value.line, value.column)
        return Place(self.file, where[0] + 1, where[1] + 1)

    def inside(self, path: Sequence[Step]) -> Locate:
        """A function from row and column of a string value (from 0) to the place in the file."""
        value = self._value(path)
        return _literal(self, value) if value.style == "|" else _inline(self, value)

    def in_block(self, path: Sequence[Step]) -> bool:
        """Whether the value at a path is a text whose lines stand under a `|`."""
        return self._value(path).style == "|"

    def in_brackets(self, path: Sequence[Step]) -> bool:
        """Whether the value at a path is a mapping or a list in brackets."""
        return self._value(path).style in ("{", "[")

    def extent(self, path: Sequence[Step]) -> tuple[int, int]:
        """Where in the text a value begins and ends that is in brackets, or a word on its key's line."""
        value = self._value(path)
        return self.offset(value.line, value.column), self.offset(*value.end)

    def offset(self, line: int, column: int) -> int:
        """A line and column (from 0) as a number of characters from the text's start."""
        return self._starts[line] + column

    @cached_property
    def _starts(self) -> list[int]:
        """Where each line of the text begins."""
        return [0, *accumulate(len(row) + 1 for row in self.text.split("\n"))]

    def _value(self, path: Sequence[Step]) -> _Value:
        value = self._root
        for step in path:
            child = _child(value, step)
            if child is None:
                break
            value = child[0]
        return value


def _child(value: _Value, step: Step) -> _Entry | None:
    if isinstance(value.children, dict):
        return value.children.get(str(step))
    if isinstance(step, int) and 0 <= step < len(value.children):
        child = value.children[step]
        return child, child.line, child.column
    return None


def _literal(source: Source, value: _Value) -> Locate:
    """Rows of a `|` block stand one a line under its header, all indented alike."""
    lines = source.text.split("\n")
    rows = value.data.split("\n")
    indent = next(
        (len(lines[value.line + 1 + n]) - len(row) for n, row in enumerate(rows) if row.strip()),
        0,
    )

    def locate(row: int, column: int) -> Place:
        return Place(source.file, value.line + 2 + row, indent + column + 1)

    return locate


def _inline(source: Source, value: _Value) -> Locate:
    """Plain and quoted texts: exact on their first line, which is where nearly all of them end."""
    quote = 1 if value.style in ("'", '"') else 0

    def locate(row: int, column: int) -> Place:
        if row:
            return Place(source.file, value.line + row + 1, 1)
        return Place(source.file, value.line + 1, value.column + quote + column + 1)

    return locate


def read_yaml(path: Path, name: str | None = None, patient: bool = False) -> Source:
    """Read a file. `name` is how faults call it (the path as given by default). Raises Faulty."""
    return parse_yaml(read_text(path, name), name or str(path), patient)


def parse_yaml(text: str, file: str, patient: bool = False) -> Source:
    """Read text as the contents of `file`. Raises Faulty with every fault that was found.

    With `patient` those that do not stop the reading stay in the source, for who wants to find more.
    """
    refuse_controls(text, file)
    builder = _Builder(file)
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        raise Faulty([*builder.faults, _syntax_fault(error, text, file)]) from None
    if builder.faults and not patient:
        raise Faulty(builder.faults)
    if builder.root is None:
        raise faulty(Place(file), "the file is empty", "write at least one key")
    return Source(file, text, builder.root.data, builder.root, tuple(builder.faults))


def _syntax_fault(error: yaml.MarkedYAMLError, text: str, file: str) -> Fault:
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line, mark.column) if mark else (0, 0)
    wrong, remedy = _WORDING.get(
        error.problem or "", (f"this is no YAML: {error.problem}", "check the syntax")
    )
    if error.problem == "found character that cannot start any token":
        wrong, remedy = _strange_character(text, line, column)
    if wrong == "a quote is never closed" and error.context_mark:
        line, column = error.context_mark.line, error.context_mark.column
    return Fault(Place(file, line + 1, column + 1), wrong, remedy)


def _strange_character(text: str, line: int, column: int) -> tuple[str, str]:
    character = text.split("\n")[line][column : column + 1]
    if character == "\t":
        return "a tab is used for indentation", "use spaces"
    return f"a text cannot begin with {character!r}", "put it in quotes"


class _Builder:
    """Builds values from the parser's events, and gathers the faults that do not stop the reading."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.root: _Value | None = None
        self.faults: list[Fault] = []
        self._stack: list[_Value] = []
        self._anchors: dict[str, _Value] = {}
        self._documents = 0

    def take(self, event: Any) -> None:
        """Take the next event in."""
        _TAKERS[type(event)](self, event)

    def ignore(self, event: Any) -> None:
        """Ends of documents and streams say nothing new."""

    def document(self, event: Any) -> None:
        self._documents += 1
        if self._documents > 1:
            raise self._stop(event, "a second document begins here", "keep one document a file (no '---')")

    def scalar(self, event: Any) -> None:
        mark = event.start_mark
        if self._wants_key():
            self._key(event)
            return
        data = self._plain(event) if event.style is None or event.style == "" else event.value
        style = event.style or None
        self._refuse_tag(event)
        if style == '"' and (hidden := HIDDEN.search(event.value)):
            self._fault(
                event, f"an invisible character (U+{ord(hidden.group()):04X}) is written", "remove it"
            )
        end = (event.end_mark.line, event.end_mark.column)
        self._add(_Value(data, mark.line, mark.column, style, event.anchor, end=end), event)

    def mapping(self, event: Any) -> None:
        self._open(event, {}, {})

    def sequence(self, event: Any) -> None:
        self._open(event, [], [])

    def close(self, event: Any) -> None:
        value = self._stack.pop()
        value.is_open, value.end = False, (event.end_mark.line, event.end_mark.column)
        if self._stack:
            self._count(self._stack[-1], value, event)

    def alias(self, event: Any) -> None:
        value = self._anchors.get(event.anchor)
        if value is None:
            raise self._stop(event, f"no anchor is called {event.anchor!r}", "write &name before *name")
        if value.is_open:
            raise self._stop(event, f"the alias {event.anchor!r} stands inside itself", "write the value out")
        if self._wants_key():
            raise self._stop(event, "a key cannot be an alias", "write the key out")
        self._attach(value)
        self._count(self._stack[-1], value, event)

    def _open(self, event: Any, data: Any, children: Any) -> None:
        if self._wants_key():
            raise self._stop(event, "a key must be a plain word", "write a text before the colon")
        self._refuse_tag(event)
        mark = event.start_mark
        style = ("{" if isinstance(data, dict) else "[") if event.flow_style else None
        value = _Value(data, mark.line, mark.column, style, event.anchor, children, is_open=True)
        self._attach(value)
        self._stack.append(value)
        if len(self._stack) > DEEPEST:
            raise self._stop(event, "the values are nested too deeply", f"nest at most {DEEPEST} levels")

    def _add(self, value: _Value, event: Any) -> None:
        self._attach(value)
        if self._stack:
            self._count(self._stack[-1], value, event)

    def _attach(self, value: _Value) -> None:
        if value.anchor:
            self._anchors[value.anchor] = value
        if not self._stack:
            self.root = value
            return
        parent = self._stack[-1]
        if isinstance(parent.children, list):
            parent.children.append(value)
            parent.data.append(value.data)
        elif isinstance(parent.children, dict) and parent.waiting is not None:
            name, line, column = parent.waiting
            parent.waiting = None
            parent.children[name] = (value, line, column)
            parent.data[name] = value.data

    def _count(self, parent: _Value, value: _Value, event: Any) -> None:
        parent.size += value.size
        parent.height = max(parent.height, value.height + 1)
        if parent.size > MOST_VALUES:
            raise self._stop(event, "the file unfolds to too many values", f"keep it under {MOST_VALUES:,}")
        if parent.height > DEEPEST:
            raise self._stop(event, "the values are nested too deeply", f"nest at most {DEEPEST} levels")

    def _wants_key(self) -> bool:
        if not self._stack:
            return False
        top = self._stack[-1]
        return isinstance(top.children, dict) and top.waiting is None

    def _key(self, event: Any) -> None:
        parent, mark = self._stack[-1], event.start_mark
        before = _child(parent, event.value)
        if before is not None:
            wrong = f"the key {event.value!r} is given twice, first in line {before[1] + 1}"
            self._fault(event, wrong, f"keep one, in line {before[1] + 1} or in line {mark.line + 1}")
        parent.waiting = (event.value, mark.line, mark.column)

    def _plain(self, event: Any) -> Any:
        text = event.value
        if text in _WORDS:
            return _WORDS[text]
        match = _NUMBER.fullmatch(text)
        if match is None:
            return text
        if len(text) > MOST_DIGITS:
            self._fault(event, "the number is too long", f"write at most {MOST_DIGITS} digits")
            return 0
        return self._number(event, match.group(1) or match.group(2))

    def _number(self, event: Any, decimal: str | None) -> int | float:
        if not decimal:
            return int(event.value)
        number = float(event.value)
        if number in (float("inf"), float("-inf")):
            self._fault(event, "the number is too large", "write one that a computer can count to")
        return number

    def _refuse_tag(self, event: Any) -> None:
        if event.tag is not None:
            self._fault(event, f"the tag {event.tag!r} means nothing here", "remove it")

    def _fault(self, event: Any, wrong: str, remedy: str) -> None:
        mark = event.start_mark
        self.faults.append(Fault(Place(self.file, mark.line + 1, mark.column + 1), wrong, remedy))

    def _stop(self, event: Any, wrong: str, remedy: str) -> Faulty:
        """The faults so far with one that ends the reading."""
        self._fault(event, wrong, remedy)
        return Faulty(self.faults)


_TAKERS: dict[type, Callable[[_Builder, Any], None]] = {
    yaml.StreamStartEvent: _Builder.ignore,
    yaml.StreamEndEvent: _Builder.ignore,
    yaml.DocumentStartEvent: _Builder.document,
    yaml.DocumentEndEvent: _Builder.ignore,
    yaml.ScalarEvent: _Builder.scalar,
    yaml.MappingStartEvent: _Builder.mapping,
    yaml.MappingEndEvent: _Builder.close,
    yaml.SequenceStartEvent: _Builder.sequence,
    yaml.SequenceEndEvent: _Builder.close,
    yaml.AliasEvent: _Builder.alias,
}
