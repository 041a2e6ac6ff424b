"""When each moment of a recording comes once it is slowed: known without any sound.

Around each onset 6 ms before to 20 ms after it (at most 45 % of the note) run one to one, so that attacks can
be copied; onsets keep their rhythm exactly; what lies between two attacks is stretched.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from pipeline.timing import Span, TimeMap

SLOWEST, FASTEST = Fraction(1, 10), Fraction(1)
BEFORE_ONSET, AFTER_ONSET = Fraction(6, 1000), Fraction(20, 1000)
"""So wide that an attack is copied whole where its mark is 5 ms late or early."""
LARGEST_SHARE = Fraction(45, 100)
TOGETHER = Fraction(12, 1000)
"""Onsets closer than this are one attack: a strummed chord."""


@dataclass(frozen=True)
class Attack:
    """Samples [first, last) of the source that are copied to `target` of the excerpt."""

    first: int
    last: int
    target: int

    @property
    def end(self) -> int:
        return self.target + self.last - self.first


@dataclass(frozen=True)
class Plan:
    """A span in samples: where it starts, its lengths, its attacks, and (source, target) of loose onsets."""

    first: int
    last: int
    length: int
    attacks: tuple[Attack, ...]
    loose: tuple[tuple[int, int], ...]


def stretch_map(
    span: Span, speed: Fraction, anchors: tuple[Fraction, ...], loose: frozenset[int], rate: int
) -> TimeMap:
    """The map from clip second to excerpt second of a span slowed to `speed` (1/10 to 1).

    `anchors` are the clip seconds of note onsets; `loose` holds the indexes of those whose attack is not to
    be copied. Excerpt second 0 is the span's start and its length is `span.length / speed` exactly. Raises
    ValueError for a speed outside the range or an empty span.
    """
    plan = planned(span, speed, anchors, loose, rate)
    inner = [(a.first, a.target) for a in plan.attacks] + [(a.last, a.end) for a in plan.attacks]
    exact = ((Fraction(s, rate), Fraction(t, rate)) for s, t in sorted({*inner, *plan.loose}))
    length = span.length / speed
    kept = [(s, t) for s, t in exact if span.start < s < span.end and 0 < t < length]
    return TimeMap("clip", "excerpt", ((span.start, Fraction(0)), *kept, (span.end, length)))


def fences(plan: Plan) -> Iterator[Attack]:
    """The attacks between an empty one at each end of the span."""
    yield Attack(plan.first, plan.first, 0)
    yield from plan.attacks
    yield Attack(plan.last, plan.last, plan.length)


def planned(
    span: Span, speed: Fraction, anchors: tuple[Fraction, ...], loose: frozenset[int], rate: int
) -> Plan:
    if not SLOWEST <= speed <= FASTEST:
        raise ValueError(f"a speed lies between {float(SLOWEST):.0%} and {float(FASTEST):.0%}")
    if not span.length:
        raise ValueError("an empty span cannot be slowed")
    first, last = round(span.start * rate), round(span.end * rate)
    length = round(span.length / speed * rate)
    if speed == 1:
        return Plan(first, last, length, (), ())
    marks = sorted((a, i in loose) for i, a in enumerate(anchors) if a in span)
    onsets = _apart(marks)
    places = [(round(a * rate), round((a - span.start) / speed * rate)) for a, _ in onsets]
    edges = [first, *(source for source, _ in places), last]
    attacks = [
        attack_at(place, edges[i], edges[i + 2], rate) for i, place in enumerate(places) if not onsets[i][1]
    ]
    free = [p for p, (_, is_loose) in zip(places, onsets, strict=True) if is_loose and first < p[0] < last]
    return Plan(first, last, length, tuple(a for a in attacks if a.last > a.first), tuple(free))


def _apart(onsets: list[tuple[Fraction, bool]]) -> list[tuple[Fraction, bool]]:
    """The onsets without those that belong to the attack of the one before."""
    kept: list[tuple[Fraction, bool]] = []
    for onset, is_loose in onsets:
        if not kept or onset - kept[-1][0] >= TOGETHER:
            kept.append((onset, is_loose))
    return kept


def attack_at(place: tuple[int, int], previous: int, following: int, rate: int) -> Attack:
    """The copied samples around an onset, clear of its neighbours."""
    source, target = place
    ahead = min(int(BEFORE_ONSET * rate), int((source - previous) * LARGEST_SHARE), target)
    behind = min(int(AFTER_ONSET * rate), int((following - source) * LARGEST_SHARE))
    return Attack(source - ahead, source + behind, target - ahead)
