"""Cells: a short shape repeated at once, moved along the scale by the same number of steps each time.

Steps are counted in the notes that the passage uses (or in a scale that is given), so a cell moved through
a scale keeps its size in steps while its semitones change.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

SMALLEST, LARGEST = 2, 12


@dataclass(frozen=True)
class Cell:
    """A repeated shape: `times` groups of `size` notes from note `start` (from 0), each moved by `step`.

    `contour` is each note's steps above the first of its group; `rest` notes of another group follow.
    """

    start: int
    size: int
    times: int
    step: int
    contour: tuple[int, ...]
    rest: int = 0

    @property
    def end(self) -> int:
        """The first note after the cell, the begun group included."""
        return self.start + self.size * self.times + self.rest

    @property
    def starts(self) -> tuple[int, ...]:
        """The first note of every group."""
        return tuple(self.start + self.size * i for i in range(self.times))

    @property
    def words(self) -> str:
        """The cell in words, notes counted from 1."""
        ways = "step" if abs(self.step) == 1 else "steps"
        way = "up" if self.step > 0 else "down"
        moved = f"moved {way} {abs(self.step)} {ways} each time" if self.step else "in place"
        return f"{self.times} groups of {self.size} from note {self.start + 1}, {moved}"


def degrees(pitches: Sequence[int], scale: Sequence[int] | None = None) -> list[int]:
    """Each pitch as a number of steps along a scale (pitch classes), or along the pitches that are used.

    A pitch outside the scale lies on the step below it.
    """
    classes = sorted({p % 12 for p in (pitches if scale is None else scale)})
    if not classes:
        return []
    ranks = {p: sum(c <= p for c in classes) - 1 for p in range(12)}
    return [len(classes) * (pitch // 12) + ranks[pitch % 12] for pitch in pitches]


def cells(pitches: Sequence[int], scale: Sequence[int] | None = None) -> tuple[Cell, ...]:
    """The cells of a passage, in order and not overlapping; the one that covers most is taken first.

    Of cells that cover the same notes the one of fewest notes is taken. A plain run up or down is no cell.
    """
    steps = degrees(pitches, scale)
    found = sorted(_candidates(steps), key=lambda c: (c.start - c.end, c.size, c.start))
    taken = list[Cell]()
    for cell in found:
        if all(cell.end <= other.start or cell.start >= other.end for other in taken):
            taken.append(cell)
    return tuple(sorted(taken, key=lambda c: c.start))


def _candidates(steps: Sequence[int]) -> Iterator[Cell]:
    for size in range(SMALLEST, min(LARGEST, len(steps) // 2) + 1):
        moves = [b - a for a, b in zip(steps, steps[size:], strict=False)]
        for first, last in _runs(moves):
            if last - first >= size and not _plain(steps[first : last + size]):
                yield _cell(steps, size, first, last)


def _runs(moves: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Longest stretches [first, last) of equal moves."""
    edges = [0, *(i + 1 for i, (a, b) in enumerate(pairwise(moves)) if a != b), len(moves)]
    yield from pairwise(edges)


def _plain(steps: Sequence[int]) -> bool:
    """Whether the notes go on by one and the same step."""
    return len({b - a for a, b in pairwise(steps)}) <= 1


def _cell(steps: Sequence[int], size: int, first: int, last: int) -> Cell:
    times, rest = divmod(last - first + size, size)
    contour = tuple(step - steps[first] for step in steps[first : first + size])
    return Cell(first, size, times, steps[first + size] - steps[first], contour, rest)
