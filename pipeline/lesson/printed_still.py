"""A picture out of a scene as a printed figure: the look for paper, no larger than its type needs."""

from dataclasses import replace
from fractions import Fraction

from pipeline.drawing.bounds import picture_ink
from pipeline.drawing.look import load_look
from pipeline.drawing.picture import Group, Picture
from pipeline.files.pages import Figure
from pipeline.lesson.filmed import film_marks
from pipeline.lesson.printed import LOOK
from pipeline.lesson.rooms import type_height
from pipeline.lesson.scene import Scene

TYPE_MM, TEXT_MM = 76.0, 172.0
"""How tall a frame is printed that type is sized by, so that small type is 7 points; and the least width of
text on a page of any paper."""
MARGIN = 0.01
"""Empty rim around what is drawn, as a share of the frame's height."""


def still_figure(scene: Scene, second: Fraction, caption: str) -> Figure:
    """The scene at a second, on paper's own ground: its views as they stand, without an empty rim."""
    look = load_look(LOOK)
    placed = tuple(replace(one, stage=replace(one.stage, look=look)) for one in scene.composition.placed)
    shown = replace(scene.composition, placed=placed).picture(second)
    picture = _trimmed(replace(shown, marks=(*film_marks(scene, second), *shown.marks)))
    millimetres = TYPE_MM / type_height(scene.width, scene.height)
    share = min(1.0, picture.width * millimetres / TEXT_MM)
    return Figure(picture, f"A picture from the scene {scene.title or scene.id}", caption, share)


def _trimmed(picture: Picture) -> Picture:
    ink = picture_ink(picture)
    if ink is None:
        return picture
    rim = MARGIN * picture.height
    left, top = max(0.0, ink.x - rim), max(0.0, ink.y - rim)
    right, bottom = min(picture.width, ink.right + rim), min(picture.height, ink.bottom + rim)
    marks = (Group(picture.marks, (1.0, 0.0, 0.0, 1.0, -left, -top)),)
    return Picture(right - left, bottom - top, marks)
