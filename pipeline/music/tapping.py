"""Which notes the picking hand stops: tapped ones, and what its finger slides to or holds on from them."""

from collections.abc import Sequence

from pipeline.music.note import Note

CARRIED = ("slide", "tie")
"""Attacks that the finger which stopped the note before goes on with."""


def tapped(notes: Sequence[Note]) -> tuple[bool, ...]:
    """For each of a fragment's notes whether the picking hand stops it, and no finger of the fretting hand.

    An artificial harmonic that is tapped is stopped by the fretting hand and only touched by the other one.
    """
    found, last = list[bool](), dict[int | None, bool]()
    for note in notes:
        touched = note.harmonic is not None and note.harmonic.kind == "artificial"
        carried = note.attack in CARRIED and last.get(note.string, False)
        found.append((note.attack == "tap" and not touched) or carried)
        last[note.string] = found[-1]
    return tuple(found)
