"""Exact time: spans, rates and the maps between clocks.

A clock is whose time a number counts in: `beat` (quarter notes of a fragment), `clip` (seconds of a
recording), `excerpt` (seconds of the slowed excerpt), `scene` and `segment` (seconds of film). Times are
`Fraction`; frame numbers are integers and are made only when frames are written. Spans are half-open.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from typing import Literal

Clock = Literal["beat", "clip", "excerpt", "scene", "segment"]


@dataclass(frozen=True)
class Span:
    """A half-open stretch [start, end) of one clock."""

    clock: Clock
    start: Fraction
    end: Fraction

    def __post_init__(self) -> None:
        if self.end < self.start:
            raise ValueError(f"a span ends ({self.end}) before it starts ({self.start})")

    @property
    def length(self) -> Fraction:
        return self.end - self.start

    def __contains__(self, moment: Fraction) -> bool:
        return self.start <= moment < self.end


@dataclass(frozen=True)
class Moments:
    """Exact moments that do not fall, searched by their roundings: comparing those costs a fiftieth.

    `float` rounds to nearest and so keeps the order; only moments that round alike are compared exactly.
    """

    exact: tuple[Fraction, ...]

    @cached_property
    def _rounded(self) -> tuple[float, ...]:
        return tuple(map(float, self.exact))

    def __len__(self) -> int:
        return len(self.exact)

    def until(self, moment: Fraction) -> int:
        """How many are not later than a moment."""
        near = float(moment)
        place = bisect_right(self._rounded, near)
        while place and self._rounded[place - 1] == near and self.exact[place - 1] > moment:
            place -= 1
        return place

    def before(self, moment: Fraction) -> int:
        """How many are earlier than a moment."""
        near = float(moment)
        place = bisect_left(self._rounded, near)
        while place < len(self) and self._rounded[place] == near and self.exact[place] < moment:
            place += 1
        return place


@dataclass(frozen=True)
class TimeMap:
    """A strictly rising piecewise-linear map from one clock to another, exact in both directions.

    `points` are (source, target) pairs; outside them the first and last slopes go on. A map of one point
    has slope 1.
    """

    source: Clock
    target: Clock
    points: tuple[tuple[Fraction, Fraction], ...]

    def __post_init__(self) -> None:
        if not self.points:
            raise ValueError("a time map needs at least one point")
        for (a, b), (c, d) in pairwise(self.points):
            if c <= a or d <= b:
                raise ValueError(f"a time map must rise: ({a}, {b}) is followed by ({c}, {d})")

    @classmethod
    def linear(cls, source: Clock, target: Clock, at: Fraction, to: Fraction, slope: Fraction) -> "TimeMap":
        """The straight line through (at, to) with the given slope (target a source unit)."""
        return cls(source, target, ((at, to), (at + 1, to + slope)))

    @cached_property
    def _sources(self) -> Moments:
        return Moments(tuple(a for a, _ in self.points))

    def __call__(self, moment: Fraction) -> Fraction:
        right = max(self._sources.until(moment), 1)
        slope, at_zero = self._lines[min(right, len(self._lines)) - 1]
        return at_zero + moment * slope

    @cached_property
    def _lines(self) -> tuple[tuple[Fraction, Fraction], ...]:
        """The slope of every stretch between two points, and what its line gives at 0."""
        slopes = [(d - b) / (c - a) for (a, b), (c, d) in pairwise(self.points)] or [Fraction(1)]
        return tuple((slope, b - a * slope) for slope, (a, b) in zip(slopes, self.points, strict=False))

    @cached_property
    def inverse(self) -> "TimeMap":
        return TimeMap(self.target, self.source, tuple((b, a) for a, b in self.points))

    def then(self, after: "TimeMap") -> "TimeMap":
        """This map followed by `after`: bends of both are kept, so the result is exact."""
        if after.source != self.target:
            raise ValueError(f"cannot follow a map to {self.target} with one from {after.source}")
        bends = set(self._sources.exact) | {self.inverse(a) for a, _ in after.points}
        if len(bends) == 1:
            bends |= {m + 1 for m in bends}
        pairs = ((m, after(self(m))) for m in sorted(bends))
        return TimeMap(self.source, after.target, tuple(pairs))

    def shifted(self, by: Fraction) -> "TimeMap":
        """The same map arriving `by` later."""
        return TimeMap(self.source, self.target, tuple((a, b + by) for a, b in self.points))


@dataclass(frozen=True)
class Rate:
    """Frames a second, rational: 24000/1001 stays 24000/1001."""

    value: Fraction

    def __post_init__(self) -> None:
        if self.value <= 0:
            raise ValueError("a frame rate must be positive")

    def frame_at(self, moment: Fraction) -> int:
        """The number of the frame that is on screen at `moment`."""
        return math.floor(moment * self.value)

    def first_frame(self, moment: Fraction) -> int:
        """The number of the first frame that starts at or after `moment`."""
        return math.ceil(moment * self.value)

    def time_of(self, frame: int) -> Fraction:
        """The second at which a frame starts."""
        return Fraction(frame) / self.value

    def frames_in(self, length: Fraction) -> int:
        """How many whole frames cover `length`: it is rounded up, so that nothing is cut off."""
        return math.ceil(length * self.value)


def rising(moments: Iterable[Fraction]) -> bool:
    """Whether each moment is later than the one before it."""
    values = list(moments)
    return all(a < b for a, b in pairwise(values))
