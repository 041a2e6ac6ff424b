"""Puts one key into a mapping of a YAML text, in the way that mapping is written; all else stays as it is."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from pipeline.errors import Faulty, faulty
from pipeline.source import Source, Step, parse_yaml

At = tuple[Step, ...]


def with_key(source: Source, at: At, rows: Sequence[tuple[str, str]], instead_of: str) -> str:
    """The text with a mapping under the key at the end of `at`: a row an entry, each with its comment.

    What stood under the key gives way, and so does its neighbour `instead_of`. A mapping in brackets gets one
    in brackets. Raises Faulty where that would change anything else.
    """
    owner, key = at[:-1], str(at[-1])
    keys = list(at_path(source.data, owner))
    put = _in_brackets if source.in_brackets(owner) else _in_lines
    if key not in keys and instead_of in keys:
        text = put(source, owner, instead_of, key, rows)
    else:
        text = put(source, owner, key, key, rows)
        if instead_of in keys:
            text = _without_key(parse_yaml(text, source.file, patient=True), (*owner, instead_of))
    _refuse_harm(source, text, at, {row.partition(": ")[0] for row, _ in rows}, instead_of)
    return text


def nested_end(lines: Sequence[str], line: int, indent: int) -> int:
    """The number of the first line after `line` that is not nested under a key indented so far."""
    end = line
    while end < len(lines) and _deeper(lines[end], indent):
        end += 1
    while end > line and not lines[end - 1].strip():
        end -= 1  # empty lines belong to what follows
    return end


def _in_lines(source: Source, owner: At, old: str, key: str, rows: Sequence[tuple[str, str]]) -> str:
    lines = source.text.split("\n")
    keys = list(at_path(source.data, owner))
    place = source.place((*owner, keys[-1]), key=True)
    indent = place.column - 1
    made = [f"{' ' * (indent + 2)}{row}{comment}" for row, comment in rows]
    if old not in keys:
        end = nested_end(lines, place.line, indent)
        return "\n".join([*lines[:end], f"{' ' * indent}{key}:", *made, *lines[end:]])
    first = source.place((*owner, old), key=True).line - 1
    last = nested_end(lines, own_lines(source, (*owner, old)), indent)
    head = [f"{lines[first][:indent]}{key}:"] if old != key else [_emptied(source, (*owner, key))]
    return "\n".join([*lines[:first], *head, *made, *lines[last:]])


def own_lines(source: Source, at: At) -> int:
    """The number of the line after a key's own, or after the bracket that closes its value."""
    line = source.place(at, key=True).line
    return max(line, source.text.count("\n", 0, source.extent(at)[1]) + 1) if source.in_brackets(at) else line


def _emptied(source: Source, at: At) -> str:
    """A key's line without its value, its remark kept."""
    line = source.text.split("\n")[source.place(at, key=True).line - 1]
    value = at_path(source.data, at)
    if isinstance(value, dict) and value and not source.in_brackets(at):
        return line
    start, end = source.extent(at)
    rest = source.text[end:].split("\n")[0].rstrip()
    begin = source.offset(source.place(at, key=True).line - 1, 0)
    return source.text[begin:start].rstrip() + (f"  {rest.strip()}" if rest else "")


def _in_brackets(source: Source, owner: At, old: str, key: str, rows: Sequence[tuple[str, str]]) -> str:
    text, place = source.text, source.place((*owner,))
    line = text.split("\n")[place.line - 1]
    indent = len(line) - len(line.lstrip(" "))
    made = "".join(f"{' ' * (indent + 4)}{row},{comment}\n" for row, comment in rows)
    value = f"{{\n{made}{' ' * (indent + 2)}}}"
    if old not in at_path(source.data, owner):
        end = source.extent(owner)[1] - 1
        before = text[:end].rstrip()
        comma = "" if before.endswith((",", "{")) else ","
        return f"{before}{comma} {key}: {value}{text[end:]}"
    start, end = source.extent((*owner, old))
    if old != key:
        named = source.place((*owner, old), key=True)
        start = source.offset(named.line - 1, named.column - 1)
        value = f"{key}: {value}"
    return text[:start] + " " * text[:start].endswith(":") + value + text[end:]


def _without_key(source: Source, at: At) -> str:
    """The text without a key and its value."""
    place, text = source.place(at, key=True), source.text
    if not source.in_brackets(at[:-1]):
        lines = text.split("\n")
        return "\n".join(lines[: place.line - 1] + lines[nested_end(lines, place.line, place.column - 1) :])
    keys = list(at_path(source.data, at[:-1]))
    for before, after in pairwise(keys):
        if before == at[-1]:
            following = source.place((*at[:-1], after), key=True)
            start = source.offset(place.line - 1, place.column - 1)
            return text[:start] + text[source.offset(following.line - 1, following.column - 1) :]
    return text[: source.extent((*at[:-1], keys[-2]))[1]] + text[source.extent(at)[1] :]


def _refuse_harm(source: Source, text: str, at: At, rows: set[str], instead_of: str) -> None:
    """Raises Faulty where a changed text says anything else than it should."""
    try:
        data = parse_yaml(text, source.file, patient=True).data
        found = set(at_path(data, at))
    except (Faulty, KeyError, TypeError):
        data, found = None, set()
    ignored = (at, (*at[:-1], instead_of))
    if found == rows and without(data, *ignored) == without(source.data, *ignored):
        return
    wrong = f"`{at[-1]}` cannot be written here without harm to what stands beside it"
    remedy = f"write {at[-2]!r} with a key a line and without aliases"
    raise faulty(source.place(at), wrong, remedy)


def without(data: Any, *paths: At) -> Any:
    """The same data with nothing at some paths."""
    for at in paths:
        data = _left(data, at)
    return data


def _left(data: Any, at: At) -> Any:
    if not isinstance(data, dict) or at[0] not in data:
        return data
    inner = {} if len(at) == 1 else {at[0]: _left(data[at[0]], at[1:])}
    return {key: value for key, value in data.items() if key != at[0]} | inner


def at_path(data: Any, at: At) -> Any:
    """The value at a path."""
    for step in at:
        data = data[step]
    return data


def _deeper(line: str, indent: int) -> bool:
    return not line.strip() or len(line) - len(line.lstrip(" ")) > indent
