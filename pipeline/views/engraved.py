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
BEND_SIGN = 1.2 * SPACE
"""Over the small heads that a bend leads to, for the sign that joins them to their note."""
REACHING = ("notehead", "touch", "accid", "dots")
"""What keeps neighbouring columns apart."""


@dataclass(frozen=True)
class Shape:
    """One shape: what it belongs to, its outline, how it is drawn."""

    kind: str
    """The engraver's class of it: notehead, touch, stem, beam, slur, meterSig, clef, barLine, staff ..."""
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
    turn: int = 0
    """Which move of its note's bend it shows, counted from 1; 0 is the note itself."""

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
    bends: tuple[tuple[int, int, float], ...]
    """Note index, move of its bend, and the middle of the small head that shows where it leads."""
    rests: tuple[tuple[Fraction, float], ...]
    """Beats of rests and their middles; a bar's rest stands in the middle of its bar and has none."""
    bars: tuple[float, ...]
    top: float
    bottom: float

    @cached_property
    def reaches(self) -> tuple[tuple[Fraction, float, float], ...]:
        """For each beat how far heads, accidentals and dots reach to the left and right of their column."""
        places = {(note, beat): x for note, beat, x in self.notes}
        found = dict[Fraction, tuple[float, float]]()
        for shape in (s for s in self.shapes if s.kind in REACHING and not s.turn and s.note is not None):
            x = places.get((shape.note or 0, shape.beat or Fraction(0)))
            if shape.beat is not None and x is not None:
                left, right = found.get(shape.beat, (0.0, 0.0))
                found[shape.beat] = max(left, x - shape.ends[0]), max(right, shape.ends[1] - x)
        return tuple((beat, left, right) for beat, (left, right) in sorted(found.items()))

    @cached_property
    def signed(self) -> tuple[tuple[int, float], ...]:
        """For each note with an accidental how far that reaches to the left of its head's middle."""
        places = {(note, beat): x for note, beat, x in self.notes}
        signs = [s for s in self.shapes if s.kind == "accid" and not s.turn and s.note is not None]
        return tuple(
            (s.note, places[s.note, s.beat] - s.ends[0])
            for s in signs
            if s.note is not None and s.beat is not None and (s.note, s.beat) in places
        )

    @property
    def bend_step(self) -> float:
        """The room of a small head with its brackets, and with its accidental where there are some."""
        signed = any(shape.turn and shape.kind == "accid" for shape in self.shapes)
        return SPACE * ((3.4 if signed else 2.4) if self.bends else 0.0)
