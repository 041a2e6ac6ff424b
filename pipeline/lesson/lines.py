"""What goes beside a scene's film: captions with their times, markers at passes, bars and beats."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from pipeline.lesson.material import SpokenKeys
from pipeline.lesson.part import Part
from pipeline.lesson.scene import Caption, Marker
from pipeline.lesson.timeline import Piece

READING_SPEED = 15
"""Characters a second a caption may ask a reader to read (common practice, no source)."""
SHORTEST = Fraction(3, 2)
GAP = Fraction(1, 12)
"""Seconds between captions, so that a change is seen."""


def captions(spoken: Sequence[SpokenKeys]) -> tuple[Caption, ...]:
    """Captions in order; each stays long enough to read, and goes before the next one comes."""
    placed: list[Caption] = []
    for line in spoken:
        start = line.at if line.at is not None else (placed[-1].end + GAP if placed else Fraction(0))
        lasting = line.lasting or max(SHORTEST, Fraction(len(line.text), READING_SPEED))
        placed.append(Caption(start, start + lasting, line.text))
    ended = [
        Caption(one.start, min(one.end, max(after.start - GAP, one.start + GAP)), one.text)
        for one, after in pairwise(placed)
    ]
    return (*ended, *placed[-1:])


def markers(part: Part | None, pieces: Sequence[Piece]) -> tuple[Marker, ...]:
    """The starts of passes, bars and beats, in scene seconds; bars are numbered as in the whole passage."""
    if part is None:
        return ()
    found: list[Marker] = []
    before = 0
    for piece in pieces:
        if piece.number != before:
            label = f"pass {piece.number}, {float(piece.speed * 100):g} %"
            found.append(Marker(piece.span.start, "pass", label))
        before = piece.number
        found += _bars(part, piece)
    return tuple(found)


def _bars(part: Part, piece: Piece) -> Iterator[Marker]:
    for index, measure in enumerate(part.fragment.measures):
        number, late = part.fragment.bar_number(index), index == 0 and measure.pickup
        missing = measure.beats * measure.count - measure.length if late else Fraction(0)
        beat = measure.start
        while beat < measure.end:
            if beat in piece.beats:
                count = (beat - measure.start + missing) / measure.count + 1
                first = count == 1 or (number == 0 and beat == measure.start)
                label = f"bar {number}" if first else f"{number}:{float(count):g}"
                yield Marker(piece.moments(beat), "bar" if first else "beat", label)
            beat += measure.count
