"""What is taught: a script resolved into plain immutable data; `resolve` makes it.

A lesson can be pickled and sent to another process. It holds no sound, only where sound comes from.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from pipeline.drawing.look import Look
from pipeline.files.captions import Caption
from pipeline.lesson.scene import Marker, Scene
from pipeline.music.fragment import Fragment
from pipeline.reasoning.habits import Habits
from pipeline.timing import Rate

if TYPE_CHECKING:
    from pipeline.lesson.paper import HandoutKeys


@dataclass(frozen=True, eq=False)
class Segment:
    """Scenes that make one video."""

    id: str
    title: str
    rate: Rate
    scenes: tuple[Scene, ...]
    chosen: tuple[str, Fraction | None] | None = None
    """The scene, and perhaps its second, that the script names for the poster."""

    @property
    def poster(self) -> tuple[Scene, int]:
        """The scene and the frame of it that stand for the segment: as chosen, else the first of those that
        tell most."""
        told = [scene for scene in self.scenes if self.chosen is None or scene.id == self.chosen[0]]
        scene = max(told, key=lambda one: one.telling.worth)
        second = self.chosen[1] if self.chosen else None
        at = scene.telling.second if second is None else second
        return scene, min(self.rate.first_frame(at), scene.frames - 1)

    @property
    def frames(self) -> int:
        """Frames of all scenes together."""
        return sum(scene.frames for scene in self.scenes)

    @property
    def duration(self) -> Fraction:
        """Exact seconds."""
        return self.rate.time_of(self.frames)

    def offset(self, scene: str) -> int:
        """The frame at which a scene starts. Raises KeyError for one that is not here."""
        return {one.id: frame for frame, one in self._offsets()}[scene]

    def starts(self) -> tuple[tuple[Fraction, Scene], ...]:
        """Every scene with the exact second at which it starts."""
        return tuple((self.rate.time_of(frame), scene) for frame, scene in self._offsets())

    def _offsets(self) -> Iterator[tuple[int, Scene]]:
        frame = 0
        for scene in self.scenes:
            yield frame, scene
            frame += scene.frames

    @property
    def captions(self) -> tuple[Caption, ...]:
        """All captions, in seconds of the segment."""
        return tuple(
            Caption(start + one.start, start + one.end, one.text)
            for start, scene in self.starts()
            for one in scene.captions
        )

    @property
    def chapters(self) -> tuple[Marker, ...]:
        """The start of every scene, with its title."""
        return tuple(Marker(start, "scene", scene.title or scene.id) for start, scene in self.starts())

    @property
    def markers(self) -> tuple[Marker, ...]:
        """Scene starts, passes, bars and beats, in seconds of the segment."""
        inner = (
            Marker(start + one.second, one.kind, one.label)
            for start, scene in self.starts()
            for one in scene.markers
        )
        return tuple(sorted((*self.chapters, *inner), key=lambda marker: marker.second))


@dataclass(frozen=True)
class Right:
    """A file made by somebody: its name, what kind it is, and why it may be used."""

    name: str
    kind: str
    rights: str


@dataclass(frozen=True, eq=False)
class Lesson:
    """An episode. Fragments are as written, repeats and all."""

    title: str
    teacher: str
    language: str
    rate: Rate
    width: int
    height: int
    look: Look
    segments: tuple[Segment, ...]
    fragments: tuple[tuple[str, Fragment], ...]
    handout: "HandoutKeys | None" = None
    credits: tuple[str, ...] = ()
    rights: tuple[Right, ...] = ()
    habits: Habits = field(default_factory=Habits)
    """What the player tends to do."""

    @property
    def scenes(self) -> tuple[Scene, ...]:
        """All scenes in order."""
        return tuple(scene for segment in self.segments for scene in segment.scenes)

    def scene(self, name: str) -> Scene:
        """A scene by its id. Raises KeyError."""
        return {scene.id: scene for scene in self.scenes}[name]

    def segment(self, name: str) -> Segment:
        """A segment by its id. Raises KeyError."""
        return {segment.id: segment for segment in self.segments}[name]

    def fragment(self, name: str) -> Fragment:
        """A fragment by its name. Raises KeyError."""
        return dict(self.fragments)[name]
