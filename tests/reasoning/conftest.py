"""Invented lines for the reasoning tests."""

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note

Line = Callable[..., Fragment]


@pytest.fixture(scope="session")
def line() -> Line:
    """A function that makes a fragment of even sixteenths from pitches or (string, fret) pairs."""

    def make(
        notes: Sequence[int | tuple[int, int] | Note], guitar: Guitar | None = None, tempo: int = 120
    ) -> Fragment:
        neck, step = guitar or Guitar(), Fraction(1, 4)
        written = []
        for index, item in enumerate(notes):
            onset = index * step
            if isinstance(item, Note):
                written.append(item.but(onset=onset, duration=step))
            elif isinstance(item, tuple):
                written.append(Note(onset, step, neck.pitch(*item), *item))
            else:
                written.append(Note(onset, step, item))
        measures = (Measure(Fraction(0), max(Fraction(4), len(notes) * step)),)
        return Fragment("line", neck, tuple(written), measures, Fraction(tempo))

    return make


@pytest.fixture(scope="session")
def chord() -> Line:
    """A function that makes a fragment of one chord from pitches."""

    def make(pitches: Sequence[int], guitar: Guitar | None = None) -> Fragment:
        notes = tuple(Note(Fraction(0), Fraction(1), pitch) for pitch in pitches)
        return Fragment("chord", guitar or Guitar(), notes, (Measure(Fraction(0), Fraction(4)),))

    return make
