"""From the engraver's row to one of ours: heads over their columns, bar lines over bar lines."""

from bisect import bisect_right, insort
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from pipeline.music.fragment import Fragment
from pipeline.views.engraved import Engraved
from pipeline.views.strip import Placed, System

STIFF = 380.0
"""To either side of a chord, in the engraver's units: what stands there keeps its form."""
BESIDE, WITHIN = 0.4, 0.8
"""Of the way to the next chord, and to the end of its piece, so much is stiff at most."""
Knot = tuple[float, float]


@dataclass(frozen=True)
class Bend:
    """A rising piecewise-linear map from the engraver's x to a row's x."""

    at: tuple[float, ...]
    to: tuple[float, ...]
    scale: float

    def __call__(self, x: float) -> float:
        if x <= self.at[0]:
            return self.to[0] + (x - self.at[0]) * self.scale
        if x >= self.at[-1]:
            return self.to[-1] + (x - self.at[-1]) * self.scale
        i = bisect_right(self.at, x) - 1
        width = self.at[i + 1] - self.at[i]
        return self.to[i] + (x - self.at[i]) * (self.to[i + 1] - self.to[i]) / width


def source(engraved: Engraved, placed: Placed) -> Knot:
    """From where to where a piece reaches in the engraver's row."""
    piece, bars = placed.piece, engraved.bars
    left = bars[piece.measure - 1] if piece.measure else 0.0
    right = bars[piece.measure] if piece.measure < len(bars) else bars[-1]
    return (
        left if piece.opens else _cut(engraved, piece.start),
        right if piece.closes else _cut(engraved, piece.end),
    )


def _cut(engraved: Engraved, beat: Fraction) -> float:
    """Between what starts before and after a beat inside a bar."""
    columns = [(at, x) for _, at, x in engraved.notes] + list(engraved.rests)
    before = max((x for at, x in columns if at < beat), default=0.0)
    after = min((x for at, x in columns if at >= beat), default=before + STIFF)
    return (before + after) / 2


def bend_of(engraved: Engraved, fragment: Fragment, system: System, scale: float) -> Bend:
    """The bend of a row."""
    edges = [
        pair for placed in system.placed
        for pair in zip(source(engraved, placed), (placed.x, placed.right), strict=True)
    ]  # fmt: skip
    columns = list(dict.fromkeys(sorted(_columns(engraved, fragment, system))))
    knots: list[Knot] = []
    for x, to in columns:
        zone = _stiff((x, to), columns, edges, scale)
        for knot in ((x - zone, to - zone * scale), (x, to), (x + zone, to + zone * scale)):
            _add(knots, knot)
    for edge in edges:
        _add(knots, edge)
    return Bend(tuple(at for at, _ in knots), tuple(to for _, to in knots), scale)


def _columns(engraved: Engraved, fragment: Fragment, system: System) -> Iterable[Knot]:
    """Where the heads and rests of a row stand, there and here."""
    known = {
        column.start: x
        for placed in system.placed
        for column, x in zip(placed.piece.columns, placed.xs, strict=True)
    }
    for index, beat, x in engraved.notes:
        if system.start <= beat < system.end:
            own = fragment.notes[index].onset == beat and index in system.xs
            to = system.xs[index] if own else known.get(beat)
            if to is not None:
                yield x, to
    yield from ((x, known[at]) for at, x in engraved.rests if system.start <= at < system.end and at in known)


def _stiff(column: Knot, columns: Iterable[Knot], edges: Iterable[Knot], scale: float) -> float:
    """How far to either side of a column the row keeps the engraver's distances."""
    far = [STIFF]
    for others, part in ((columns, BESIDE), (edges, WITHIN)):
        for other in others:
            away = abs(other[0] - column[0]), abs(other[1] - column[1]) / scale
            far += (distance * part for distance in away if other != column)
    return min(far)


def _add(knots: list[Knot], knot: Knot) -> None:
    """Put a knot among the others, where the map still rises with it."""
    place = bisect_right(knots, knot)
    after = place == len(knots) or (knot[0] < knots[place][0] and knot[1] < knots[place][1])
    before = place == 0 or (knots[place - 1][0] < knot[0] and knots[place - 1][1] < knot[1])
    if before and after:
        insort(knots, knot)
