"""The scene that the film benchmarks draw: tab over neck with a moving cursor, made up, ten minutes.

A line of twelve seconds is played again and again, so that the cursor never rests.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache

from pipeline.drawing.picture import Box, Colour, Picture
from pipeline.files.frames import Frame, frames
from pipeline.lesson.arrange import Composition, Placed
from pipeline.timing import Rate
from pipeline.views.neck import Neck
from pipeline.views.stage import Pass
from pipeline.views.tab import Tab
from tests.views.corpus import lead_line, stage_of

KINDS = ("paged", "scrolling", "one in eight")
RATE = Rate(Fraction(60))
LASTING = Fraction(602)
GROUND = Colour(20, 22, 26)


@cache
def scene(kind: str, width: int, height: int) -> Callable[[Fraction], Picture]:
    """Scene second → picture. `one in eight` shows the paged scene at an eighth of 60 frames a second."""
    fragment, margin = lead_line(), height // 20
    high = (height - 3 * margin) // 2
    strip = "scrolling" if kind == "scrolling" else "paged"
    placed = []
    for row, view in enumerate((Tab(strip=strip), Neck())):  # type: ignore[arg-type]
        once = stage_of(fragment, width - 2 * margin, high, frame=height, speed=Fraction(1, 2))
        stage = replace(once, passes=tuple(_again(once.passes[0])), duration=LASTING)
        box = (margin, margin + row * (high + margin), width - 2 * margin, high)
        placed.append(Placed(type(view).__name__, view, stage, _box(box), Fraction(0), LASTING))
    composed = Composition(width, height, tuple(placed))
    if kind != "one in eight":
        return composed.picture
    return lambda t: composed.picture(Fraction(int(t * 60) // 8 * 8, 60))


def drawn(
    kind: str, size: tuple[int, int], rate: Rate, first: int, last: int, opaque: bool
) -> Iterator[Frame]:
    """Frames of the benchmark's scene, starting a second in, where it plays."""
    picture_at = scene(kind, *size)
    begin = rate.frames_in(Fraction(1))
    for frame in frames(picture_at, rate, begin + first, begin + last, GROUND if opaque else None):
        yield Frame(frame.number - begin, frame.canvas, frame.changed)


def _again(one: Pass) -> Iterator[Pass]:
    """A pass repeated without a rest until the scene ends."""
    length = one.span.length
    for number in range(int((LASTING - one.span.start) / length)):
        yield replace(one, moments=one.moments.shifted(number * length))


def _box(edges: tuple[int, int, int, int]) -> Box:
    return Box(*map(float, edges))
