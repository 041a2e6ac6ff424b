"""The staff over rows of tab: the engraver's shapes, moved so that heads stand over their frets."""

from dataclasses import dataclass

from pipeline.drawing.outline import line, outline_box, rect
from pipeline.drawing.picture import Box, Mark, Path, Stroke
from pipeline.views.bendsigns import bend_signs
from pipeline.views.brush import Brush
from pipeline.views.columns import meter_width
from pipeline.views.engraved import SPACE, Shape
from pipeline.views.headring import Ring, near
from pipeline.views.rowbend import source
from pipeline.views.signs import repeat_sign
from pipeline.views.staffjoins import JOINS
from pipeline.views.staffshapes import HEADS, StaffShapes, middle_of
from pipeline.views.staffslides import slide_signs
from pipeline.views.strip import Placed, System, meter_left
from pipeline.views.techniques import piece_notes

LIT = (*HEADS, "accid")


@dataclass(frozen=True, eq=False)
class StaffOver:
    """A staff to stand over rows of tab."""

    shapes: StaffShapes

    @property
    def height(self) -> float:
        return self.shapes.height

    # what stands ---------------------------------------------------------------------------------------

    def prefix(self, brush: Brush, system: System) -> tuple[Mark, ...]:
        """The line that joins staff and tab, and the clef."""
        clefs = [s for s in self.shapes.engraved.shapes if s.kind == "clef"][:1]
        left = min((s.ends[0] for s in clefs), default=0.0)
        x = system.opening + self.shapes.space * 0.5
        marks: list[Mark] = [self._line_down(brush, system.opening, to_tab=True)]
        marks += self._lines(brush, system.opening, system.prefix)
        for shape in clefs:
            outline = self.shapes.sent(shape.outline, lambda v: x + (v - left) * self.shapes.scale)
            marks.append(Path(outline, brush.colour("ink-soft"), name="clef"))
        return tuple(marks)

    def standing(self, brush: Brush, system: System, piece: int) -> tuple[Mark, ...]:
        """The staff over one piece of a row."""
        placed = system.placed[piece]
        marks = self._lines(brush, placed.x, placed.right)
        marks += self._closing(brush, placed)
        left, right = source(self.shapes.engraved, placed)
        for shape in self.shapes.engraved.shapes:
            if shape.kind in ("clef", "keySig"):
                continue
            if shape.kind == "meterSig":
                marks.extend(self._meter(brush, placed, shape, left, right))
            elif self._stands(shape, left, right, first=piece == 0):
                marks.append(self._drawn(brush, shape, system, "ink"))
        for index in piece_notes(placed):
            marks.extend(self._note_signs(brush, system, index))
        return tuple(marks)

    def _stands(self, shape: Shape, left: float, right: float, first: bool) -> bool:
        """Whether a piece from left to right, the first of its row or not, shows a shape."""
        own = left <= self.shapes.anchor(shape) < right
        return (own or (first and self._comes_in(shape, left))) and not self._left_open(shape)

    def _comes_in(self, shape: Shape, left: float) -> bool:
        """Whether it joins a note of the row before to one of this row."""
        return shape.kind in JOINS and self.shapes.anchor(shape) < left < shape.ends[1] - SPACE / 2

    def _left_open(self, shape: Shape) -> bool:
        """Whether it is a rest only because the bar's further notes are no part of the fragment."""
        last = max((x for _, _, x in self.shapes.engraved.notes), default=0.0)
        rest = shape.kind in ("rest", "dots", "dot")
        return self.shapes.fragment.open_end and rest and shape.ends[0] > last + SPACE

    def _closing(self, brush: Brush, placed: Placed) -> list[Mark]:
        """The bar line a piece ends with, and repeat signs at either end."""
        piece, repeats = placed.piece, self.shapes.fragment.repeats
        marks: list[Mark] = []
        if piece.opens and any(r.first == piece.measure for r in repeats):
            marks.append(self._repeat(brush, placed.x, 1))
        if piece.closes and any(r.last == piece.measure for r in repeats):
            marks.append(self._repeat(brush, placed.right, -1))
        elif piece.closes:
            marks.append(self._line_down(brush, placed.right))
        return marks

    def _repeat(self, brush: Brush, x: float, side: int) -> Mark:
        ends = (self.shapes.top_line, self.shapes.top_line + 4 * self.shapes.space)
        dots = (
            self.shapes.top_line + 1.5 * self.shapes.space,
            self.shapes.top_line + 2.5 * self.shapes.space,
        )
        outline = repeat_sign(x, side, ends, brush.sheet.sizes.gap, dots, brush.weight("bar"))
        return Path(outline, brush.colour("bar-line"), name="repeat")

    def sounding(self, brush: Brush, system: System, index: int) -> tuple[Mark, ...]:
        """A note's head in the colour of what sounds, with a ring round it, and its accidental."""
        marks: list[Mark] = []
        colour = brush.colour("sounding")
        for shape in self.shapes.engraved.shapes:
            if shape.note != index or shape.turn or shape.kind not in LIT or not self._within(system, shape):
                continue
            outline = self.shapes.outline(brush.sheet, shape, system)
            box = outline_box(outline)
            if shape.kind in HEADS and box is not None:
                marks.append(self._ring(brush, shape, box))
            marks.append(Path(outline, colour, name=f"lit {shape.kind}"))
        return tuple(marks)

    def _ring(self, brush: Brush, shape: Shape, head: Box) -> Path:
        """A ring that leaves ledger lines and a hollow head's middle to be seen."""
        own, scale, space = middle_of(shape), self.shapes.scale, self.shapes.space
        away = [(middle_of(other) - own) * scale for other in self.shapes.heads_at.get(shape.beat, ())]
        near_by = [y for y in away if near(space, abs(y)) and abs(y) > space / 4]
        above = min((-y for y in near_by if y < 0), default=None)
        below = min((y for y in near_by if y > 0), default=None)
        stroke = Stroke(brush.colour("sounding"), brush.weight("ring"))
        return Path(Ring(head, space, above, below).outline, stroke=stroke, name="lit head")

    def _within(self, system: System, shape: Shape) -> bool:
        return shape.beat is not None and system.start <= shape.beat < system.end

    def _lines(self, brush: Brush, left: float, right: float) -> list[Mark]:
        stroke = brush.stroke("string", brush.weight("string"), round_ends=False)
        ys = (self.shapes.top_line + i * self.shapes.space for i in range(5))
        return [Path(line(left, y, right, y), stroke=stroke, name="staff line") for y in ys]

    def _line_down(self, brush: Brush, x: float, to_tab: bool = False) -> Mark:
        weight, half = brush.weight("bar"), brush.weight("string") / 2
        top, space = self.shapes.top_line, self.shapes.space
        bottom = brush.sheet.sizes.first if to_tab else top + 4 * space
        box = Box(x - weight / 2, top - half, weight, bottom - top + 2 * half)
        return Path(rect(box), brush.colour("bar-line"), name="bar line")

    def _meter(self, brush: Brush, placed: Placed, shape: Shape, left: float, right: float) -> list[Mark]:
        """A digit or a plus of a meter, which as a whole stands in the room that the strip keeps for it."""
        signs = [one.ends for one in self.shapes.engraved.shapes if one.kind == "meterSig"]
        own = [ends for ends in signs if left <= sum(ends) / 2 < right]
        if shape.ends not in own:
            return []
        measure = self.shapes.fragment.measures[placed.piece.measure]
        middle = meter_left(brush.sheet, placed) + meter_width(brush.sheet, measure) / 2
        engraved = (min(start for start, _ in own) + max(end for _, end in own)) / 2
        shift = middle - engraved * self.shapes.scale
        outline = self.shapes.sent(shape.outline, lambda v: v * self.shapes.scale + shift)
        return [Path(outline, brush.colour("ink-soft"), name="meter")]

    def _drawn(self, brush: Brush, shape: Shape, system: System, role: str) -> Path:
        outline, colour = self.shapes.outline(brush.sheet, shape, system), brush.colour(role)
        width = None if shape.width is None else max(shape.width * self.shapes.scale, brush.weight("hair"))
        stroke = None if width is None else Stroke(colour, width, round_ends=False)
        name = f"staff bent {shape.kind}" if shape.turn else f"staff {shape.kind}"
        return Path(outline, colour if shape.filled else None, stroke, name)

    def _note_signs(self, brush: Brush, system: System, index: int) -> list[Mark]:
        """What joins a bent note to where its bend leads, and slides from and to nowhere."""
        note, shapes, heads = self.shapes.fragment.notes[index], self.shapes, dict[int, Box]()
        if not (note.bend or note.slide_in or note.slide_out):
            return []
        found = [(shape, outline_box(shapes.outline(brush.sheet, shape, system)))
                 for shape in shapes.of_note.get(index, ()) if shape.kind in LIT]  # fmt: skip
        for shape, box in found:
            if shape.kind == "notehead" and box is not None:
                heads[shape.turn] = max(heads.get(shape.turn, box), box, key=lambda one: one.width)
        if 0 not in heads:
            return []
        left = min(box.x for shape, box in found if box is not None and not shape.turn)
        bent = [heads[turn] for turn in sorted(heads)]
        marks = bend_signs(brush, note, bent, note.onset in shapes.stems_up, shapes.space)
        return marks + slide_signs(brush, note, heads[0], left, shapes.space)
