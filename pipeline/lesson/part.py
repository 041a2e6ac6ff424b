"""The part of a passage that a scene plays: its own fragment, counted from beat 0, and where it came from."""

from dataclasses import dataclass
from fractions import Fraction

from pipeline.lesson.beats import bars_span, beat_of, clip_map, notes_span
from pipeline.lesson.material import ClipKeys
from pipeline.lesson.script import SceneKeys
from pipeline.lesson.values import Moment
from pipeline.music.fragment import Fragment
from pipeline.music.passage import cut, cut_bars
from pipeline.reasoning.names import zone_name
from pipeline.reasoning.reading import Cost, Placement, Reading
from pipeline.timing import Span, TimeMap


@dataclass(frozen=True)
class Part:
    """A part of a passage.

    `whole` is the passage as played, repeats unfolded; `fragment` the part of it, whose beat 0 is `start` of
    the whole and whose notes are those numbered `notes`. `beats` of the part are played: its last bar may
    go on after them.
    """

    whole: Fragment
    fragment: Fragment
    start: Fraction
    beats: Span
    notes: tuple[int, ...]

    def beat(self, moment: Moment) -> Fraction:
        """The part's beat at a moment of the whole. Raises OutOfReach."""
        return beat_of(moment, self.whole) - self.start

    def seconds(self, clip: ClipKeys) -> TimeMap | None:
        """From the part's beats to seconds of a clip's file; None where the script does not say."""
        found = clip_map(clip, self.whole)
        if found is None:
            return None
        return TimeMap("beat", "clip", tuple((beat - self.start, second) for beat, second in found.points))

    def reading(self, reading: Reading) -> Reading:
        """What a reading of the whole says of the part."""
        numbers = {old: new for new, old in enumerate(self.notes)}
        costs = (
            Cost(numbers[cost.note], cost.cause, cost.amount, cost.because)
            for cost in reading.costs
            if cost.note in numbers
        )
        kept = [index for index, clue in enumerate(self.whole.clues) if clue.note in numbers]
        clues = {old: new for new, old in enumerate(kept)}
        places = tuple(reading.places[index] for index in self.notes)
        met, broken = (tuple(clues[i] for i in met if i in clues) for met in (reading.met, reading.broken))
        return Reading(_named(reading, places), places, tuple(costs), met, broken)


def _named(reading: Reading, places: tuple[Placement, ...]) -> str:
    """A reading that is called after where the hand is, is called after where it is in the part."""
    called_so = reading.name.startswith(zone_name(reading.places))
    return zone_name(places) if called_so else reading.name


def part_of(scene: SceneKeys, whole: Fragment) -> Part:
    """The part that a scene's `bars` or `notes` choose. Raises OutOfReach."""
    if scene.notes is not None:
        span = notes_span(scene.notes, whole)
        first, last = scene.notes[0] - 1, scene.notes[1] - 1
        fragment = cut(whole, first, last)
        numbers = tuple(range(first, last + 1))
    elif scene.bars is not None:
        span = bars_span(scene.bars, whole)
        skipped = whole.bar_number(0)
        fragment = cut_bars(whole, scene.bars[0] - skipped, scene.bars[1] - skipped)
        numbers = tuple(index for index, note in enumerate(whole.notes) if note.onset in span)
    else:
        span, fragment = Span("beat", Fraction(0), whole.length), whole
        numbers = tuple(range(len(whole.notes)))
    return Part(whole, fragment, span.start, Span("beat", Fraction(0), span.length), numbers)
