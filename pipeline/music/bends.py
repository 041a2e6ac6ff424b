"""The moves of a bend."""

from fractions import Fraction
from itertools import pairwise

from pipeline.music.note import Note


def bend_turns(note: Note) -> list[tuple[Fraction, Fraction]]:
    """The changes of a bend as (from, to) semitones, a pre-bend first as (0, amount)."""
    levels = [point.semitones for point in note.bend]
    turns = [] if not levels or levels[0] == 0 else [(Fraction(0), levels[0])]
    return turns + [(a, b) for a, b in pairwise(levels) if a != b]
