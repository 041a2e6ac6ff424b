"""A scene's views composed on one frame.

A view's top-level marks stay top-level layers of the frame: each is moved by composing its transform, and an
unchanged mark gives the same object from frame to frame, so that film redraws only what differs.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from pipeline.drawing.affine import compose, moved
from pipeline.drawing.bounds import ink
from pipeline.drawing.picture import IDENTITY, Affine, Box, Colour, Mark, Picture
from pipeline.drawing.placing import under
from pipeline.views.stage import Stage, View

FOCUS = ("cursor", "sounding")
"""Names of marks that say where in a view the music is."""


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
    """A closer look at a placed view: between two scene seconds, so many times larger."""

    view: int
    start: Fraction
    end: Fraction
    by: float
    glide: Fraction
    """Seconds it takes to come near before its start, and to go back after its end."""


@dataclass(frozen=True)
class Composition:
    """The views of a frame and the zooms into them."""

    width: int
    height: int
    placed: tuple[Placed, ...]
    zooms: tuple[Zoom, ...] = ()

    def picture(self, t: Fraction, ground: Colour | None = None) -> Picture:
        """The frame at scene second t; transparent where there is no ground."""
        camera = _camera(self, t)
        marks: list[Mark] = []
        for one in self.placed:
            at = compose(camera, moved(one.box.x, one.box.y))
            marks += (_layer(mark, at) for mark in one.marks(t))
        return Picture(self.width, self.height, tuple(marks), ground)


@lru_cache(maxsize=8192)
def _layer(mark: Mark, at: Affine) -> Mark:
    """A view's layer in the frame: equal marks at one place give one object."""
    if at == IDENTITY:
        return mark
    return under(mark, at)


def _camera(frame: Composition, t: Fraction) -> Affine:
    """How the whole frame is seen: a zoom glides in before its moment and out after its end."""
    for zoom in frame.zooms:
        if zoom.start - zoom.glide < t < zoom.end + zoom.glide:
            into = (t - (zoom.start - zoom.glide)) / zoom.glide if t < zoom.start else Fraction(1)
            out = (zoom.end + zoom.glide - t) / zoom.glide if t >= zoom.end else Fraction(1)
            return _closer(frame, zoom, _eased(float(min(into, out))))
    return IDENTITY


def _eased(share: float) -> float:
    """Slow at both ends (a cubic Hermite step)."""
    return share * share * (3 - 2 * share)


def _closer(frame: Composition, zoom: Zoom, share: float) -> Affine:
    """The frame `share` of the way to the zoom, never showing beyond the frame's edges."""
    by = 1 + (zoom.by - 1) * share
    x, y = _focus(frame.placed[zoom.view], zoom.start)
    seen_width, seen_height = frame.width / by, frame.height / by
    left = min(max(x - seen_width / 2, 0.0), frame.width - seen_width)
    top = min(max(y - seen_height / 2, 0.0), frame.height - seen_height)
    return (by, 0.0, 0.0, by, -by * left, -by * top)


@lru_cache(maxsize=256)
def _focus(placed: Placed, t: Fraction) -> tuple[float, float]:
    """The point of the frame to look at: where the music is in the view, else the view's middle."""
    for mark in placed.marks(t):
        if any(word in mark.name for word in FOCUS) and (box := ink(mark)) is not None:
            return placed.box.x + box.centre[0], placed.box.y + box.centre[1]
    return placed.box.centre
