"""A scene, resolved: immutable data of everything it shows and sounds, and its picture at any second."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any, Literal

from pipeline.drawing.look import Look
from pipeline.drawing.picture import Picture
from pipeline.files.boxes import IntBox
from pipeline.files.captions import Caption
from pipeline.lesson.arrange import Composition
from pipeline.lesson.digest import digest
from pipeline.lesson.heard import Recording, Sounding
from pipeline.lesson.plain import plain
from pipeline.lesson.poster import NOTHING, Telling
from pipeline.music.fragment import Fragment
from pipeline.timing import Rate, TimeMap
from pipeline.views.stage import Pass

Dressing = Literal["overlay", "film"]
"""Without a ground, to lie over other film; or on the look's ground."""


@dataclass(frozen=True)
class Marker:
    """A moment an editor may want: the start of a scene, a pass, a bar or a beat."""

    second: Fraction
    kind: Literal["scene", "pass", "bar", "beat"]
    label: str


@dataclass(frozen=True)
class Run:
    """A stretch [start, end] of the scene in which footage runs, and scene second to second of the film."""

    start: Fraction
    end: Fraction
    moments: TimeMap


@dataclass(frozen=True)
class Room:
    """The part of the frame in which film runs, and the scene seconds [since, until) in which it is seen."""

    box: IntBox
    since: Fraction
    until: Fraction


@dataclass(frozen=True)
class Footage:
    """Film in its room, or under all of the scene. Before, between and after its runs it stands still."""

    recording: Recording
    runs: tuple[Run, ...]
    room: Room | None = None

    def second_at(self, t: Fraction) -> Fraction:
        """The film's second that is shown at scene second t."""
        run = next((run for run in reversed(self.runs) if run.start <= t), self.runs[0])
        return run.moments(min(max(t, run.start), run.end))


@dataclass(frozen=True)
class Transition:
    """How the scene follows the one before it, over its own first seconds."""

    kind: Literal["cut", "dip", "dissolve"] = "cut"
    lasting: Fraction = Fraction(0)


@dataclass(frozen=True, eq=False)
class Scene:
    """One scene. Seconds count from its start; it lasts exactly `frames` at `rate`."""

    id: str
    title: str
    rate: Rate
    frames: int
    look: Look
    composition: Composition
    fragment: Fragment | None = None
    passes: tuple[Pass, ...] = ()
    sounds: tuple[Sounding, ...] = ()
    clicks: tuple[Fraction, ...] = ()
    captions: tuple[Caption, ...] = ()
    markers: tuple[Marker, ...] = ()
    footage: Footage | None = None
    transition: Transition = Transition()
    still_at: Fraction = Fraction(0)
    """The second that stands for the scene: its first note."""
    telling: Telling = NOTHING
    """The second that may stand for the segment."""

    @property
    def width(self) -> int:
        """The frame's width in pixels."""
        return self.composition.width

    @property
    def height(self) -> int:
        """The frame's height in pixels."""
        return self.composition.height

    @property
    def duration(self) -> Fraction:
        """Exact seconds."""
        return self.rate.time_of(self.frames)

    def picture(self, t: Fraction, dressing: Dressing = "overlay") -> Picture:
        """The frame at scene second t: every view's layers, moved to their places."""
        return self.composition.picture(t, self.look.colour("ground") if dressing == "film" else None)

    def frame(self, number: int, dressing: Dressing = "overlay") -> Picture:
        """The picture of a frame, counted from 0."""
        return self.picture(self.rate.time_of(number), dressing)

    @cached_property
    def seen(self) -> str:
        """A digest of everything the pictures depend on; it stands in many keys."""
        return digest(self.picture_parts())

    @cached_property
    def filmed(self) -> str:
        """The same, with the film that lies under them."""
        return digest([self.seen, plain(self.footage)])

    @cached_property
    def heard(self) -> str:
        """A digest of everything the sound depends on."""
        return digest(self.sound_parts())

    def picture_parts(self) -> Any:
        """Plain data of everything the pictures depend on: equal data, equal frames."""
        held = plain(self.footage) if self.footage and self.footage.room else None
        return [plain(self.rate.value), self.frames, plain(self.look), plain(self.composition), held]

    def sound_parts(self) -> Any:
        """Plain data of everything the sound depends on; recordings by their digests."""
        return [plain(self.rate.value), self.frames, plain(self.sounds)]

    def digest_parts(self) -> Any:
        """Plain data of everything the scene's files depend on."""
        others = [self.title, plain(self.captions), plain(self.markers), plain(self.footage)]
        return [self.picture_parts(), self.sound_parts(), plain(self.transition), *others]
