"""Where the shapes of an engraved staff stand in a row: heads over their frets, signs beside them."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache, partial
from math import inf

from pipeline.drawing.outline import outline_box, transformed
from pipeline.drawing.picture import Outline
from pipeline.music.fragment import Fragment
from pipeline.views.beams import Beam, beams_of, stubs_of
from pipeline.views.columns import Sheet, bend_steps
from pipeline.views.engraved import SPACE, Engraved, Shape
from pipeline.views.rowbend import Bend, bend_of, source
from pipeline.views.staffjoins import JOINS, part_of
from pipeline.views.strip import System
from pipeline.views.techniques import ARROW, LEAVES
from pipeline.views.tuplets import AROUND, Tuplet, tuplets_of

HEADS = ("notehead", "touch")
OVER, UNDER = 0.3, 0.5
"""Free room over and under a staff, in its spaces."""


@dataclass(frozen=True, eq=False)
class StaffShapes:
    """A fragment's shapes at so many pixels a staff space; y = 0 is where the tab under it begins."""

    fragment: Fragment
    engraved: Engraved
    space: float

    @property
    def scale(self) -> float:
        return self.space / SPACE

    @property
    def height(self) -> float:
        return (self.engraved.bottom - self.engraved.top) * self.scale + self.space * (OVER + UNDER)

    @property
    def top_line(self) -> float:
        """The y of the top staff line in a row."""
        return -self.height + self.space * OVER - self.engraved.top * self.scale

    @cached_property
    def beams(self) -> dict[int, Beam]:
        """The beams, by the groups of the shapes that are a part of them or hang on them."""
        return beams_of(self.engraved.shapes)

    @cached_property
    def stubs(self) -> dict[Shape, float]:
        """Beams at one note alone, by the x of its stem."""
        return stubs_of(self.engraved.shapes)

    @cached_property
    def tuplets(self) -> dict[int, Tuplet]:
        """The tuplets, by the groups of their numbers and brackets."""
        return tuplets_of(self.engraved.shapes)

    @cached_property
    def heads_at(self) -> dict[Fraction | None, list[Shape]]:
        """The heads of chords by their beats; grace notes and brackets are none."""
        found = dict[Fraction | None, list[Shape]]()
        notes = self.fragment.notes
        for shape in (s for s in self.engraved.shapes if s.kind in HEADS and not s.turn):
            if shape.note is not None and not notes[shape.note].grace:
                found.setdefault(shape.beat, []).append(shape)
        return found

    @cached_property
    def of_note(self) -> dict[int, list[Shape]]:
        """The shapes of each note's first part, and of where its bend leads."""
        found = dict[int, list[Shape]]()
        for shape in self.engraved.shapes:
            if shape.note is not None and shape.beat == self.fragment.notes[shape.note].onset:
                found.setdefault(shape.note, []).append(shape)
        return found

    @cached_property
    def stems_up(self) -> frozenset[Fraction | None]:
        """The beats at which stems go up."""
        found = set[Fraction | None]()
        for shapes in (found for note, found in self.of_note.items() if not self.fragment.notes[note].grace):
            heads = [s for s in shapes if s.kind == "notehead" and not s.turn]
            stems = [s for s in shapes if s.kind == "stem"]
            if heads and stems and middle_of(stems[0]) < middle_of(heads[0]):
                found.add(heads[0].beat)
        return frozenset(found)

    def anchor(self, shape: Shape) -> float:
        """What decides which piece a shape belongs to: its note or rest, else its left end."""
        own = self._column(shape)
        if own is not None:
            return own
        if shape.kind == "mRest":
            return sum(shape.ends) / 2
        return shape.ends[0] + min(60.0, (shape.ends[1] - shape.ends[0]) / 2)

    def _column(self, shape: Shape) -> float | None:
        """Where the column of its note or rest stands, None where it belongs to neither."""
        return self._places.get((shape.note, shape.beat))

    @cached_property
    def _places(self) -> dict[tuple[int | None, Fraction | None], float]:
        rests = {(None, beat): x for beat, x in self.engraved.rests}
        return rests | {(note, beat): x for note, beat, x in self.engraved.notes}

    def _hold(self, shape: Shape) -> float | None:
        """The x that a shape keeps its distance to; None for what follows the bend at every point."""
        if shape.kind == "beam" and shape in self.stubs:
            return self.stubs[shape]
        if shape.turn:
            bent = {(note, turn): x for note, turn, x in self.engraved.bends}
            return bent.get((shape.note or 0, shape.turn))
        own = self._column(shape)
        return own if own is not None or not shape.glyph else sum(shape.ends) / 2

    def _bend(self, system: System) -> Bend:
        return _bend_of(self, system)

    def outline(self, sheet: Sheet, shape: Shape, system: System) -> Outline:
        """A shape in a row: signs and what belongs to a note keep their form, all else follows the bend."""
        bend, tuplet = self._bend(system), self.tuplets.get(shape.group)
        if shape.kind in JOINS:
            return self._join(shape, system)
        if tuplet is not None:
            around = AROUND if shape.kind == "tupletBracket" else inf
            to_x = partial(tuplet.placed, bend=bend, scale=self.scale, around=around)
            return self.sent(shape.outline, to_x)
        hold = self._hold(shape)
        if hold is None:
            return self.sent(self._levelled(shape, bend, bend), bend)
        shift = (self._turned(sheet, shape, system) if shape.turn else bend(hold)) - hold * self.scale

        def moved(x: float) -> float:
            return x * self.scale + shift

        return self.sent(self._levelled(shape, bend, moved), moved)

    def _levelled(self, shape: Shape, bend: Bend, to_x: Callable[[float], float]) -> Outline:
        """A shape with what lies on a beam where the beam is in the row."""
        beam = self.beams.get(shape.group)
        if beam is None:
            return shape.outline
        return beam.levelled(shape.outline, bend, to_x, whole=shape.kind == "beam")

    def _join(self, shape: Shape, system: System) -> Outline:
        """What joins two notes, or the part of it that a row has."""
        bend, (left, right) = self._bend(system), (system.placed[0], system.placed[-1])
        start, end = source(self.engraved, left)[0], source(self.engraved, right)[1]
        comes, goes = shape.ends[0] < start, shape.ends[1] > end
        if not (comes or goes):
            return self.sent(shape.outline, bend)
        from_x = left.x if comes else bend(shape.ends[0])
        to_x = right.right if goes else bend(shape.ends[1])
        return part_of(shape, (from_x, to_x), (comes, goes), self.space, self.top_line)

    def _turned(self, sheet: Sheet, shape: Shape, system: System) -> float:
        """Where the head that a bend leads to stands: under the tip of the tab's arrow."""
        assert shape.note is not None
        steps = bend_steps(sheet, self.fragment.notes[shape.note])[: shape.turn]
        start = system.xs[shape.note] + sheet.note_half(shape.note) + sheet.sizes.gap * LEAVES
        return start + sum(steps) - steps[-1] * (1 - ARROW)

    def sent(self, outline: Outline, to_x: Callable[[float], float]) -> Outline:
        """An outline in pixels, its x put where `to_x` says."""
        level = transformed(outline, (1.0, 0.0, 0.0, self.scale, 0.0, self.top_line))
        return tuple(
            (name, tuple(to_x(v) if i % 2 == 0 else v for i, v in enumerate(values)))
            for name, values in level
        )


def middle_of(shape: Shape) -> float:
    """The y of its middle, in the engraver's units."""
    box = outline_box(shape.outline)
    return box.centre[1] if box else 0.0


@lru_cache(maxsize=128)
def _bend_of(shapes: StaffShapes, system: System) -> Bend:
    return bend_of(shapes.engraved, shapes.fragment, system, shapes.scale)
