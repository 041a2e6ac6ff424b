"""The footage view: where the camera picture goes, as film or as a still."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from pipeline.drawing.outline import polygon, rounded
from pipeline.drawing.picture import Box, Group, Image, Mark, Path, Picture, Stroke
from pipeline.drawing.typeface import text_width
from pipeline.views.signs import centred
from pipeline.views.stage import Stage
from pipeline.views.wrapping import wrapped

LEAST_FRAME = 3.0
"""The least height of the frame, in small type sizes."""


@dataclass(frozen=True)
class Footage:
    """A frame for the camera picture: with film or a still in it, or empty for the editor to fill.

    caption    words under the frame, such as which camera is meant
    frame      a line around it
    shape      width to height, such as 1.7778; 0 takes the room as it is
    """

    caption: str = ""
    frame: bool = True
    shape: float = 0.0

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The frame; it does not change with t."""
        return Picture(float(stage.width), float(stage.height), _marks(self, stage).marks)

    def least_height(self, stage: Stage) -> float:
        """The caption, and a frame of a few lines' height."""
        return ((len(_caption(self, stage)) * 1.25 + 0.3) if self.caption else 0.0) * stage.small_type + (
            LEAST_FRAME * stage.small_type
        )


def frame_box(view: Footage, stage: Stage) -> Box:
    """Where the camera picture stands in the view."""
    small = stage.small_type
    lines = _caption(view, stage)
    foot = (len(lines) * 1.25 + 0.3) * small if lines else 0.0
    wide, tall = float(stage.width), stage.height - foot
    if view.shape > 0:
        wide, tall = min(wide, tall * view.shape), min(tall, wide / view.shape)
    return Box((stage.width - wide) / 2, (stage.height - foot - tall) / 2, wide, tall)


def picture_box(view: Footage, stage: Stage) -> Box:
    """Where the film or the still itself lies: inside the middle of the line around it."""
    return frame_box(view, stage).inset(stage.line("ring") / 2)


def _caption(view: Footage, stage: Stage) -> list[str]:
    small = stage.small_type
    return wrapped(view.caption, stage.width * 0.98, "regular", small) if view.caption.strip() else []


@lru_cache(maxsize=32)
def _marks(view: Footage, stage: Stage) -> Group:
    box, weight, inner = frame_box(view, stage), stage.line("ring"), picture_box(view, stage)
    marks: list[Mark] = []
    if stage.footage is not None:
        marks.append(Image(inner, stage.footage, "still"))
    elif not stage.filmed:
        marks.append(_camera(stage, box))
    if view.frame:
        stroke = Stroke(stage.look.colour("nut"), weight)
        marks.append(Path(rounded(inner, stage.size("corner")), stroke=stroke, name="frame"))
    small = stage.small_type
    for number, words in enumerate(_caption(view, stage)):
        y = box.bottom + small * (0.3 + 1.25 * (number + 0.5))
        x = min(max(box.x + text_width(words, "regular", small) / 2, 0.0), stage.width / 2)
        marks.append(centred(words, x, y, small, stage.look.colour("ink"), "regular", f"caption {number}"))
    return Group(tuple(marks), name="footage")


def _camera(stage: Stage, box: Box) -> Mark:
    """A small camera in the middle of an empty frame: a body and its lens."""
    size = min(box.height * 0.16, box.width * 0.16, stage.size("title"))
    x, y = box.centre
    body = rounded(Box(x - size * 0.62, y - size * 0.36, size * 0.86, size * 0.72), size * 0.12)
    lens = polygon(
        ((x + size * 0.34, y), (x + size * 0.66, y - size * 0.28), (x + size * 0.66, y + size * 0.28))
    )
    return Path((*body, *lens), stage.look.colour("string"), name="camera")
