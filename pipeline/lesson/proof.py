"""Faults as they are gathered from a script, and the files that it may name."""

from collections.abc import Iterable
from pathlib import Path

from pipeline.errors import Fault, Faulty, did_you_mean
from pipeline.lesson.script import Script
from pipeline.source import Step

At = tuple[Step, ...]
"""Where in the script's data something stands."""


class Proof:
    """Gathers every fault of a script with its place."""

    def __init__(self, script: Script) -> None:
        self.script = script
        self.faults: list[Fault] = []

    def add(self, at: At, wrong: str, remedy: str) -> None:
        """Note a fault about the value at a path."""
        self.faults.append(Fault(self.script.source.place(at), wrong, remedy))

    def take(self, error: Faulty) -> None:
        """Take over the faults of a file or a text that was read."""
        self.faults.extend(error.faults)

    def known(self, at: At, kind: str, name: str | None, names: Iterable[str]) -> bool:
        """Whether a name is known (or absent); a fault if it is not."""
        known = tuple(names)
        if name is None or name in known:
            return True
        self.add(at, f"no {kind} is called {name!r}", did_you_mean(name, known))
        return False

    def file(self, at: At, name: str) -> Path | None:
        """The file that a name means, inside the script's folder; a fault and None if there is none."""
        path = self.script.folder / name
        if not self.script.allow_outside and not _inside(path, self.script.folder):
            self.add(
                at, f"{name!r} leaves the lesson's folder", "copy the file into it, or allow it by option"
            )
            return None
        if path.is_dir():
            self.add(at, f"{name!r} is a folder", "name a file in it")
        elif not path.is_file():
            self.add(at, f"there is no file {name!r}", _nearest(path))
        else:
            return path
        return None

    def stop_if_faulty(self) -> None:
        """Raise everything that was found."""
        if self.faults:
            raise Faulty(self.faults)


def _inside(path: Path, folder: Path) -> bool:
    """Whether a path stays in a folder once every link is followed."""
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):
        return False


def _nearest(path: Path) -> str:
    """The remedy for a file that is not there: a name like it in the same folder, else the folder."""
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    except OSError:
        return "check the folder's name"
    near = did_you_mean(path.name, names)
    return near if near.startswith("did you mean") else "put it into the lesson's folder"
