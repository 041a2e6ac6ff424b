"""A target: one output, as plain data, with the key that says whether it is out of date.

The key is the digest of everything the output depends on: its parts (script part, fragment, audio bytes,
look), the targets it is made from, the code and the tools. Equal keys mean equal bytes.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import metadata
from pathlib import Path
from typing import Any

from pipeline.lesson.digest import digest

PACKAGE = Path(__file__).resolve().parent.parent
TOOLS = (
    "av",
    "blend2d-python",
    "font-source-sans-pro",
    "fonttools",
    "imageio-ffmpeg",
    "moviepy",
    "numba",
    "numpy",
    "opentimelineio",
    "pillow",
    "scipy",
    "svgwrite",
    "typst",
    "verovio",
)


@dataclass(frozen=True)
class Target:
    """One output.

    `kind` names the function that makes it (see `jobs`), `payload` is what that function gets, `parts` is
    plain JSON-like data of all it depends on, `needs` are ids of targets whose files it reads, and `path`
    is where it goes below the build folder; a target without a path stays in the store, or leaves it
    when `passing` once what needs it stands. `cost` is a guess at the work, for the estimate.
    """

    id: str
    kind: str
    path: str | None
    parts: Any = field(hash=False, compare=False)
    payload: Any = field(hash=False, compare=False, repr=False, default=None)
    needs: tuple[str, ...] = ()
    cost: float = 1.0
    passing: bool = False


def keys(targets: Iterable[Target]) -> dict[str, str]:
    """The key of every target; needs come before what needs them."""
    found: dict[str, str] = {}
    for target in targets:
        below = [found[need] for need in target.needs]
        found[target.id] = digest([target.kind, target.path, target.parts, below, making_digest()])
    return found


@lru_cache(maxsize=1)
def making_digest() -> str:
    """A digest of this program's code, its templates and the versions of the tools it uses."""
    from pipeline.drawing.templates import templates_folder

    running = hashlib.sha256()
    for folder, pattern in ((PACKAGE, "*.py"), (templates_folder(), "*")):
        for file in sorted(path for path in folder.rglob(pattern) if path.is_file()):
            running.update(file.relative_to(folder).as_posix().encode())
            running.update(file.read_bytes())
    for tool in TOOLS:
        running.update(f"{tool}={metadata.version(tool)}".encode())
    return running.hexdigest()
