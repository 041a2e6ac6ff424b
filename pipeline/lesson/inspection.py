"""Looks at the finished pictures of a scene and measures what the rules of legible, safe film ask for.

Every measure is taken from `Scene.picture` at sampled moments, flashes from every frame. Rules: text of a
thirtieth of the frame's height at least (of 1.25 times the width on upright frames); contrast 4.5 for words
and 3 for marks (WCAG 2.2, SC 1.4.3 and 1.4.11); no more than three flashes a second (SC 2.3.1); words inside
the safe area (SMPTE ST 2046-1, 5 %), everything in the frame; no words on words; every character in the
typeface; colours of states told apart by every sight.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from pipeline.drawing.affine import scaled
from pipeline.drawing.contrast import MARKS, TEXT
from pipeline.drawing.flashes import FlashCounter, Verdict
from pipeline.drawing.overlap import leaves
from pipeline.drawing.picture import Box, Colour, Mark, Picture
from pipeline.drawing.placing import under
from pipeline.drawing.roles import SMALLEST_TEXT
from pipeline.drawing.vision import Apart, told_apart
from pipeline.files.frames import frames
from pipeline.lesson.inspection_marks import (
    NOTHING,
    SLACK,
    Least,
    free_room,
    mark_contrast,
    settled,
    smallest_text,
    unwritable,
    word_contrast,
    words_in_each_other,
)
from pipeline.lesson.rooms import safe_area, type_height
from pipeline.lesson.scene import Scene

MOMENTS = 8
"""How many moments of a scene are looked at, evenly over it; the still's own moment comes on top."""
FLASH_WIDTH = 320
"""Pixels across the frames in which flashes are counted."""
LEAST_APART = 15.0
"""Distance in CIE L*a*b* that colours of different meaning keep; about 2.3 can just be noticed."""
BLACK, WHITE = Colour(0, 0, 0), Colour(255, 255, 255)

Heard = Callable[[float], None]
"""Hears which share of a scene's frames was looked at."""


@dataclass(frozen=True)
class Broken:
    """A rule that a scene's pictures break: what is wrong, what would be right, and where on the frame."""

    wrong: str
    remedy: str
    box: Box | None = None


@dataclass(frozen=True)
class Inspection:
    """What was measured on one scene; the worst value of each measure."""

    scene: str
    text: Least
    """The smallest type size, as a share of the frame height that type goes by (`rooms.type_height`)."""
    words: Least
    """The lowest contrast of a text."""
    marks: Least
    """The lowest contrast of a mark that carries meaning."""
    flashes: Verdict
    overlapping: tuple[Least, ...]
    """Texts that lie on one another, with the square pixels of common ink."""
    missing: str
    """Characters that no glyph exists for."""
    frame: Least
    """The least distance of a mark from the frame's edge, in pixels; negative outside."""
    safe: Least
    """The same for words and the safe area."""
    sight: Apart
    """The two roles of the look that stand closest, for the sight that tells them worst."""


def inspect(scene: Scene, tell: Heard = lambda share: None) -> Inspection:
    """Measure one scene."""
    shots = [scene.picture(t, "film") for t in moments(scene)]
    seen = [tuple(leaves(settled(shot).marks)) for shot in shots]
    frame, safe = Box(0, 0, scene.width, scene.height), safe_area(scene.width, scene.height)
    grounds, tall = _grounds(scene), type_height(scene.width, scene.height)
    return Inspection(
        scene.id,
        min((smallest_text(found, tall) for found in seen), default=NOTHING),
        min((word_contrast(shot, ground) for shot in shots for ground in grounds), default=NOTHING),
        min((mark_contrast(shot, grounds[0], scene.look) for shot in shots), default=NOTHING),
        count_flashes(scene, tell),
        tuple(dict.fromkeys(pair for shot in shots for pair in words_in_each_other(shot))),
        unwritable(leaf for found in seen for leaf in found),
        min((free_room(found, frame) for found in seen), default=NOTHING),
        min((free_room(found, safe, only_words=True) for found in seen), default=NOTHING),
        min(told_apart(scene.look), key=lambda apart: apart.distance),
    )


def moments(scene: Scene) -> tuple[Fraction, ...]:
    """The moments at which a scene is looked at: frames, each in the middle of its share of the scene."""
    evenly = [scene.rate.time_of(scene.frames * (2 * n + 1) // (2 * MOMENTS)) for n in range(MOMENTS)]
    return tuple(sorted({*evenly, min(scene.still_at, scene.duration)}))


def count_flashes(scene: Scene, tell: Heard = lambda share: None) -> Verdict:
    """Flashes in every frame of the scene at its own rate, drawn small."""
    counter, by = FlashCounter(scene.rate.value), min(1.0, FLASH_WIDTH / scene.width)
    ground = scene.look.colour("ground")

    def small(t: Fraction) -> Picture:
        picture = scene.picture(t)
        marks = tuple(_smaller(mark, by) for mark in picture.marks)
        return Picture(scene.width * by, scene.height * by, marks, ground)

    for frame in frames(small, scene.rate, 0, scene.frames):
        counter.see(frame.canvas)
        if frame.number % 50 == 0:
            tell(frame.number / scene.frames)
    return counter.verdict


def broken(found: Inspection) -> Iterator[Broken]:
    """Every rule that a scene's pictures break."""
    if found.text.value < SMALLEST_TEXT - 1e-9:
        wrong = (
            f"{found.text.label!r} is written at 1/{1 / found.text.value:.0f} of the height that type goes by"
        )
        yield Broken(
            wrong, "at least 1/30: give it more room or make the look's sizes larger", found.text.box
        )
    for least, floor, what in ((found.words, TEXT, "words"), (found.marks, MARKS, "marks")):
        if least.value < floor:
            wrong = f"{what} {least.label!r} stand out by {least.value:.2f}:1 only"
            yield Broken(wrong, f"at least {floor:g}:1: choose other colours in the look", least.box)
    if not found.flashes.safe:
        wrong = f"it flashes {found.flashes.flashes:g} times a second at frame {found.flashes.frame}"
        yield Broken(wrong, "at most three are safe: play it slower or show less at once")
    for pair in found.overlapping[:3]:
        yield Broken(f"{pair.label} lie on one another", "give the views more room", pair.box)
    if found.missing:
        wrong = f"the typeface has no {' '.join(found.missing)}"
        yield Broken(wrong, "write it with other characters")
    yield from _out_of_room(found)
    if found.sight.distance < LEAST_APART:
        one, other, sight, distance = found.sight
        wrong = f"{one} and {other} look alike with {sight} sight ({distance:.0f} apart)"
        yield Broken(wrong, f"at least {LEAST_APART:.0f}: choose other colours in the look")


def _out_of_room(found: Inspection) -> Iterator[Broken]:
    for least, room in ((found.frame, "the frame"), (found.safe, "the safe area")):
        if least.value < -SLACK:
            wrong = f"{least.label!r} reaches {-least.value:.0f} pixels out of {room}"
            yield Broken(wrong, "give it more room or say it in fewer words", least.box)


def _grounds(scene: Scene) -> tuple[Colour, ...]:
    """What may lie under the pictures: the look's ground, or film of any brightness."""
    return (scene.look.colour("ground"),) if scene.footage is None else (BLACK, WHITE)


@lru_cache(maxsize=4096)
def _smaller(mark: Mark, by: float) -> Mark:
    """A layer seen smaller: equal marks give one object, so that frames still cost what changed."""
    return under(mark, scaled(by))
