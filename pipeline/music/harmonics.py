"""Harmonics of a string: nodes, fret equivalents, cents, and the partial that a touch gives.

Touching an ideal string at j/k of its sounding length (j and k without common factor) leaves the partials
that are multiples of k; partial k is heard. It lies 1200 * log2(k) cents above the stopped note, and the
node stands over the fractional fret -12 * log2(1 - j/k) counted from the stop. Frets here are counted from
the stop (nut, capo or fretting finger), distances are millimetres.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from math import gcd, log2

from pipeline.music.guitar import Guitar

HIGHEST_PARTIAL = 9
NEAR, FAR = 0.25, 0.5
"""Within NEAR frets the lowest partial wins, as it is the easiest to sound; within FAR the nearest."""


@dataclass(frozen=True)
class Node:
    """The node at j/k of the sounding length, measured from the stop."""

    j: int
    k: int

    @property
    def fret(self) -> float:
        """The fractional fret, from the stop, that the node stands over."""
        return -12.0 * log2(1.0 - self.j / self.k)

    @property
    def from_bridge(self) -> float:
        """The share of the sounding length between the node and the bridge."""
        return 1.0 - self.j / self.k


def cents(partial: int) -> float:
    """Cents of a partial above the stopped note."""
    return 1200.0 * log2(partial)


def semitones(partial: int) -> int:
    """The interval of a partial, rounded to the nearest semitone."""
    return round(cents(partial) / 100.0)


def deviation(partial: int) -> float:
    """Cents by which a partial is sharp (or, below zero, flat) of equal temperament."""
    return cents(partial) - 100.0 * semitones(partial)


@cache
def nodes(partial: int) -> tuple[Node, ...]:
    """All nodes where a touch sounds just this partial, from the stop to the bridge."""
    return tuple(Node(j, partial) for j in range(1, partial) if gcd(j, partial) == 1)


def all_nodes(highest: int = HIGHEST_PARTIAL) -> Iterator[Node]:
    """Every node of the partials 2 to `highest`, partial by partial."""
    for partial in range(2, highest + 1):
        yield from nodes(partial)


def partial_at(frets: float, highest: int = HIGHEST_PARTIAL) -> int | None:
    """The partial that a touch this many frets above the stop gives, None where no node is near."""
    near = [node.k for node in all_nodes(highest) if abs(node.fret - frets) <= NEAR]
    if near:
        return min(near)
    nearest = min(all_nodes(highest), key=lambda node: abs(node.fret - frets))
    return nearest.k if abs(nearest.fret - frets) <= FAR else None


def touched_partial(
    guitar: Guitar,
    fret: int,
    from_bridge_mm: float,
    tolerance_mm: float = 3.0,
    highest: int = HIGHEST_PARTIAL,
) -> int | None:
    """The partial sounding when a string stopped at `fret` is touched at a distance from the bridge.

    The lowest partial with a node within the tolerance is heard; None where there is none. The tolerance is
    the half width of a fingertip's edge (common practice, no source).
    """
    length = guitar.scale_mm - guitar.fret_mm(fret)
    for partial in range(2, highest + 1):
        if any(abs(node.from_bridge * length - from_bridge_mm) <= tolerance_mm for node in nodes(partial)):
            return partial
    return None


def touch_points(guitar: Guitar, fret: int, partial: int) -> tuple[float, ...]:
    """Distances from the bridge, in millimetres, where a touch gives the partial, bridge end first."""
    length = guitar.scale_mm - guitar.fret_mm(fret)
    return tuple(sorted(node.from_bridge * length for node in nodes(partial)))
