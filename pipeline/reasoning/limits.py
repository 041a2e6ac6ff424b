"""Clues in the form that the search uses: limits on a grip, on a step between moments, on a stroke."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from pipeline.music.note import Stroke
from pipeline.reasoning.costs import HARD
from pipeline.reasoning.states import Grip

Region = tuple[int, int]
"""The lowest and highest hand position of a stretch of the neck."""
GripLimitKind = Literal["open", "fretted", "near", "position", "string"]


@dataclass(frozen=True)
class GripLimit:
    """A demand on one note of a moment. `low` and `high` bound a position, string or fret; both count."""

    index: int
    kind: GripLimitKind
    low: int = 0
    high: int = 0
    penalty: int = 0

    def met(self, grip: Grip) -> bool:
        """Whether a grip meets the demand."""
        held = grip.held[self.index]
        if self.kind == "open":
            return held.fret == 0
        if self.kind == "fretted":
            return held.finger is not None or held.fret > 0
        if self.kind == "near":
            return held.fret == 0 and self.low - 4 <= grip.position <= self.high + 1
        value = grip.position if self.kind == "position" else held.string
        return self.low <= value <= self.high


@dataclass(frozen=True)
class StepLimit:
    """A demand on the step to a moment: a column of the chain's `links` and what breaking it costs."""

    moment: int
    column: int
    penalty: int


@dataclass(frozen=True)
class StrokeLimit:
    """The stroke that was heard at a moment and what another one costs."""

    moment: int
    stroke: Stroke
    penalty: int


@dataclass(frozen=True)
class Limits:
    """Every limit on a fragment. `grips` pairs a moment with a limit."""

    grips: tuple[tuple[int, GripLimit], ...] = ()
    steps: tuple[StepLimit, ...] = ()
    strokes: tuple[StrokeLimit, ...] = ()

    def at(self, moment: int) -> tuple[GripLimit, ...]:
        """The limits on the grip of one moment."""
        return tuple(limit for m, limit in self.grips if m == moment)

    def __add__(self, other: "Limits") -> "Limits":
        return Limits(self.grips + other.grips, self.steps + other.steps, self.strokes + other.strokes)


def region_limits(region: Region, moments: int) -> Limits:
    """Keep the hand within two positions, both counted, at every moment."""
    limit = GripLimit(0, "position", *region, penalty=HARD)
    return Limits(grips=tuple((moment, limit) for moment in range(moments)))


def together(limits: Iterable[Limits]) -> Limits:
    """All limits in one."""
    return sum(limits, Limits())


def penalty_of(grip: Grip, limits: Iterable[GripLimit]) -> int:
    """What the limits that a grip breaks cost together."""
    return sum(limit.penalty for limit in limits if not limit.met(grip))
