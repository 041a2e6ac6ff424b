"""Which short notes are joined by beams, in the words of MusicXML 4.0 `beam-value`."""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate, pairwise

from pipeline.music.fragment import Measure
from pipeline.music.rhythm import Piece


def beams(measure: Measure, shown: Sequence[Piece], pickup: bool) -> dict[int, list[str]]:
    """Beams by the index of a piece: notes shorter than a quarter that lie in one beat are joined.

    Beats are counted from the start of the measure, in a pick-up from its end. In a meter of groups a group
    takes the place of a beat.
    """
    groups: dict[int, list[int]] = {}
    for index, piece in enumerate(shown):
        if piece.event.notes and piece.value is not None and piece.value < 1:
            groups.setdefault(_beat(measure, piece.start, pickup), []).append(index)
    found: dict[int, list[str]] = {}
    for group in (run for members in groups.values() for run in _runs(members, shown)):
        flags = [_flags(shown[index]) for index in group]
        if len(group) > 1:
            found |= {index: list(_beam_words(flags, place)) for place, index in enumerate(group)}
    return found


def _beat(measure: Measure, at: Fraction, pickup: bool) -> int:
    """The number of the beat, or of the meter's group, that a moment of a measure lies in."""
    if measure.groups:
        start = measure.end - measure.meter.length if pickup else measure.start
        return bisect_right(tuple(accumulate(measure.groups)), (at - start) / measure.count)
    step = Fraction(3, 2) if measure.unit == 8 and measure.beats % 3 == 0 else Fraction(1)
    return int((at - (measure.end if pickup else measure.start)) // step)


def _runs(members: list[int], shown: Sequence[Piece]) -> Iterator[list[int]]:
    """Neighbouring indexes, broken where a rest or a longer note lies between, or a tuplet begins or ends."""
    run = members[:1]
    for before, index in pairwise(members):
        if index != before + 1 or shown[index].tuplet != shown[before].tuplet:
            yield run
            run = []
        run.append(index)
    yield run


def _flags(piece: Piece) -> int:
    flags, value = 0, piece.value or Fraction(1)
    while value < 1:
        flags, value = flags + 1, value * 2
    return flags


def _beam_words(flags: list[int], place: int) -> Iterator[str]:
    for level in range(1, flags[place] + 1):
        left = place > 0 and flags[place - 1] >= level
        right = place + 1 < len(flags) and flags[place + 1] >= level
        alone = "backward hook" if place else "forward hook"
        yield "continue" if left and right else "begin" if right else "end" if left else alone
