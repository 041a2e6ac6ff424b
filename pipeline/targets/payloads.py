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

    @property
    def size(self) -> tuple[int, int]:
        return self.scene.width, self.scene.height


def poster_path(segment: Segment) -> str:
    """Where a segment's poster lies, from the lesson's folder."""
    return f"posters/{segment.id}.png"
