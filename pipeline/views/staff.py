"""The staff view: notation on a staff, with the tab exactly under it, in step with the sound."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from pipeline.drawing.picture import Mark, Picture
from pipeline.views.brush import panel
from pipeline.views.engraved import SPACE, Engraved
from pipeline.views.engraving import engrave
from pipeline.views.lanes import Wants
from pipeline.views.paging import paged
from pipeline.views.rows import Laid, lay_rows, least_strip
from pipeline.views.staffover import StaffOver
from pipeline.views.stage import Stage

CLEF = 3.4
"""Room for the clef, in staff spaces."""
APART = 0.3
"""Between an accidental and what stands before it."""
SHARE, SMALLEST_SPACE = 0.44, 0.36
"""The staff takes at most this share of the height; a staff space is at least so many small type sizes."""


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
        """One row of tab at its tightest beside the share that the staff takes."""
        if stage.fragment is None or not stage.fragment.measures:
            return 0.0
        bare = Wants(self.strokes, self.fingers, False, self.numbers, self.tuning)
        return least_strip(bare, stage, stage.fragment) / (1 - SHARE)

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
        )


@lru_cache(maxsize=16)
def lay(view: Staff, stage: Stage) -> Laid | None:
    """Lay staff and tab out; None where no note can be written."""
    fragment = stage.fragment
    if fragment is None or not fragment.measures or not any(n.pitch is not None for n in fragment.notes):
        return None
    engraved = engrave(fragment)
    space = _space(view, stage, engraved)
    over = StaffOver(stage, fragment, engraved, space)
    return lay_rows(stage, fragment, view.wants(engraved, space), view.rows, view.cursor, over)


def _space(view: Staff, stage: Stage, engraved: Engraved) -> float:
    """A staff space in pixels: the look's, or less where the room is small."""
    spaces = (engraved.bottom - engraved.top) / SPACE + 0.6
    small = max(stage.size("small"), stage.smallest_text)
    most = stage.height * SHARE / max(1, view.rows) / spaces
    return max(min(stage.size("staff-gap"), most), small * SMALLEST_SPACE * 0.5)
