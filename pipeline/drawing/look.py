"""A look: type, weights, spacing, colours and motion for film and print, read from one file.

Colours are named by role, not by hue; sizes are shares of the frame height so that one look serves any
frame and the page.
"""

from dataclasses import dataclass

from pipeline.drawing.picture import Colour


@dataclass(frozen=True)
class Look:
    """One look. `palette` maps roles to colours; `sizes` maps roles to shares of the frame height."""

    name: str
    palette: tuple[tuple[str, Colour], ...]
    sizes: tuple[tuple[str, float], ...]
    lines: tuple[tuple[str, float], ...]
    """Line weights as shares of the frame height."""
    motion: tuple[tuple[str, float], ...]
    """Seconds: how early things arrive, how long they leave, the hand's glide."""

    def colour(self, role: str) -> Colour:
        return dict(self.palette)[role]

    def size(self, role: str) -> float:
        return dict(self.sizes)[role]

    def line(self, role: str) -> float:
        return dict(self.lines)[role]

    def seconds(self, role: str) -> float:
        return dict(self.motion)[role]
