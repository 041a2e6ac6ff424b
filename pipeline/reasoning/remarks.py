"""What a reading means for the picking hand, in sentences: strokes that alternation cannot give, pinches."""

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.music.fragment import Fragment
from pipeline.reasoning.costs import HARD
from pipeline.reasoning.departures import departures, listed
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.harmonics import pinches, touch_words
from pipeline.reasoning.moments import Times, spoken
from pipeline.reasoning.reading import Reading
from pipeline.reasoning.repairs import SEVERAL, Repair, StrokeConflict, stroke_conflict
from pipeline.reasoning.strokes import StrokeTask, phrases, starts

MOST_REPAIRS = 3


def reading_remarks(
    fragment: Fragment, reading: Reading, habits: Habits, times: Times | None = None
) -> tuple[str, ...]:
    """A sentence for each phrase that strict alternation fits with one start only, or not at all, and one
    for the place of the pinch harmonics. A player of economy or sweeps is not held to alternation."""
    placed = reading.on(fragment).with_notes(
        note.but(string=place.string, stroke=note.stroke)
        for note, place in zip(fragment.notes, reading.places, strict=True)
    )
    strict = habits.weight("economy") > habits.weight("outside")
    strokes = _stroke_remarks(placed, StrokeTask.of(placed, habits, times), habits) if strict else ()
    heard = pinches(fragment, reading.places)
    return (*strokes, *([touch_words(fragment.guitar, heard)] if heard else []))


def _stroke_remarks(fragment: Fragment, task: StrokeTask, habits: Habits) -> Iterator[str]:
    for first, part in phrases(task):
        possible = starts(part)
        where = spoken(fragment, fragment.chords[first][0])
        if possible == ("up",):
            yield f"Strict alternation from {where} must start on an upstroke."
        elif not possible:
            conflict = stroke_conflict(part, "down", habits)
            assert conflict is not None
            yield _conflict_words(_Phrase(fragment, first, part, habits), conflict)


@dataclass(frozen=True)
class _Phrase:
    """A phrase between rests: the moment of the fragment at which it begins, and its strokes' task."""

    fragment: Fragment
    first: int
    task: StrokeTask
    habits: Habits

    def note(self, moment: int) -> int:
        return self.fragment.chords[self.first + moment][0]

    def spoken(self, moment: int) -> str:
        return spoken(self.fragment, self.note(moment))

    @property
    def given(self) -> bool:
        """Whether every stroke is written or was surely heard."""
        known = {moment for moment, _, cost in self.task.heard if cost >= HARD}
        return all(kind == "slurred" or moment in known for moment, kind in enumerate(self.task.kinds))

    def departures(self, repair: Repair) -> str:
        """How a repair departs from alternation, with the notes it concerns."""
        found = departures(repair.plan, self.habits, lambda moment: self.note(moment) + 1)
        return listed(found) if found else self.spoken(repair.moment)


def _conflict_words(phrase: _Phrase, conflict: StrokeConflict) -> str:
    repairs = [r for r in conflict.repairs if r.kind != SEVERAL] or list(conflict.repairs[:1])
    if phrase.given and repairs:
        return (
            f"The strokes from {phrase.spoken(0)} on depart from strict alternation, which costs "
            f"{repairs[0].added:.2f} more: {phrase.departures(repairs[0])}."
        )
    ways = [_way_out(phrase, repair) for repair in repairs[:MOST_REPAIRS]]
    out = f"; ways out: {', '.join(ways)}" if ways else ""
    return f"Strict alternation from {phrase.spoken(0)} fails at {phrase.spoken(conflict.moments[0])}{out}."


def _way_out(phrase: _Phrase, repair: Repair) -> str:
    told = f"{phrase.departures(repair)}: {repair.added:.2f} more"
    return told if repair.kind == SEVERAL else f"{repair.kind} ({told})"
