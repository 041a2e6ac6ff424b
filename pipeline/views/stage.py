"""What a view may know of its scene: the fragment, when it sounds, the look, the room it has.

A view is a frozen dataclass whose fields are its YAML keys; it draws with `picture(stage, t)`. The stage is
immutable and hashed once, so views keep what stands still with `functools.lru_cache` keyed by (view, stage).
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Protocol

from pipeline.drawing.look import Look
from pipeline.drawing.picture import Picture, Pixels
from pipeline.music.fragment import Fragment
from pipeline.reasoning.reading import Reading
from pipeline.timing import Span, TimeMap


@dataclass(frozen=True)
class Pass:
    """One playing of (a part of) the fragment: which beats, when in the scene, how fast.

    `moments` maps fragment beats to scene seconds. `speed` is 1 for full speed.
    """

    beats: Span
    moments: TimeMap
    speed: Fraction = Fraction(1)

    @property
    def span(self) -> Span:
        """When this pass sounds, in scene seconds."""
        return Span("scene", self.moments(self.beats.start), self.moments(self.beats.end))


@dataclass(frozen=True)
class Heard:
    """What the `sound` view draws: the scene's excerpt, mono at full speed, and where it lies.

    `start` is the clip second of the first sample; `moments` maps clip seconds to scene seconds, one
    map a pass.
    """

    digest: str
    rate: int
    start: Fraction
    samples: bytes  # float32, little endian
    moments: tuple[TimeMap, ...] = ()


@dataclass(frozen=True, eq=False)
class Stage:
    """Everything a view may look at. Compared by identity of content through `key`."""

    width: int
    height: int
    look: Look
    duration: Fraction
    fragment: Fragment | None = None
    passes: tuple[Pass, ...] = ()
    clicks: tuple[Fraction, ...] = ()
    """Scene seconds of the count-in clicks, the accented ones included."""
    readings: tuple[Reading, ...] = ()
    heard: Heard | None = None
    frame_height: int = 0
    """Height of the whole frame the view stands in (for smallest text); 0 means `height`."""

    footage: Pixels | None = None
    """A still of the camera picture, where the scene has one."""

    @cached_property
    def key(self) -> int:
        return hash((self.width, self.height, self.look, self.duration, self.fragment, self.passes,
                     self.clicks, self.readings, self.heard, self.frame_height, self.footage))  # fmt: skip

    def __hash__(self) -> int:
        return self.key

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        if not isinstance(other, Stage) or self.key != other.key:
            return False
        return vars_of(self) == vars_of(other)

    @property
    def full_height(self) -> int:
        """The height that shares of the look count from."""
        return self.frame_height or self.height

    def size(self, role: str) -> float:
        """A size of the look in pixels."""
        return self.look.size(role) * self.full_height

    def line(self, role: str) -> float:
        """A line weight of the look in pixels."""
        return self.look.line(role) * self.full_height

    @property
    def smallest_text(self) -> float:
        """The smallest type size allowed, in pixels: a thirtieth of the frame's height."""
        return self.full_height / 30

    def pass_at(self, t: Fraction) -> Pass | None:
        """The pass that sounds at a scene second, else the next one to come, else the last one."""
        for one in self.passes:
            if t < one.span.end:
                return one
        return self.passes[-1] if self.passes else None

    def beat_at(self, t: Fraction) -> Fraction | None:
        """The fragment's beat at a scene second, held inside the pass's span."""
        one = self.pass_at(t)
        if one is None:
            return None
        held = min(max(t, one.span.start), one.span.end)
        return one.moments.inverse(held)


def vars_of(stage: Stage) -> tuple[object, ...]:
    """The stage's fields as a tuple, for comparison."""
    return (stage.width, stage.height, stage.look, stage.duration, stage.fragment, stage.passes,
            stage.clicks, stage.readings, stage.heard, stage.frame_height, stage.footage)  # fmt: skip


class View(Protocol):
    """What every view module's class offers. The class is named after its module in CamelCase."""

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The view at scene second t, `stage.width` by `stage.height`; equal t gives an equal picture."""
        ...
