"""The same phrases on the program's own guide: a set that rewards its maker, for comparison only."""

from fractions import Fraction

import numpy as np
import numpy.typing as npt

from pipeline.sound.guide import play
from pipeline.timing import TimeMap
from tests.benchmarks.phrases import Phrase

Wave = npt.NDArray[np.float64]
RATE = 44100


def truth_map(phrase: Phrase) -> TimeMap:
    """Beat to second through the true moments."""
    pairs = zip(phrase.fragment.notes, phrase.seconds, strict=True)
    return TimeMap(
        "beat", "clip", tuple((note.onset, Fraction(s).limit_denominator(RATE)) for note, s in pairs)
    )


def guided(phrase: Phrase, ring: bool, random: np.random.Generator) -> Wave:
    """The phrase as the guide plays it, mono, with uneven strokes."""
    notes = phrase.fragment.notes
    fragment = phrase.fragment.with_notes(
        note.but(let_ring=note.let_ring or (ring and note.picked)) for note in notes
    )
    strengths = tuple(random.uniform(0.6, 1.0, len(notes)))
    length = Fraction(phrase.length).limit_denominator(RATE)
    return np.asarray(
        play(fragment, truth_map(phrase), length, RATE, strengths).samples.mean(axis=1), np.float64
    )
