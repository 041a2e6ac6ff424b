"""What jobs are handed: immutable data, light to load, so that planning loads nothing that draws."""

from dataclasses import dataclass

from pipeline.lesson.lesson import Segment
from pipeline.lesson.scene import Scene
from pipeline.targets.wish import Alpha


@dataclass(frozen=True)
class Stretch:
    """Frames `first` up to, not including, `last` of a scene."""

    scene: Scene
    first: int
    last: int
    alpha: Alpha = "prores"
    faster: bool = False
    """Draft quality: the quickest encoding."""

    @property
    def size(self) -> tuple[int, int]:
        return self.scene.width, self.scene.height


@dataclass(frozen=True)
class FilmOf:
    """A segment's film: `needs` are the pictures of its scenes, their sounds, and the level."""

    segment: Segment
    faster: bool = False
