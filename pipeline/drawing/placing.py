"""Pictures seen through a transform, layer by layer."""

from pipeline.drawing.affine import box_at, compose
from pipeline.drawing.affine import scaled as scaling
from pipeline.drawing.picture import Affine, Group, Mark, Picture


def scaled(picture: Picture, scale: float) -> Picture:
    """The same picture at another size; each layer stays a layer."""
    marks = tuple(under(mark, scaling(scale)) for mark in picture.marks)
    return Picture(picture.width * scale, picture.height * scale, marks, picture.background)


def under(mark: Mark, affine: Affine) -> Group:
    """A mark sent through a transform; its own tuple of marks is kept, so that its sprite is too."""
    if not isinstance(mark, Group):
        return Group((mark,), affine, name=mark.name)
    clip = None if mark.clip is None else box_at(affine, mark.clip)
    return Group(mark.marks, compose(affine, mark.transform), mark.opacity, clip, mark.name)
