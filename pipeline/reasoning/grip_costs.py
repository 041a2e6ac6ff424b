"""What a grip counts by itself: the place of the hand, stretches, fingers, chord shapes, room for bends."""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from pipeline.music.guitar import Guitar
from pipeline.reasoning import costs
from pipeline.reasoning.habits import Hand
from pipeline.reasoning.states import Grip, Held, Wanted, grips_of

LOWEST_BEND = 3
"""Below this fret a string is stiff to bend (common practice, no source)."""
BEND_STRINGS = 3
"""Bends lie well on this many of the thinnest strings (common practice, no source)."""
PICK_FROM_BRIDGE = 0.2
"""The pick strikes at this share of the string's length from the bridge (common practice, no source)."""


@lru_cache(maxsize=4096)
def block_counts(
    guitar: Guitar, hand: Hand, wanted: tuple[Wanted, ...], bends: tuple[bool, ...], crossings: int = 0
) -> tuple[tuple[int, ...], ...]:
    """`grip_counts` of every grip for the notes of a moment, kept for the next search.

    `crossings` is how often the picking hand comes over the neck or leaves it for a moment of tapped notes.
    """
    table = [grip_counts(guitar, hand, wanted, grip, bends) for grip in grips_of(guitar, wanted)]
    if crossings:
        for counts, grip in zip(table, grips_of(guitar, wanted), strict=True):
            counts[costs.OVER_NECK] = crossings * _over_neck(guitar, wanted, grip)
    return tuple(map(tuple, table))


def grip_counts(
    guitar: Guitar, hand: Hand, wanted: Sequence[Wanted], grip: Grip, bends: tuple[bool, ...]
) -> list[int]:
    """Counts of every cause for a grip alone, in the order of `costs.CAUSES`."""
    counts = [0] * costs.COUNT
    _count_hand(counts, guitar, hand, grip)
    fingers = {held.finger: held for held in grip.held if held.finger is not None}
    counts[costs.RING_FINGER] = int(3 in fingers)
    counts[costs.LITTLE_FINGER] = int(4 in fingers)
    counts[costs.OPEN_STRING] = sum(
        h.finger is None and h.fret == 0 and not w.dead for h, w in zip(grip.held, wanted, strict=True)
    )
    counts[costs.THICK_STRING] = min(h.string for h in grip.held) - 1
    counts[costs.STRETCH] = sum(_stretch(guitar, grip.position, h) for h in fingers.values())
    if len(grip.held) > 1:
        _count_chord(counts, guitar, hand, grip)
    for held, bent, one in zip(grip.held, bends, wanted, strict=True):
        if bent and not one.tapped:
            counts[costs.BEND_FINGER] += int(held.finger in (1, 4))
            counts[costs.BEND_ROOM] += int(held.fret < LOWEST_BEND or held.string > BEND_STRINGS)
    return counts


def _count_hand(counts: list[int], guitar: Guitar, hand: Hand, grip: Grip) -> None:
    here = guitar.fret_mm(grip.position)
    if not any(held.finger is not None for held in grip.held):
        return
    counts[costs.LOW_HAND] = max(0, round(guitar.fret_mm(hand.home_low) - here))
    counts[costs.HIGH_HAND] = max(0, round(here - guitar.fret_mm(hand.home_high)))


def _over_neck(guitar: Guitar, wanted: Sequence[Wanted], grip: Grip) -> int:
    """How far the picking hand is from its place at a tapped note, in mm."""
    pick = guitar.scale_mm * (1 - PICK_FROM_BRIDGE)
    frets = [held.fret for held, one in zip(grip.held, wanted, strict=True) if one.tapped]
    return max((round(pick - guitar.fret_mm(fret)) for fret in frets), default=0)


def _stretch(guitar: Guitar, position: int, held: Held) -> int:
    """How far a finger reaches beyond its own fret, in mm."""
    if not held.finger or not held.fret:
        return 0
    own = position + held.finger - 1
    return round(abs(guitar.fret_mm(held.fret) - guitar.fret_mm(own)))


def _count_chord(counts: list[int], guitar: Guitar, hand: Hand, grip: Grip) -> None:
    fretted = [held for held in grip.held if held.finger is not None]
    strings = sorted(held.string for held in grip.held)
    fingers = {held.finger for held in fretted}
    counts[costs.CHORD_GAP] = sum(b - a - 1 for a, b in pairwise(strings))
    counts[costs.CHORD_FINGER] = len(fingers)
    counts[costs.BARRE] = int(len(fingers) < len(fretted))
    if fretted:
        frets = [held.fret for held in fretted]
        span = guitar.fret_mm(max(frets)) - guitar.fret_mm(min(frets))
        counts[costs.CHORD_SPAN] = max(0, round(span - hand.span * 0.6))
