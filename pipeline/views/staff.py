"""The staff view: notation on a staff, with the tab exactly under it, in step with the sound."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from pipeline.drawing.picture import Mark, Picture
from pipeline.music.fragment import Fragment
from pipeline.views.brush import panel
from pipeline.views.engraved import SPACE, Engraved
from pipeline.views.engraving import engrave
from pipeline.views.lanes import Wants
from pipeline.views.paging import paged
from pipeline.views.rows import Laid, full_strip, lay_rows, least_signs, least_strip
from pipeline.views.staffover import StaffOver
from pipeline.views.staffshapes import OVER, UNDER, StaffShapes
from pipeline.views.stage import Stage

CLEF = 3.4
"""Room for the clef, in staff spaces."""
APART = 0.3
"""Between an accidental and what stands before it."""
SHARE = 0.44
"""The staff takes at most this share of the height."""
LEAST_SPACE, EASY_SPACE = 0.25, 0.38
"""A staff space is at least so many small type sizes; the second is easily read."""


@dataclass(frozen=True)
class Staff:
    """A staff, engraved an octave over what sounds, with the tab under it: every note over its fret.

    rows       how many rows a page has; 0 takes as many as the room allows
    strokes    pick strokes over the tab
    fingers    fretting fingers under the tab
    numbers    bar numbers
    tuning     the strings' letters
    cursor     the band that moves with the music
    panel      a ground of the look's colour under the view
    """

    rows: int = 0
    strokes: bool = True
    fingers: bool = True
    numbers: bool = True
    tuning: bool = True
    cursor: bool = True
    panel: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """Staff and tab at scene second t."""
        marks: list[Mark] = [panel(stage)] if self.panel else []
        laid = lay(self, stage)
        if laid is not None:
            marks.extend(paged(laid, t))
        return Picture(float(stage.width), float(stage.height), tuple(marks))

    def least_height(self, stage: Stage) -> float:
        """The smallest staff over the tightest strings, with how each note is played."""
        return self._height(stage, LEAST_SPACE, _least)

    def easy_height(self, stage: Stage) -> float:
        """A staff that is easily read, over tab that leaves nothing out."""
        return self._height(stage, EASY_SPACE, full_strip)

    def _height(self, stage: Stage, space: float, strip: Callable[[Wants, Stage, Fragment], float]) -> float:
        if stage.fragment is None or not written(stage.fragment):
            return 0.0
        engraved, size = engrave(stage.fragment), space * stage.small_type
        tab = strip(self.wants(engraved, size), stage, stage.fragment)
        return tab + _spaces(engraved) * min(size, stage.size("staff-gap"))

    def left_out(self, stage: Stage) -> tuple[str, ...]:
        """What the tab has no room for."""
        laid = lay(self, stage)
        return laid.brush.sheet.sizes.left_out if laid else ()

    def wants(self, engraved: Engraved, space: float) -> Wants:
        """What the tab under a staff of so many pixels a space shows, and the room that the staff takes."""
        scale = space / SPACE
        reaches = tuple(
            (beat, left * scale + space * APART, right * scale) for beat, left, right in engraved.reaches
        )
        return Wants(
            self.strokes,
            self.fingers,
            False,
            self.numbers,
            self.tuning,
            CLEF * space,
            reaches,
            engraved.bend_step * scale,
            tuple((note, left * scale + space * APART) for note, left in engraved.signed),
        )


@lru_cache(maxsize=16)
def lay(view: Staff, stage: Stage) -> Laid | None:
    """Lay staff and tab out; None where no note can be written."""
    fragment = stage.fragment
    if fragment is None or not written(fragment):
        return None
    engraved = engrave(fragment)
    space = _space(view, stage, fragment, engraved)
    over = StaffOver(StaffShapes(fragment, engraved, space))
    return lay_rows(stage, fragment, view.wants(engraved, space), view.rows, view.cursor, over)


def _least(wants: Wants, stage: Stage, fragment: Fragment) -> float:
    return least_strip(wants, stage, fragment) + least_signs(wants, stage, fragment)


def written(fragment: Fragment) -> bool:
    """Whether some note of a fragment can stand on a staff."""
    return bool(fragment.measures) and any(note.pitch is not None for note in fragment.notes)


def _spaces(engraved: Engraved) -> float:
    """The height of a staff with all that stands over and under it, in its spaces."""
    return (engraved.bottom - engraved.top) / SPACE + OVER + UNDER


def _space(view: Staff, stage: Stage, fragment: Fragment, engraved: Engraved) -> float:
    """A staff space in pixels: the look's, or less where the room is small, so that the tab leaves nothing
    out."""
    spaces, small, rows = _spaces(engraved), stage.small_type, max(1, view.rows)
    tab = full_strip(view.wants(engraved, small), stage, fragment)
    most = min(stage.size("staff-gap"), stage.height * SHARE / rows / spaces)
    return max(min(most, (stage.height / rows - tab) / spaces), small * LEAST_SPACE)
