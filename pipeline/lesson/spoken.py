"""When spoken words stand as captions: those that state no time follow one another, long enough to read."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from pipeline.files.captions import FASTEST, Caption
from pipeline.lesson.material import SpokenKeys

READING_SPEED = 15
"""Characters a second a caption may ask a reader to read (common practice, no source)."""
SHORTEST = Fraction(3, 2)
GAP = Fraction(1, 12)
"""Seconds between captions, so that a change is seen."""


def reading_time(text: str) -> Fraction:
    """Seconds that a caption stays where the script does not say: neither signs nor words go by too fast."""
    words = Fraction(60 * len(text.split()), FASTEST)
    return max(SHORTEST, Fraction(len(text), READING_SPEED), words)


def captions(spoken: Sequence[SpokenKeys]) -> tuple[Caption, ...]:
    """Captions in order; each stays long enough to read, and goes before the next one comes."""
    placed: list[Caption] = []
    for line in spoken:
        start = line.at if line.at is not None else (placed[-1].end + GAP if placed else Fraction(0))
        lasting = line.lasting or reading_time(line.text)
        placed.append(Caption(start, start + lasting, line.text))
    ended = [
        Caption(one.start, min(one.end, max(after.start - GAP, one.start + GAP)), one.text)
        for one, after in pairwise(placed)
    ]
    return (*ended, *placed[-1:])
