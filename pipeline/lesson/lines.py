"""Markers beside a scene's film: at passes, bars and beats."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from pipeline.lesson.part import Part
from pipeline.lesson.scene import Marker
from pipeline.lesson.timeline import Piece


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
