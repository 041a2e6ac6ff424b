"""Faults as they are gathered from a script, and the files that it may name."""

from collections.abc import Iterable
from pathlib import Path

from pipeline.errors import Fault, Faulty, Place, did_you_mean
from pipeline.lesson.mending import touched
from pipeline.lesson.script import Script
from pipeline.lesson.values import shown
from pipeline.source import Step

At = tuple[Step, ...]
"""Where in the script's data something stands."""


class Proof:
    """Gathers every fault of a script with its place."""

    def __init__(self, script: Script) -> None:
        self.script = script
        self.faults: list[Fault] = list(script.faults)
        self.cautions: list[Fault] = []
        """What the author should know though nothing is wrong: it stops nothing."""

    def add(self, at: At, wrong: str, remedy: str) -> None:
        """Note a fault about the value at a path, unless it only follows from one of form."""
        if not touched(at, self.script.gaps):
            self.faults.append(Fault(self.script.source.place(at), wrong, remedy))

    def caution(self, at: At, wrong: str, remedy: str) -> None:
        """Note something about the value at a path that should be known."""
        self.cautions.append(Fault(self.script.source.place(at), f"caution: {wrong}", remedy))

    def remark(self, place: Place, wrong: str, remedy: str) -> None:
        """Note something about a place inside a passage that should be known."""
        self.cautions.append(Fault(place, f"caution: {wrong}", remedy))

    def sound(self, at: At, *keys: str) -> bool:
        """Whether the form of what stands at a path (with keys, of those in it) is free of faults."""
        roots = [(*at, key) for key in keys] or [at]
        return not any(gap[: len(root)] == root for gap in self.script.gaps for root in roots)

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
                at,
                f"{name!r} leaves the lesson's folder",
                "copy the file into it, or allow it with --allow-outside",
            )
            return None
        try:
            if path.is_file():
                return path
            is_folder = path.is_dir()
        except OSError as error:
            self.add(at, f"{shown(name)} cannot be read ({error.strerror})", "name a file that is there")
            return None
        if is_folder:
            self.add(at, f"{name!r} is a folder", "name a file in it")
        else:
            self.add(at, f"there is no file {name!r}", _nearest(path, name))
        return None

    def stop_if_faulty(self) -> None:
        """Raise everything that was found."""
        if self.faults:
            raise Faulty(self.faults)


def _inside(path: Path, folder: Path) -> bool:
    """Whether a path stays in a folder once every link is followed."""
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError):  # too long, a ring of links, a hidden sign
        return False


def _nearest(path: Path, name: str) -> str:
    """The remedy for a file that is not there: a name like it in the same folder, as a script would write it,
    else the folder."""
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    except (OSError, ValueError):
        return "check the folder's name"
    folder = name.removesuffix(path.name)
    near = did_you_mean(path.name, names)
    near = near.replace("did you mean '", f"did you mean '{folder}", 1)
    return near if near.startswith("did you mean") else "put it into the lesson's folder"
