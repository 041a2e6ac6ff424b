"""What a view may know of its scene: the fragment, when it sounds, the look, the room it has.

A view is a frozen dataclass whose fields are its YAML keys; it draws with `picture(stage, t)`. The stage is
immutable and hashed once, so views keep what stands still with `functools.lru_cache` keyed by (view, stage).
"""

from dataclasses import dataclass, fields
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import accumulate
from typing import Protocol, runtime_checkable
from weakref import WeakKeyDictionary, ref

from pipeline.drawing.look import Look
from pipeline.drawing.picture import Picture, Pixels
from pipeline.music.fragment import Fragment
from pipeline.reasoning.reading import Reading
from pipeline.timing import Moments, Span, TimeMap


@dataclass(frozen=True)
class Pass:
    """One playing of (a part of) the fragment: which beats, when in the scene, how fast.

    `moments` maps fragment beats to scene seconds. `speed` is 1 for full speed.
    """

    beats: Span
    moments: TimeMap
    speed: Fraction = Fraction(1)

    @cached_property
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
    """Everything a view may look at. Stages of equal content share one `content`, found once a stage."""

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
    filmed: bool = False
    """Whether film is laid into the camera picture's frame when it is written: the view leaves it empty."""

    @cached_property
    def content(self) -> "Content":
        """The same object for every stage with equal fields: a view is asked with a stage at every frame."""
        return _the_one(Content(vars_of(self)))

    def __hash__(self) -> int:
        return hash(self.content)

    def __eq__(self, other: object) -> bool:
        return self is other or (isinstance(other, Stage) and self.content is other.content)

    def __getstate__(self) -> dict[str, object]:
        """The fields alone: another process has its own contents."""
        return {one.name: getattr(self, one.name) for one in fields(self)}

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
    def small_type(self) -> float:
        """The type size of small words, in pixels: the look's, and never too small to be read."""
        return max(self.size("small"), self.smallest_text)

    @property
    def smallest_text(self) -> float:
        """The smallest type size allowed, in pixels: a thirtieth of the frame's height."""
        return self.full_height / 30

    @cached_property
    def pass_ends(self) -> Moments:
        """Until when each pass and all before it have ended."""
        return Moments(tuple(accumulate((one.span.end for one in self.passes), max)))

    def pass_at(self, t: Fraction) -> Pass | None:
        """The pass that sounds at a scene second, else the next one to come, else the last one."""
        return _pass_at(self, t)


def vars_of(stage: Stage) -> tuple[object, ...]:
    """The stage's fields as a tuple, for comparison."""
    return (stage.width, stage.height, stage.look, stage.duration, stage.fragment, stage.passes,
            stage.clicks, stage.readings, stage.heard, stage.frame_height, stage.footage)  # fmt: skip


@lru_cache(maxsize=64)
def _pass_at(stage: Stage, t: Fraction) -> Pass | None:
    """Views ask for the same moment many times."""
    if not stage.passes:
        return None
    return stage.passes[min(stage.pass_ends.until(t), len(stage.passes) - 1)]


class Content:
    """A stage's fields, hashed once."""

    def __init__(self, values: tuple[object, ...]) -> None:
        self.values, self._hash = values, hash(values)

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return self is other or (isinstance(other, Content) and self.values == other.values)


_contents: "WeakKeyDictionary[Content, ref[Content]]" = WeakKeyDictionary()


def _the_one(content: Content) -> Content:
    """The content that was met first of those equal to this one."""
    known = _contents.get(content)
    found = known() if known is not None else None
    if found is None:
        _contents[content], found = ref(content), content
    return found


class View(Protocol):
    """What every view module's class offers. The class is named after its module in CamelCase."""

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The view at scene second t, `stage.width` by `stage.height`; equal t gives an equal picture."""
        ...

    def least_height(self, stage: Stage) -> float:
        """The least height in pixels in which all of it can be read, at the stage's width; no other use is
        made of the stage's own height."""
        ...


@runtime_checkable
class Yielding(Protocol):
    """What a view offers that leaves out signs where its room is short."""

    def easy_height(self, stage: Stage) -> float:
        """The height in pixels in which nothing is left out, at the stage's width."""
        ...

    def left_out(self, stage: Stage) -> tuple[str, ...]:
        """What the stage has no room for, by its name in `lanes.LANE_WORDS`."""
        ...
