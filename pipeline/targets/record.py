"""The record of what was made: a JSON line for each thing, the last line of a target counts.

A line cut short by a kill costs that one thing, a lost record costs a rebuild, nothing else.
"""

import json
import os
from collections import Counter
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Made:
    """What is known of a made target: its key, its object, size in bytes, and the output's size and time."""

    key: str
    object: str
    size: int
    path: str | None = None
    mtime_ns: int = 0


class Record:
    """What each target was last made with; `file` grows by a line for each thing made."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.made: dict[str, Made] = {}
        self._of_key: dict[str, Made] = {}
        self._standing: Counter[str] = Counter()
        self._lines, self._facts = 0, _facts(file)
        for line in self._read():
            self._lines += 1
            try:
                name, row = json.loads(line)
                self._take(name, Made(**row))
            except (ValueError, TypeError):
                continue

    @property
    def grown(self) -> bool:
        """Whether another process may have written to the file since it was read."""
        return self._facts != _facts(self.file)

    def _read(self) -> list[str]:
        try:
            return self.file.read_text("utf-8", "replace").splitlines()
        except OSError:
            return []

    def _take(self, target_id: str, made: Made) -> None:
        before = self.made.get(target_id)
        if before is not None:
            self._standing[before.object] -= 1
        self.made[target_id] = self._of_key[made.key] = made
        self._standing[made.object] += 1

    def note(self, target_id: str, made: Made) -> None:
        """Add a line."""
        self._take(target_id, made)
        self._lines += 1
        with open(self.file, "a", encoding="utf-8") as record:
            record.write(_line(target_id, made))

    def with_key(self, key: str) -> Made | None:
        """What was last made with a key, by whichever target."""
        return self._of_key.get(key)

    def stand_on(self, name: str) -> int:
        """How many targets stand on an object."""
        return self._standing[name]

    def compact(self) -> None:
        """Rewrite the file with one line a target, whole or not at all, where it has more."""
        if self._lines == len(self.made):
            return
        draft = self.file.with_suffix(f".{os.getpid()}.part")
        draft.write_text("".join(_line(name, made) for name, made in sorted(self.made.items())), "utf-8")
        os.replace(draft, self.file)
        self._lines = len(self.made)


def _facts(file: Path) -> tuple[int, int] | None:
    try:
        facts = file.stat()
    except OSError:
        return None
    return facts.st_size, facts.st_mtime_ns


def _line(target_id: str, made: Made) -> str:
    return json.dumps([target_id, vars(made)]) + "\n"
