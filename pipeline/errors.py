"""Faults a user can mend, each with its place and a remedy.

Everything a user may have got wrong is raised as `Faulty`; the command line prints one line a fault and
ends with exit code 2. Any other exception is a defect of the program.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches


@dataclass(frozen=True, order=True)
class Place:
    """A place in a text file. Lines and columns count from 1; 0 means the file as a whole."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        if not self.line:
            return self.file
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, order=True)
class Fault:
    """One thing that is wrong, where, and what would be right."""

    place: Place
    wrong: str
    remedy: str

    def __str__(self) -> str:
        line = f"{self.place}: {self.wrong}; {self.remedy}"
        return " ".join(line.split())


class Faulty(Exception):
    """Carries every fault that was found, in the order of their places."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        super().__init__("\n".join(str(fault) for fault in self.faults))


def faulty(place: Place, wrong: str, remedy: str) -> Faulty:
    """Make the exception for a single fault."""
    return Faulty([Fault(place, wrong, remedy)])


def enumerated(words: Sequence[object]) -> str:
    """`1`, `1 and 2`, `1, 2 and 3`."""
    *before, last = map(str, words)
    return f"{', '.join(before)} and {last}" if before else last


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """Word the remedy for an unknown name: the nearest known one, else the whole list."""
    names = sorted(known)
    words = {one: _words_of(one) for one in names}
    turned = [one for one in names if words[one] == _words_of(name)]
    inside = sorted((one for one in names if words[one] < _words_of(name)), key=lambda one: -len(words[one]))
    near = [*turned, *get_close_matches(name, names, n=1, cutoff=0.6), *inside]
    if near:
        return f"did you mean {near[0]!r}?"
    return f"known here: {', '.join(names)}" if names else "none is known here"


def _words_of(name: str) -> frozenset[str]:
    """A name's words in any order: `natural minor` holds that of `minor`."""
    return frozenset(re.split(r"[\s_-]+", name.casefold().strip()))
