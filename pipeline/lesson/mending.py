"""Goes on where a script's form is wrong: faulty values are left out or stood in for, the rest is read.

So a misspelt key does not hide a missing file. List entries keep their numbers, so that every place stays
right. What was left out is remembered as gaps, and nothing that follows from a gap is told as a fault.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, ValidationError

from pipeline.errors import Fault, did_you_mean
from pipeline.lesson.translate import Finding, faults_of, findings_of
from pipeline.source import Source, Step

Model = TypeVar("Model", bound=BaseModel)

At = tuple[Step, ...]
Gaps = frozenset[At]
MOST_ROUNDS = 6
"""A value that is left out may turn out to be needed, and be stood in for in the next round."""


@dataclass(frozen=True)
class Mended(Generic[Model]):
    """What could be read (None where nothing could), what is wrong, and the paths that hold nothing real."""

    model: Model | None
    faults: tuple[Fault, ...] = ()
    gaps: Gaps = frozenset()


def read_mended(source: Source, model: type[Model]) -> Mended[Model]:
    """Read a source into a model, going on past every fault."""
    data, faults, gaps = _thawed(source.data), list[Fault](), set[At]()
    for _ in range(MOST_ROUNDS):
        try:
            return Mended(model.model_validate(_frozen(data)), tuple(faults), frozenset(gaps))
        except ValidationError as error:
            findings = findings_of(error, data, model)
            fresh = [finding for finding in findings if not touched(finding[1], gaps)]
            faults += faults_of(fresh, source)
            for finding in findings:
                _mend(data, finding, gaps)
    return Mended(None, tuple(faults), frozenset(gaps))


def touched(path: At, gaps: Iterable[At]) -> bool:
    """Whether a path lies in a gap, or holds one as its own key or entry."""
    return any(path[: len(gap)] == gap or gap[:-1] == path for gap in gaps)


def _mend(data: Any, finding: Finding, gaps: set[At]) -> None:
    found, path, known = finding
    if found["type"] == "extra_forbidden":
        _drop(data, path)
        near = did_you_mean(str(path[-1]), known)
        gaps.update((*path[:-1], key) for key in known if near == f"did you mean {key!r}?")
    elif found["type"] == "missing":
        gaps.add(path)
        _stand_in(data, path)
    elif found["loc"] and found["loc"][-1] == "[key]" and path[-2:-1] != ("marks",):
        _drop(data, path)
    elif path:
        _replace(data, path, gaps)


def _replace(data: Any, path: At, gaps: set[At]) -> None:
    """Stand in for an entry of a list or of names; leave out anything else, a plain list as a whole."""
    owner = next((step for step in reversed(path[:-1]) if isinstance(step, str)), None)
    entry = len(path) > 1 and path[-2] == owner and owner in ENTRIES
    if not entry and isinstance(path[-1], int):
        _replace(data, path[:-1], gaps)
        return
    gaps.add(path[:-1] if owner == "marks" else path)
    if entry:
        _put(data, path, ENTRIES[str(owner)](path))
    else:
        _drop(data, path)


def _stand_in(data: Any, path: At) -> None:
    made = NEEDED.get(str(path[-1]))
    if made is not None:
        _put(data, path, made(path))


def _inside(data: Any, path: At) -> Any:
    """What holds the last step of a path; None where the way there is gone."""
    for step in path[:-1]:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _drop(data: Any, path: At) -> None:
    holder = _inside(data, path)
    if isinstance(holder, dict):
        holder.pop(path[-1], None)


def _put(data: Any, path: At, value: Any) -> None:
    holder, step = _inside(data, path), path[-1]
    if isinstance(holder, dict) or (isinstance(step, int) and step in range(len(holder or ()))):
        holder[step] = value


def _view(_: At) -> Any:
    return {"show": "words", "text": "?"}


def _name(path: At) -> str:
    return "-".join(("gap", *(str(step) for step in path if isinstance(step, int))))


def _scene(path: At) -> Any:
    return {"id": _name(path), "duration": 1, "views": [_view(path)]}


def _segment(path: At) -> Any:
    return {"id": _name(path), "title": "?", "scenes": [_scene(path)]}


def _part(_: At) -> Any:
    return {"part": "credits"}


def _text(_: At) -> Any:
    return "?"


Maker = Callable[[At], Any]
ENTRIES: dict[str, Maker] = {
    "segments": _segment,
    "scenes": _scene,
    "views": _view,
    "parts": _part,
    "holds": lambda _: {"at": 0, "lasting": 1},
    "zooms": lambda _: {"into": "?", "at": 0},
    "spoken": lambda _: {"text": "?"},
    "clips": lambda _: {"file": "?", "rights": "?"},
    "fragments": lambda _: {"text": "?"},
}
"""What stands in for a faulty entry, by the key of its list or mapping."""
NEEDED: dict[str, Maker] = {
    **dict.fromkeys(("title", "teacher", "rights", "text", "file", "into", "tonic"), _text),
    **dict.fromkeys(("id", "fragment", "scene"), _name),
    "at": lambda _: 0,
    "lasting": lambda _: 1,
    "segments": lambda path: [_segment(path)],
    "scenes": lambda path: [_scene(path)],
    "views": lambda path: [_view(path)],
    "parts": lambda path: [_part(path)],
}
"""What stands in for a key that is needed and missing."""


def _thawed(data: Any) -> Any:
    """A copy in which nothing is shared, to be mended."""
    if isinstance(data, dict):
        return {key: _thawed(value) for key, value in data.items()}
    return [_thawed(value) for value in data] if isinstance(data, list) else data


def _frozen(data: Any) -> Any:
    """Plain data with tuples for lists, as the strict types want them."""
    if isinstance(data, dict):
        return {key: _frozen(value) for key, value in data.items()}
    return tuple(_frozen(value) for value in data) if isinstance(data, list) else data
