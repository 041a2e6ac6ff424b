"""How the groups of a repeated cell are played alike: fingers, changes of string, strokes."""

from collections.abc import Callable, Hashable, Sequence

from pipeline.errors import enumerated
from pipeline.reasoning.cells import Cell
from pipeline.reasoning.reading import Placement

MOST_WAYS = 3
"""So many different fingerings are written out."""
Groups = list[Sequence[Placement]]


def told(cell: Cell) -> bool:
    """Whether a cell is worth telling: three groups, or two that are no mere turn."""
    return cell.times >= 3 or cell.size >= 4


def agreement(cell: Cell, places: Sequence[Placement]) -> str:
    """How the groups of a cell agree, in words: `fingered alike (1 3 4 3), each on one string`."""
    groups = [places[start : start + cell.size] for start in cell.starts]
    return ", ".join([_fingers(groups), _strings(groups), *_strokes(groups)])


def fingerings(cell: Cell, places: Sequence[Placement]) -> tuple[tuple[int | None, ...], ...]:
    """The fingers of every group."""
    return tuple(tuple(place.finger for place in places[s : s + cell.size]) for s in cell.starts)


def _fingers(groups: Groups) -> str:
    ways = _ways(groups, lambda place, _: place.finger)
    named = {way: " ".join(map(_finger, way)) for way in ways}
    if len(ways) == 1:
        return f"fingered alike ({next(iter(named.values()))})"
    if len(ways) > MOST_WAYS:
        return f"fingered in {len(ways)} ways"
    return f"fingered {', '.join(f'{named[way]} in {_numbered(numbers)}' for way, numbers in ways.items())}"


def _finger(finger: Hashable) -> str:
    return "0" if finger is None else "T" if finger == 0 else str(finger)


def _strings(groups: Groups) -> str:
    ways = _ways(groups, lambda place, first: place.string - first.string)
    if len(ways) > 1:
        return "crossing strings in different places"
    return "crossing strings alike" if any(next(iter(ways))) else "each on one string"


def _strokes(groups: Groups) -> list[str]:
    ways = _ways(groups, lambda place, _: place.stroke)
    if ways.keys() == {(None,) * len(groups[0])}:
        return []
    return ["strokes alike" if len(ways) == 1 else "strokes differ"]


def _ways(
    groups: Groups, of: Callable[[Placement, Placement], Hashable]
) -> dict[tuple[Hashable, ...], list[int]]:
    """What each group has, note by note, with the numbers of the groups (from 1) that have it."""
    found: dict[tuple[Hashable, ...], list[int]] = {}
    for number, group in enumerate(groups, start=1):
        found.setdefault(tuple(of(place, group[0]) for place in group), []).append(number)
    return found


def _numbered(numbers: Sequence[int]) -> str:
    return f"group{'s' if len(numbers) > 1 else ''} {enumerated(numbers)}"
