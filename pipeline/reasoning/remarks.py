"""What a reading means for the picking hand, in sentences: strokes that alternation cannot give, pinches."""

from collections.abc import Iterator

from pipeline.music.fragment import Fragment
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.harmonics import pinches, touch_words
from pipeline.reasoning.moments import Times, spoken
from pipeline.reasoning.reading import Reading
from pipeline.reasoning.repairs import StrokeConflict, stroke_conflict
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
            yield _conflict_words(fragment, first, conflict)


def _conflict_words(fragment: Fragment, first: int, conflict: StrokeConflict) -> str:
    def note(moment: int) -> str:
        return spoken(fragment, fragment.chords[first + moment][0])

    ways = [f"{r.kind} ({note(r.moment)}, {r.added:.2f} more)" for r in conflict.repairs[:MOST_REPAIRS]]
    out = f"; ways out: {', '.join(ways)}" if ways else ""
    return f"Strict alternation from {note(0)} fails at {note(conflict.moments[0])}{out}."
