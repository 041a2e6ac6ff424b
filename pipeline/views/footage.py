"""The footage view: where the camera picture goes, or a still of it."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from pipeline.drawing.outline import polygon, rounded
from pipeline.drawing.picture import Box, Group, Image, Mark, Path, Picture, Stroke
from pipeline.drawing.typeface import text_width
from pipeline.views.signs import centred
from pipeline.views.stage import Stage
from pipeline.views.wrapping import wrapped


@dataclass(frozen=True)
class Footage:
    """A frame for the camera picture: empty for the editor to fill, with a caption, or with a still in it.

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


def frame_box(view: Footage, stage: Stage) -> Box:
    """Where the camera picture stands in the view."""
    small = max(stage.size("small"), stage.smallest_text)
    lines = _caption(view, stage)
    foot = (len(lines) * 1.25 + 0.3) * small if lines else 0.0
    wide, tall = float(stage.width), stage.height - foot
    if view.shape > 0:
        wide, tall = min(wide, tall * view.shape), min(tall, wide / view.shape)
    return Box((stage.width - wide) / 2, (stage.height - foot - tall) / 2, wide, tall)


def _caption(view: Footage, stage: Stage) -> list[str]:
    small = max(stage.size("small"), stage.smallest_text)
    return wrapped(view.caption, stage.width * 0.98, "regular", small) if view.caption.strip() else []


@lru_cache(maxsize=32)
def _marks(view: Footage, stage: Stage) -> Group:
    box, weight = frame_box(view, stage), stage.line("ring")
    inner = box.inset(weight / 2)
    marks: list[Mark] = []
    if stage.footage is not None:
        marks.append(Image(inner, stage.footage, "still"))
    else:
        marks.append(_camera(stage, box))
    if view.frame:
        stroke = Stroke(stage.look.colour("nut"), weight)
        marks.append(Path(rounded(inner, stage.size("corner")), stroke=stroke, name="frame"))
    small = max(stage.size("small"), stage.smallest_text)
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
