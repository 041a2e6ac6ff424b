"""Which notes one reading puts in another place than another reading does, in words."""

from collections.abc import Iterator, Sequence

from pipeline.music.fragment import Fragment
from pipeline.reasoning.moments import spoken
from pipeline.reasoning.reading import Reading

MOST_RUNS = 3
"""More runs of notes than these are counted instead."""


def elsewhere(fragment: Fragment, rival: Reading, chosen: Reading) -> str:
    """`notes 1 to 4 lie elsewhere, note 1 (D3) on string 6 at fret 10`; nothing where all lie alike."""
    pairs = enumerate(zip(rival.places, chosen.places, strict=True))
    moved = [i for i, (a, b) in pairs if (a.string, a.fret) != (b.string, b.fret)]
    if not moved:
        return ""
    place, first = rival.places[moved[0]], spoken(fragment, moved[0])
    where = f"on string {place.string} at fret {place.fret}"
    if len(moved) == 1:
        return f"{first} lies elsewhere, {where}"
    return f"{_which(moved, len(rival.places))} elsewhere, {first} {where}"


def _which(moved: Sequence[int], of: int) -> str:
    runs = list(_runs(moved))
    if len(moved) == of:
        return "every note lies"
    if len(runs) > MOST_RUNS:
        return f"{len(moved)} of {of} notes lie"
    told = [f"{low + 1}" if low == high else f"{low + 1} to {high + 1}" for low, high in runs]
    return f"notes {' and '.join(filter(None, (', '.join(told[:-1]), told[-1])))} lie"


def _runs(numbers: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Stretches of numbers that follow one another, first and last."""
    first = last = numbers[0]
    for number in numbers[1:]:
        if number != last + 1:
            yield first, last
            first = number
        last = number
    yield first, last
