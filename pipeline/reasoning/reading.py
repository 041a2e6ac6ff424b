"""A reading: one complete answer to where and how a fragment was played, with its reasons."""

from dataclasses import dataclass, field
from math import fsum

from pipeline.music.fragment import Fragment
from pipeline.music.note import Stroke


@dataclass(frozen=True)
class Placement:
    """Where one note lies: string, fret, finger (1-4, 0 thumb, None open), hand position, stroke."""

    string: int
    fret: int
    finger: int | None
    position: int
    stroke: Stroke | None = None


@dataclass(frozen=True)
class Cost:
    """A named share of a reading's cost at a note, with the words that explain it."""

    note: int
    cause: str
    amount: float
    because: str = ""


@dataclass(frozen=True)
class Reading:
    """One answer: a placement for every note, what it costs and why, the clues it meets and breaks.

    `met` and `broken` index the fragment's clues. Costs are comparable only between readings of one
    fragment; they are margins, never probabilities.
    """

    name: str
    places: tuple[Placement, ...]
    costs: tuple[Cost, ...] = field(default=(), compare=False)
    met: tuple[int, ...] = ()
    broken: tuple[int, ...] = ()

    @property
    def total(self) -> float:
        """The sum of the costs. Each is a whole number of millionths, so the sum is rounded to them."""
        return round(fsum(cost.amount for cost in self.costs), 6)

    def on(self, fragment: Fragment) -> Fragment:
        """The fragment played this way: every note with its string, fret, finger, position and stroke."""
        notes = (
            note.but(
                string=place.string,
                fret=place.fret,
                finger=place.finger,
                position=place.position,
                stroke=place.stroke,
            )
            for note, place in zip(fragment.notes, self.places, strict=True)
        )
        return fragment.with_notes(notes)
