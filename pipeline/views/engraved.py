"""A fragment's staff as plain shapes.

Units are the engraver's own: a staff space is `SPACE`, y counts downwards from the top staff line. The
drawing is one endless row; `staffover` bends it to the columns of a strip.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from pipeline.drawing.outline import outline_box
from pipeline.drawing.picture import Outline

SPACE = 180.0


@dataclass(frozen=True)
class Shape:
    """One shape: what it belongs to, its outline, how it is drawn."""

    kind: str
    """The engraver's class of it: notehead, stem, beam, slur, meterSig, clef, barLine, staff ..."""
    group: int
    """Shapes with one number are parts of one sign."""
    note: int | None
    """The note it belongs to; of what a chord has in common, one of its notes."""
    beat: Fraction | None
    """When the note part or rest it belongs to starts."""
    outline: Outline
    width: float | None
    """Of the line, None for a filled shape."""
    glyph: bool
    filled: bool = True

    @cached_property
    def ends(self) -> tuple[float, float]:
        box = outline_box(self.outline)
        return (box.x, box.right) if box else (0.0, 0.0)


@dataclass(frozen=True)
class Engraved:
    """A fragment's staff: its shapes, where note parts stand, where each measure ends."""

    shapes: tuple[Shape, ...]
    notes: tuple[tuple[int, Fraction, float], ...]
    """Note index, beat, and where its column stands: the middle of most heads of its chord."""
    rests: tuple[tuple[Fraction, float], ...]
    """Beats of rests and their middles; a bar's rest stands in the middle of its bar and has none."""
    bars: tuple[float, ...]
    top: float
    bottom: float
