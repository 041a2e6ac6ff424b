"""A scene's views composed on one frame.

A view's top-level marks stay top-level layers of the frame: each is moved by composing its transform, and an
unchanged mark gives the same object from frame to frame, so that film redraws only what differs.
"""

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from pipeline.drawing.affine import moved
from pipeline.drawing.picture import IDENTITY, Affine, Box, Colour, Group, Mark, Picture
from pipeline.drawing.placing import under
from pipeline.views.stage import Stage, View


@dataclass(frozen=True)
class Placed:
    """A view in its box of the frame, with the stage it draws for."""

    name: str
    view: View
    stage: Stage
    box: Box
    since: Fraction
    until: Fraction
    """Shown in [since, until) of the scene; the stage's seconds count from `since`."""

    def marks(self, t: Fraction) -> tuple[Mark, ...]:
        """The view's layers at scene second t."""
        return self.view.picture(self.stage, t - self.since).marks if self.since <= t < self.until else ()


@dataclass(frozen=True)
class Zoom:
    """A closer look at a placed view: between two scene seconds it has the frame to itself, drawn larger."""

    view: int
    start: Fraction
    end: Fraction
    by: float
    glide: Fraction
    """Seconds it takes to come near before its start, and to go back after its end."""
    closer: Placed
    """The view laid out for the whole safe area at so many times the size: nothing of it is cut off."""


def closer_look(placed: Placed, room: Box, by: float) -> Placed:
    """A view laid out anew for a room, `by` times larger than its usual type and lines."""
    stage = replace(placed.stage, width=round(room.width / by), height=round(room.height / by))
    return replace(placed, stage=stage, box=room)


@dataclass(frozen=True)
class Composition:
    """The views of a frame and the zooms into them."""

    width: int
    height: int
    placed: tuple[Placed, ...]
    zooms: tuple[Zoom, ...] = ()

    def picture(self, t: Fraction, ground: Colour | None = None) -> Picture:
        """The frame at scene second t; transparent where there is no ground."""
        zoom, share = _zoom_at(self, t)
        marks: list[Mark] = []
        if zoom is None or share < 1:
            for one in self.placed:
                at = moved(one.box.x, one.box.y)
                marks += (_layer(mark, at, 1 - share) for mark in one.marks(t))
        if zoom is not None:
            at = _nearing(self.placed[zoom.view].box, zoom, share)
            marks += (_layer(mark, at, share) for mark in zoom.closer.marks(t))
        return Picture(self.width, self.height, tuple(marks), ground)


@lru_cache(maxsize=8192)
def _layer(mark: Mark, at: Affine, opacity: float) -> Mark:
    """A view's layer in the frame: equal marks at one place give one object."""
    if opacity < 1:
        return Group((mark,), at, opacity, name=mark.name)
    return mark if at == IDENTITY else under(mark, at)


def _zoom_at(frame: Composition, t: Fraction) -> tuple[Zoom | None, float]:
    """The zoom that is under way at a second and how near it is, 0 to 1: it glides in before its moment and
    out after its end."""
    for zoom in frame.zooms:
        if zoom.start - zoom.glide < t < zoom.end + zoom.glide:
            into = (t - (zoom.start - zoom.glide)) / zoom.glide if t < zoom.start else Fraction(1)
            out = (zoom.end + zoom.glide - t) / zoom.glide if t >= zoom.end else Fraction(1)
            return zoom, _eased(float(min(into, out)))
    return None, 0.0


def _eased(share: float) -> float:
    """Slow at both ends (a cubic Hermite step)."""
    return share * share * (3 - 2 * share)


def _nearing(box: Box, zoom: Zoom, share: float) -> Affine:
    """Where the closer look stands: `share` of the way from the view's own box to the room it fills."""
    room = zoom.closer.box
    first = min(box.width / room.width, box.height / room.height)
    grown = first + (1 - first) * share
    x, y = (a + (b - a) * share for a, b in zip(box.centre, room.centre, strict=True))
    scale = grown * zoom.by
    return (scale, 0.0, 0.0, scale, x - grown * room.width / 2, y - grown * room.height / 2)
