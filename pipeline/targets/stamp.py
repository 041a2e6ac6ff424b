"""The short way to know that nothing is to be done: a stamp of a finished build.

It holds the sizes and times of everything that the build read and wrote. Where all of them are as they were,
and the code is, a script of ten thousand scenes need not even be read. Times are compared for equality only.
"""

import json
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from pipeline.lesson.digest import digest
from pipeline.targets.target import making_digest
from pipeline.targets.wish import Wish

MOST_FILES = 20_000
"""A lesson's folder with more files than this is not stamped."""
Facts = dict[str, list[int]]


def unchanged(wish: Wish) -> int | None:
    """How many outputs stand as an equal build left them; None where that is not known for sure."""
    if wish.verify or wish.allow_outside:
        return None
    try:
        stamp = json.loads(_file(wish).read_text("utf-8"))
        outputs = {str(wish.folder / name): fact for name, fact in stamp["outputs"].items()}
        same = stamp["inputs"] == _inputs(wish) and outputs == _facts(map(Path, outputs))
    except (OSError, ValueError, KeyError, AttributeError, TypeError):
        return None
    return len(outputs) if same else None


def write_stamp(wish: Wish, outputs: Iterable[Path], inputs: Facts | None) -> None:
    """Remember a build in which everything stands. `inputs` are the facts from before it began."""
    if inputs is None or wish.allow_outside or inputs != _inputs(wish):
        return
    facts = {str(path.relative_to(wish.folder)): _fact(path) for path in outputs}
    _file(wish).parent.mkdir(parents=True, exist_ok=True)
    draft = _file(wish).with_suffix(f".{os.getpid()}.part")
    draft.write_text(json.dumps({"inputs": inputs, "outputs": facts}), "utf-8")
    os.replace(draft, _file(wish))


def inputs_of(wish: Wish) -> Facts | None:
    """What the build may read, as it is now; None where there is too much of it."""
    try:
        return _inputs(wish)
    except (OSError, ValueError):
        return None


def _file(wish: Wish) -> Path:
    asked: Any = [
        [str(script.resolve()) for script in wish.scripts],
        [wish.choice.kinds, wish.choice.scenes, wish.choice.segments, wish.choice.alpha],
        [wish.draft, wish.book],
        making_digest(),
    ]
    return wish.folder / ".store" / "stamps" / f"{digest(asked)}.json"


def _inputs(wish: Wish) -> Facts:
    """Size and time of every file in the folders of the scripts, the build folder left out."""
    build = wish.folder.resolve()
    folders = {script.resolve().parent for script in wish.scripts}
    files: list[Path] = []
    for folder in sorted(folders):
        files += _within(folder, build)
        if len(files) > MOST_FILES:
            raise ValueError("too many files to watch")
    return _facts(files)


def _within(folder: Path, build: Path) -> Iterator[Path]:
    for place, inner, names in os.walk(folder):
        inner[:] = [name for name in inner if Path(place, name) != build and not name.startswith(".")]
        yield from (Path(place, name) for name in names)


def _facts(files: Iterable[Path]) -> Facts:
    return {str(file): _fact(file) for file in files}


def _fact(file: Path) -> list[int]:
    facts = file.stat()
    return [facts.st_size, facts.st_mtime_ns]
