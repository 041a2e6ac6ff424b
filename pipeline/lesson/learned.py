"""Habits learned from the fragments of scripts whose fingering is written."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import Faulty, Place, faulty
from pipeline.files.place import placed
from pipeline.lesson.check import read_checked
from pipeline.lesson.check_files import habits_called
from pipeline.music.fragment import Fragment
from pipeline.reasoning.fitting import Fit, fit
from pipeline.reasoning.habits import Habits, habits_text, read_habits

Report = Callable[[int, int], None]
"""Told how many rounds are done, of how many at most."""


@dataclass(frozen=True)
class Learned:
    """What was learned, from how many fragments, and those left out with the reason."""

    fit: Fit
    fragments: int
    left_out: tuple[str, ...]

    def lines(self) -> list[str]:
        """What the learning did, in words."""
        told = self.fit
        gain = f"{told.before:.2f} bits a note before, {told.after:.2f} after"
        found = [f"{told.notes} notes, fragments: {self.fragments}; their places surprise by {gain}"]
        if told.notes < FEW:
            found.append(f"fewer than {FEW} notes teach little: these habits stay near those they began as")
        return found + [f"left out {words}" for words in self.left_out]


FEW = 200
"""Notes under which a fit hardly leaves its start."""
IMPOSSIBLE = 50
"""Bits a note over which a passage breaks a hard rule; what a hand can play takes under five."""


def learn(
    scripts: Sequence[Path], out: Path, start: str | None, report: Report, allow_outside: bool = False
) -> Learned:
    """Fit habits to every placed fragment of the scripts and write them to `out`. Raises Faulty.

    A file that is there is overwritten only where it holds habits.
    """
    _refuse_others(out)
    habits = habits_called(start, Path())
    known, left = list[Fragment](), list[str]()
    for name, fragment in (pair for script in scripts for pair in _fragments(script, allow_outside)):
        against = _unfit(fragment, habits)
        if against is None:
            known.append(fragment)
        else:
            left.append(f"{name}: {against}")
    if not known:
        why = f": {left[0]}" if left else ""
        more = f", and {len(left) - 1} more" if len(left) > 1 else ""
        wrong = f"no fragment is there to learn from{why}{more}"
        raise faulty(Place(str(scripts[0])), wrong, "write strings, frets and fingers that a hand can take")
    found = fit(known, habits, name=out.stem, report=report)
    _write(out, found.habits)
    return Learned(found, len(known), tuple(left))


def _unfit(fragment: Fragment, habits: Habits) -> str | None:
    """Why nothing can be learned from a fragment; None where it can."""
    if all(note.string is None for note in fragment.notes):
        return "no string is written in it"
    try:
        surprise = fit([fragment], habits, rounds=0).before
    except Faulty as error:
        return error.faults[0].wrong
    return None if surprise < IMPOSSIBLE else "its places and its slurs or clues rule each other out"


def _fragments(script: Path, allow_outside: bool) -> list[tuple[str, Fragment]]:
    checked = read_checked(script, allow_outside)
    return [(f"{name} of {script}", fragment) for name, fragment in checked.fragments.items()]


def _write(out: Path, habits: Habits) -> None:
    with placed(out) as part:
        part.write_text(habits_text(habits), "utf-8")


def _refuse_others(out: Path) -> None:
    if out.suffix != ".yaml":
        raise faulty(Place(str(out)), "habits are kept in YAML", "give it a name that ends in .yaml")
    if not out.exists():
        return
    try:
        read_habits(str(out))
    except Faulty:
        wrong = "there is a file of that name which holds no habits"
        raise faulty(Place(str(out)), wrong, "choose another name") from None
