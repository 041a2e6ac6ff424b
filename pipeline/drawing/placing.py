"""Pictures laid into pictures: at another size, or into a box of a larger one, layer by layer."""

from pipeline.drawing.affine import box_at, compose, moved
from pipeline.drawing.affine import scaled as scaling
from pipeline.drawing.picture import Affine, Box, Group, Mark, Picture


def scaled(picture: Picture, scale: float) -> Picture:
    """The same picture at another size; each layer stays a layer."""
    marks = tuple(under(mark, scaling(scale)) for mark in picture.marks)
    return Picture(picture.width * scale, picture.height * scale, marks, picture.background)


def under(mark: Mark, affine: Affine) -> Group:
    """A mark sent through a transform; its own tuple of marks is kept, so that its sprite is too."""
    if not isinstance(mark, Group):
        return Group((mark,), affine)
    clip = None if mark.clip is None else box_at(affine, mark.clip)
    return Group(mark.marks, compose(affine, mark.transform), mark.opacity, clip, mark.name)


def placed(picture: Picture, x: float, y: float, cut: bool = True) -> tuple[Group, ...]:
    """The layers of a picture with its corner at (x, y) of a larger one, cut at its edges.

    The background of the inner picture is not drawn.
    """
    edge = Box(x, y, picture.width, picture.height) if cut else None
    return tuple(Group((under(mark, moved(x, y)),), clip=edge) for mark in picture.marks)
