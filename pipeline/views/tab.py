"""The tab view: frets on strings in time, paged or scrolling, with a cursor that is exact to the note."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from pipeline.drawing.picture import Mark, Picture
from pipeline.views.brush import panel
from pipeline.views.columns import make_sheet
from pipeline.views.lanes import Wants
from pipeline.views.paging import paged
from pipeline.views.rows import (
    Laid,
    between,
    edge,
    full_strip,
    lay_rows,
    least_signs,
    least_strip,
    rows_of,
    shown_measures,
    side,
    strip_sizes,
)
from pipeline.views.scrolling import lay_strip, scrolled
from pipeline.views.stage import Stage


@dataclass(frozen=True)
class Tab:
    """Tab of the scene's fragment, in step with the sound.

    strip      `paged` (stands still, turns at bars) or `scrolling` (moves under a fixed cursor)
    rows       how many rows a page has; 0 takes as many as the room allows
    strokes    pick strokes over the strings
    fingers    fretting fingers under the strings
    rhythm     note values under the strings
    numbers    bar numbers
    tuning     the strings' letters
    cursor     the band that moves with the music
    panel      a ground of the look's colour under the strip
    """

    strip: Literal["paged", "scrolling"] = "paged"
    rows: int = 0
    strokes: bool = True
    fingers: bool = True
    rhythm: bool = True
    numbers: bool = True
    tuning: bool = True
    cursor: bool = True
    panel: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The tab at scene second t."""
        ground: list[Mark] = [panel(stage)] if self.panel else []
        laid = lay(self, stage)
        if laid is not None:
            ground.extend(scrolled(laid, t) if self.strip == "scrolling" else paged(laid, t))
        return Picture(float(stage.width), float(stage.height), tuple(ground))

    @property
    def wants(self) -> Wants:
        return Wants(self.strokes, self.fingers, self.rhythm, self.numbers, self.tuning)

    def least_height(self, stage: Stage) -> float:
        """One row at its tightest, with how each note is played; more rows are shown where they fit."""
        if stage.fragment is None or not stage.fragment.measures:
            return 0.0
        signs = least_signs(self.wants, stage, stage.fragment)
        return least_strip(self.wants, stage, stage.fragment) + signs

    def easy_height(self, stage: Stage) -> float:
        """One row with every lane."""
        if stage.fragment is None or not stage.fragment.measures:
            return 0.0
        return full_strip(self.wants, stage, stage.fragment)

    def left_out(self, stage: Stage) -> tuple[str, ...]:
        """What the strip has no room for."""
        laid = lay(self, stage)
        return laid.brush.sheet.sizes.left_out if laid else ()

    def height(self, stage: Stage) -> float:
        """The height in pixels that shows the whole fragment in rows at the look's own sizes."""
        if stage.fragment is None or not stage.fragment.measures:
            return 0.0
        sizes = strip_sizes(self.wants, stage, stage.fragment, 1e9)
        sheet = make_sheet(stage.fragment, self.wants, sizes)
        measures = shown_measures(stage, stage.fragment)
        rows = len(rows_of(sheet, measures, stage.width - 2 * side(stage), not stage.passes))
        return rows * sizes.height + (rows - 1) * between(stage) + 2 * edge(stage)


@lru_cache(maxsize=32)
def lay(view: Tab, stage: Stage) -> Laid | None:
    """Lay the stage's fragment out; None where there is none."""
    if stage.fragment is None or not stage.fragment.measures:
        return None
    if view.strip == "scrolling":
        return lay_strip(stage, stage.fragment, view.wants, view.cursor)
    return lay_rows(stage, stage.fragment, view.wants, view.rows, view.cursor)
