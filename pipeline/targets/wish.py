"""What a build is asked for: which scripts, which outputs of them, how they are written."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

Alpha = Literal["prores", "qtrle", "png", "frames"]
ALL = ("overlays", "sound", "stills", "posters", "films", "captions", "handouts", "timeline", "credits")
"""The kinds of output, as a command names them."""
DRAFT = ("previews",)
"""What a draft makes unless it is told otherwise."""


@dataclass(frozen=True)
class Choice:
    """What of a lesson is wanted: kinds of output, and perhaps only some scenes or segments."""

    kinds: tuple[str, ...] = ALL
    scenes: tuple[str, ...] = ()
    segments: tuple[str, ...] = ()
    alpha: Alpha = "prores"

    @property
    def films(self) -> bool:
        """Whether frames of film are wanted."""
        return bool({"overlays", "previews", "films"} & set(self.kinds))

    @property
    def part(self) -> bool:
        """Whether only a part of the lesson is wanted."""
        return bool(self.scenes or self.segments)


@dataclass(frozen=True)
class Wish:
    """One build. `jobs` is how many workers there are, 0 for one a core."""

    scripts: tuple[Path, ...]
    folder: Path
    choice: Choice = field(default_factory=Choice)
    jobs: int = 0
    draft: bool = False
    verify: bool = False
    allow_outside: bool = False
    book: str = ""
    """The title of a course book to make of all handouts together."""
