"""The staff over rows of tab: the engraver's shapes, moved so that heads stand over their frets."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache, partial
from math import inf

from pipeline.drawing.outline import line, outline_box, rect, rounded, transformed
from pipeline.drawing.picture import Box, Mark, Outline, Path, Stroke
from pipeline.music.fragment import Fragment
from pipeline.views.beams import Beam, beams_of, stubs_of
from pipeline.views.bendsigns import bend_signs
from pipeline.views.brush import Brush
from pipeline.views.columns import bend_steps, meter_width
from pipeline.views.engraved import SPACE, Engraved, Shape
from pipeline.views.rowbend import Bend, bend_of, source
from pipeline.views.signs import repeat_sign
from pipeline.views.staffjoins import JOINS, part_of
from pipeline.views.stage import Stage
from pipeline.views.strip import Placed, System, meter_left
from pipeline.views.techniques import ARROW, LEAVES, piece_notes
from pipeline.views.tuplets import AROUND, Tuplet, tuplets_of

GRACE_ROOM = 1.0
"""Staff spaces by which grace notes make room for an accidental."""
LIT = ("notehead", "touch", "accid")
OVER, UNDER = 0.3, 0.5
"""Free room over and under a staff, in its spaces."""


@dataclass(frozen=True, eq=False)
class StaffOver:
    """A staff to stand over rows of tab."""

    stage: Stage
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
    def aside(self) -> dict[int, float]:
        """How far grace notes stand left of their frets: an accidental of their note stands between."""
        notes = self.fragment.notes
        signs = (shape for shape in self.engraved.shapes if shape.kind == "accid")
        signed = {s.beat for s in signs if s.note is not None and not notes[s.note].grace}
        return {i: GRACE_ROOM * self.space for i, n in enumerate(notes) if n.grace and n.onset in signed}

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

    # what stands ---------------------------------------------------------------------------------------

    def prefix(self, brush: Brush, system: System) -> tuple[Mark, ...]:
        """The line that joins staff and tab, and the clef."""
        clefs = [s for s in self.engraved.shapes if s.kind == "clef"][:1]
        left = min((s.ends[0] for s in clefs), default=0.0)
        x = system.opening + self.space * 0.5
        marks: list[Mark] = [self._line_down(brush, system.opening, to_tab=True)]
        marks += self._lines(brush, system.opening, system.prefix)
        for shape in clefs:
            outline = self._sent(shape.outline, lambda v: x + (v - left) * self.scale)
            marks.append(Path(outline, brush.colour("ink-soft"), name="clef"))
        return tuple(marks)

    def standing(self, brush: Brush, system: System, piece: int) -> tuple[Mark, ...]:
        """The staff over one piece of a row."""
        placed = system.placed[piece]
        marks = self._lines(brush, placed.x, placed.right)
        marks += self._closing(brush, placed)
        left, right = source(self.engraved, placed)
        for shape in self.engraved.shapes:
            if shape.kind in ("clef", "keySig"):
                continue
            if shape.kind == "meterSig":
                marks.extend(self._meter(brush, placed, shape, left, right))
            elif self._stands(shape, left, right, first=piece == 0):
                marks.append(self._drawn(brush, shape, system, "ink"))
        for index in piece_notes(placed):
            marks.extend(self._bend_signs(brush, system, index))
        return tuple(marks)

    def _stands(self, shape: Shape, left: float, right: float, first: bool) -> bool:
        """Whether a piece from left to right, the first of its row or not, shows a shape."""
        own = left <= self._anchor(shape) < right
        return (own or (first and self._comes_in(shape, left))) and not self._left_open(shape)

    def _comes_in(self, shape: Shape, left: float) -> bool:
        """Whether it joins a note of the row before to one of this row."""
        return shape.kind in JOINS and self._anchor(shape) < left < shape.ends[1] - SPACE / 2

    def _left_open(self, shape: Shape) -> bool:
        """Whether it is a rest only because the bar's further notes are no part of the fragment."""
        last = max((x for _, _, x in self.engraved.notes), default=0.0)
        return (
            self.fragment.open_end and shape.kind in ("rest", "dots", "dot") and shape.ends[0] > last + SPACE
        )

    def _closing(self, brush: Brush, placed: Placed) -> list[Mark]:
        """The bar line a piece ends with, and repeat signs at either end."""
        piece, repeats = placed.piece, self.fragment.repeats
        marks: list[Mark] = []
        if piece.opens and any(r.first == piece.measure for r in repeats):
            marks.append(self._repeat(brush, placed.x, 1))
        if piece.closes and any(r.last == piece.measure for r in repeats):
            marks.append(self._repeat(brush, placed.right, -1))
        elif piece.closes:
            marks.append(self._line_down(brush, placed.right))
        return marks

    def _repeat(self, brush: Brush, x: float, side: int) -> Mark:
        ends = (self.top_line, self.top_line + 4 * self.space)
        dots = (self.top_line + 1.5 * self.space, self.top_line + 2.5 * self.space)
        outline = repeat_sign(x, side, ends, brush.sheet.sizes.gap, dots, brush.weight("bar"))
        return Path(outline, brush.colour("bar-line"), name="repeat")

    def sounding(self, brush: Brush, system: System, index: int) -> tuple[Mark, ...]:
        """A note's head in the colour of what sounds, with a ring round it, and its accidental."""
        marks: list[Mark] = []
        colour = brush.colour("sounding")
        for shape in self.engraved.shapes:
            if shape.note != index or shape.turn or shape.kind not in LIT or not self._within(system, shape):
                continue
            outline = self.outline(brush, shape, system)
            box = outline_box(outline)
            if shape.kind != "accid" and box is not None:
                marks.append(self._ring(brush, box))
            marks.append(Path(outline, colour, name=f"lit {shape.kind}"))
        return tuple(marks)

    def _ring(self, brush: Brush, head: Box) -> Path:
        """A ring round a head that leaves ledger lines and a hollow head's middle to be seen."""
        wide, tall = self.space * 0.34, self.space * 0.4
        room = Box(head.x - wide, head.y - tall, head.width + 2 * wide, head.height + 2 * tall)
        stroke = Stroke(brush.colour("sounding"), brush.weight("ring"))
        return Path(rounded(room, room.height * 0.42), stroke=stroke, name="lit head")

    def _within(self, system: System, shape: Shape) -> bool:
        return shape.beat is not None and system.start <= shape.beat < system.end

    def _lines(self, brush: Brush, left: float, right: float) -> list[Mark]:
        stroke = brush.stroke("string", brush.weight("string"), round_ends=False)
        ys = (self.top_line + i * self.space for i in range(5))
        return [Path(line(left, y, right, y), stroke=stroke, name="staff line") for y in ys]

    def _line_down(self, brush: Brush, x: float, to_tab: bool = False) -> Mark:
        weight, half = brush.weight("bar"), brush.weight("string") / 2
        bottom = brush.sheet.sizes.first if to_tab else self.top_line + 4 * self.space
        box = Box(x - weight / 2, self.top_line - half, weight, bottom - self.top_line + 2 * half)
        return Path(rect(box), brush.colour("bar-line"), name="bar line")

    def _meter(self, brush: Brush, placed: Placed, shape: Shape, left: float, right: float) -> list[Mark]:
        """A meter, in the room that the strip keeps for it."""
        if not left <= sum(shape.ends) / 2 < right:
            return []
        measure = self.fragment.measures[placed.piece.measure]
        middle = meter_left(brush.sheet, placed) + meter_width(brush.sheet, measure) / 2
        shift = middle - sum(shape.ends) / 2 * self.scale
        outline = self._sent(shape.outline, lambda v: v * self.scale + shift)
        return [Path(outline, brush.colour("ink-soft"), name="meter")]

    # from the engraver's row to ours -------------------------------------------------------------------

    def _anchor(self, shape: Shape) -> float:
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
        if shape in self.stubs:
            return self.stubs[shape]
        if shape.turn:
            bent = {(note, turn): x for note, turn, x in self.engraved.bends}
            return bent.get((shape.note or 0, shape.turn))
        own = self._column(shape)
        return own if own is not None or not shape.glyph else sum(shape.ends) / 2

    def _bend(self, system: System) -> Bend:
        return _bend_of(self, system)

    def _drawn(self, brush: Brush, shape: Shape, system: System, role: str) -> Path:
        outline, colour = self.outline(brush, shape, system), brush.colour(role)
        width = None if shape.width is None else max(shape.width * self.scale, brush.weight("hair"))
        stroke = None if width is None else Stroke(colour, width, round_ends=False)
        name = f"staff bent {shape.kind}" if shape.turn else f"staff {shape.kind}"
        return Path(outline, colour if shape.filled else None, stroke, name)

    def outline(self, brush: Brush, shape: Shape, system: System) -> Outline:
        """A shape in a row: signs and what belongs to a note keep their form, all else follows the bend."""
        bend, tuplet = self._bend(system), self.tuplets.get(shape.group)
        if shape.kind in JOINS:
            return self._join(shape, system)
        if tuplet is not None:
            around = AROUND if shape.kind == "tupletBracket" else inf
            to_x = partial(tuplet.placed, bend=bend, scale=self.scale, around=around)
            return self._sent(shape.outline, to_x)
        hold = self._hold(shape)
        if hold is None:
            return self._sent(self._levelled(shape, bend, bend), bend)
        shift = (self._turned(brush, shape, system) if shape.turn else bend(hold)) - hold * self.scale

        def moved(x: float) -> float:
            return x * self.scale + shift

        return self._sent(self._levelled(shape, bend, moved), moved)

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
            return self._sent(shape.outline, bend)
        from_x = left.x if comes else bend(shape.ends[0])
        to_x = right.right if goes else bend(shape.ends[1])
        return part_of(shape, (from_x, to_x), (comes, goes), self.space, self.top_line)

    def _turned(self, brush: Brush, shape: Shape, system: System) -> float:
        """Where the head that a bend leads to stands: under the tip of the tab's arrow."""
        assert shape.note is not None
        steps = bend_steps(brush.sheet, self.fragment.notes[shape.note])[: shape.turn]
        start = system.xs[shape.note] + brush.sheet.note_half(shape.note) + brush.sheet.sizes.gap * LEAVES
        return start + sum(steps) - steps[-1] * (1 - ARROW)

    def _bend_signs(self, brush: Brush, system: System, index: int) -> list[Mark]:
        """What joins a bent note to where its bend leads."""
        heads = dict[int, Box]()
        for shape in self._of_note.get(index, ()):
            box = outline_box(self.outline(brush, shape, system))
            if shape.kind == "notehead" and box is not None:
                heads[shape.turn] = max(heads.get(shape.turn, box), box, key=lambda one: one.width)
        note = self.fragment.notes[index]
        return bend_signs(
            brush, note, [heads[turn] for turn in sorted(heads)], note.onset in self._stems_up, self.space
        )

    @cached_property
    def _of_note(self) -> dict[int, list[Shape]]:
        """The shapes of each note's first part, and of where its bend leads."""
        found = dict[int, list[Shape]]()
        for shape in self.engraved.shapes:
            if shape.note is not None and shape.beat == self.fragment.notes[shape.note].onset:
                found.setdefault(shape.note, []).append(shape)
        return found

    @cached_property
    def _stems_up(self) -> frozenset[Fraction | None]:
        """The beats at which stems go up."""
        found = set[Fraction | None]()
        for shapes in self._of_note.values():
            heads = [s for s in shapes if s.kind == "notehead" and not s.turn]
            stems = [s for s in shapes if s.kind == "stem"]
            if heads and stems and _middle(stems[0]) < _middle(heads[0]):
                found.add(heads[0].beat)
        return frozenset(found)

    def _sent(self, outline: Outline, to_x: Callable[[float], float]) -> Outline:
        level = transformed(outline, (1.0, 0.0, 0.0, self.scale, 0.0, self.top_line))
        return tuple(
            (name, tuple(to_x(v) if i % 2 == 0 else v for i, v in enumerate(values)))
            for name, values in level
        )


def _middle(shape: Shape) -> float:
    box = outline_box(shape.outline)
    return box.centre[1] if box else 0.0


@lru_cache(maxsize=128)
def _bend_of(over: StaffOver, system: System) -> Bend:
    return bend_of(over.engraved, over.fragment, system, over.scale, over.aside)
