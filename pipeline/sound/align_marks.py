"""What an alignment tells the rest: marks that people can correct, and anchors for the stretcher."""

from fractions import Fraction

from pipeline.music.fragment import Fragment
from pipeline.sound.align import DOUBTFUL, Alignment

Mark = tuple[Fraction, Fraction, float]
"""A beat of the fragment, a clip second, and the confidence (0 to 1)."""


def marks_of(alignment: Alignment, fragment: Fragment) -> list[Mark]:
    """A mark for each beat at which something starts, in order.

    Grace and tied notes have none: a grace note shares its note's beat, a tied one starts nothing. Those
    under `DOUBTFUL` are for the educator to look at.
    """
    marks: dict[Fraction, Mark] = {}
    for number, note in enumerate(fragment.notes):
        if not note.grace and note.attack != "tie":
            mark = (note.onset, alignment.moments[number], alignment.confidence[number])
            marks.setdefault(note.onset, mark)
    return [marks[beat] for beat in sorted(marks)]


def anchors_of(alignment: Alignment, fragment: Fragment) -> tuple[tuple[Fraction, ...], frozenset[int]]:
    """The clip seconds of all starts, rising, and the indexes of those too doubtful to copy an attack at."""
    sure: dict[Fraction, float] = {}
    for number, note in enumerate(fragment.notes):
        if note.attack != "tie":
            moment = alignment.moments[number]
            sure[moment] = max(sure.get(moment, 0.0), alignment.confidence[number])
    anchors = tuple(sorted(sure))
    return anchors, frozenset(n for n, moment in enumerate(anchors) if sure[moment] < DOUBTFUL)
