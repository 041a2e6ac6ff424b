"""Clues that are heard in a clip, offered to the fragment that was played; written there only on request."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.lesson.named import read_pair
from pipeline.lesson.tools import aligned
from pipeline.lesson.writeback import write_fragment
from pipeline.music.clues import KINDS
from pipeline.music.fragment import ClueMark, Fragment
from pipeline.music.pitch import pitch_name
from pipeline.sound.hearing import hear

MEANINGS = {clue.kind: clue.meaning for clue in KINDS}
SLURS = {"hammer": ("slurred",), "pull": ("slurred",), "slide": ("slurred", "slide")}
"""What a written attack says already."""
SOFTEST, HARDEST = 0.1, 0.9
"""What a clue row can write of a soft clue's strength, in tenths."""


@dataclass(frozen=True)
class Offered:
    """Clues heard of a fragment in a clip, and what the clip's form or level says against them."""

    fragment: Fragment
    clues: tuple[ClueMark, ...]
    cautions: tuple[str, ...] = ()

    def lines(self) -> Iterator[str]:
        """A line a clue, those that the fragment has already marked as known."""
        known = known_of(self.fragment)
        for clue in self.clues:
            note = self.fragment.notes[clue.note]
            name = pitch_name(note.pitch, self.fragment.flats) if note.pitch is not None else "dead"
            kind = f"{clue.kind} {clue.value}".rstrip()
            mark = ", known already" if (clue.note, clue.kind) in known else ""
            words = MEANINGS[clue.kind]
            yield f"note {clue.note + 1:3} {name:4} {kind:12} strength {clue.strength:.1f}{mark}: {words}"
        if not self.clues:
            yield "no clue is clear enough to offer"

    @property
    def taken(self) -> Fragment:
        """The fragment with the offered clues as soft ones; what it knew already stays as it was."""
        known = known_of(self.fragment)
        fresh = [_soft(clue) for clue in self.clues if (clue.note, clue.kind) not in known]
        return self.fragment.but(clues=tuple(sorted((*self.fragment.clues, *fresh), key=_place)))


def known_of(fragment: Fragment) -> set[tuple[int, str]]:
    """Notes and kinds of clue that a fragment has already: in its clue row, or as a written technique."""
    known = {(clue.note, clue.kind) for clue in fragment.clues}
    for number, note in enumerate(fragment.notes):
        known |= {(number, kind) for kind in SLURS.get(note.attack, ())}
        if note.bend:
            known.add((number, "bend"))
    return known


def offered(script: Path, fragment: str, clip: str, allow_outside: bool = False) -> Offered:
    """Align a fragment with a clip and listen to every note. Raises Faulty."""
    notes, recording = read_pair(script, fragment, clip, allow_outside)
    found = aligned(recording, notes, keep_marks=True)
    clues = hear(found.signal, found.fragment, found.alignment)
    return Offered(found.fragment, clues, found.cautions)


def keep_clues(script: Path, name: str, heard: Offered) -> tuple[int, Path]:
    """Write the offered clues into the script's fragment; how many are new, and the file. Raises Faulty."""
    taken = heard.taken
    path = write_fragment(script, name, taken)
    return len(taken.clues) - len(heard.fragment.clues), path


def _soft(clue: ClueMark) -> ClueMark:
    strength = min(max(round(clue.strength, 1), SOFTEST), HARDEST)
    return ClueMark(clue.note, clue.kind, clue.value, strength)


def _place(clue: ClueMark) -> int:
    return clue.note
