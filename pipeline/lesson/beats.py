"""From what a script says of musical time to beats, and from beats to the seconds of a clip.

Bars are counted from 1 as they are played, so a repeated bar counts each time; a pick-up bar is bar 0. Beats
of a bar are counted from 1 in the meter's unit. A fragment's own beats are quarter notes from its start.
"""

from fractions import Fraction
from itertools import pairwise

from pipeline.lesson.material import ClipKeys
from pipeline.lesson.values import Moment
from pipeline.music.fragment import Fragment, Measure
from pipeline.timing import Span, TimeMap


class OutOfReach(ValueError):
    """A moment, bar or note that the fragment does not have: what is wrong and what would be right."""

    def __init__(self, wrong: str, remedy: str) -> None:
        super().__init__(wrong)
        self.wrong, self.remedy = wrong, remedy


def measure_of(bar: int, fragment: Fragment) -> Measure:
    """The measure with a bar number. Raises OutOfReach."""
    first = fragment.bar_number(0)
    if not first <= bar < first + len(fragment.measures):
        last = first + len(fragment.measures) - 1
        raise OutOfReach(f"{fragment.name!r} has no bar {bar}", f"its bars are {first} to {last}")
    return fragment.measures[bar - first]


def beat_of(moment: Moment, fragment: Fragment) -> Fraction:
    """The fragment's beat at a moment. Raises OutOfReach."""
    if moment.bar is None:
        if not 0 <= moment.beat <= fragment.length:
            length = f"{float(fragment.length):g}"
            raise OutOfReach(f"{fragment.name!r} has no beat {moment}", f"it is {length} quarter notes long")
        return moment.beat
    measure = measure_of(moment.bar, fragment)
    missing = measure.beats * measure.count - measure.length if moment.bar == 0 else Fraction(0)
    within = (moment.beat - 1) * measure.count - missing
    if not 0 <= within < measure.length:
        first = missing / measure.count + 1
        last = (missing + measure.length) / measure.count
        raise OutOfReach(
            f"bar {moment.bar} has no beat {float(moment.beat):g}",
            f"it goes from beat {float(first):g} to the end of beat {float(last):g}",
        )
    return measure.start + within


def bars_span(bars: tuple[int, int], fragment: Fragment) -> Span:
    """The beats of a range of bars. Raises OutOfReach."""
    first, last = (measure_of(bar, fragment) for bar in bars)
    return Span("beat", first.start, last.end)


def notes_span(notes: tuple[int, int], fragment: Fragment) -> Span:
    """The beats of a range of notes, counted from 1. Raises OutOfReach."""
    first, last = notes
    if not 1 <= first <= last <= len(fragment.notes):
        raise OutOfReach(
            f"{fragment.name!r} has no notes {first} to {last}", f"it has {len(fragment.notes)} notes"
        )
    inside = fragment.notes[first - 1 : last]
    start = inside[0].onset
    end = max(max(note.end for note in inside), inside[-1].onset)
    following = [note.onset for note in fragment.notes[last:] if note.onset > inside[-1].onset]
    end = min([end, *following[:1]])
    if end <= start:
        raise OutOfReach("these notes last no time", "take in the note after the grace notes")
    return Span("beat", start, end)


def marks_of_clip(clip: ClipKeys, fragment: Fragment) -> list[tuple[Fraction, Fraction]]:
    """The beat and the second of each mark, in order. Raises OutOfReach."""
    marks = sorted((beat_of(moment, fragment), second) for moment, second in clip.marks.items())
    for (beat, second), (later, after) in pairwise(marks):
        if later == beat or after <= second:
            raise OutOfReach(
                f"the marks do not rise: beat {float(later):g} at {float(after):g} s follows "
                f"beat {float(beat):g} at {float(second):g} s",
                "write seconds that grow with the beats",
            )
    return marks


def clip_map(clip: ClipKeys, fragment: Fragment) -> TimeMap | None:
    """From the fragment's beats to seconds of the clip's file; None where the script does not say.

    Raises OutOfReach for marks that do not rise or lie outside the fragment, and for one without a tempo.
    """
    if len(clip.marks) == 1 and clip.tempo is None:
        raise OutOfReach("one mark alone gives no tempo", "add a second mark, or the tempo")
    marks = marks_of_clip(clip, fragment)
    slope = Fraction(60) / clip.tempo if clip.tempo else None
    if slope is not None:
        at, to = marks[0] if marks else (Fraction(0), clip.span[0] if clip.span else Fraction(0))
        return TimeMap.linear("beat", "clip", at, to, slope)
    return TimeMap("beat", "clip", tuple(marks)) if marks else None
