"""The staff view: notation on a staff, with the tab exactly under it, in step with the sound."""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache

from pipeline.drawing.outline import line, outline_box, rect, rounded, transformed
from pipeline.drawing.picture import Box, Mark, Outline, Path, Picture, Stroke
from pipeline.music.fragment import Fragment
from pipeline.views.beams import Beam, beams_of
from pipeline.views.brush import Brush, panel
from pipeline.views.columns import meter_width
from pipeline.views.engraving import SPACE, Engraved, Shape, engrave
from pipeline.views.lanes import Wants
from pipeline.views.paging import paged
from pipeline.views.rows import Laid, lay_rows
from pipeline.views.signs import repeat_sign
from pipeline.views.stage import Stage
from pipeline.views.strip import Placed, System, meter_left

CLEF = 3.1
"""Room for the clef, in staff spaces."""
SIGN = 1.2
"""The same for accidentals of the first note after it."""
GRACE_ROOM = 1.0
"""Staff spaces by which grace notes make room for an accidental."""
LIT = ("notehead", "accid")
STIFF = 380.0
"""To either side of a chord, in the engraver's units: what stands there keeps its form."""
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

    def wants(self, clef: float) -> Wants:
        """What the tab under the staff shows."""
        return Wants(self.strokes, self.fingers, False, self.numbers, self.tuning, clef)


@lru_cache(maxsize=16)
def lay(view: Staff, stage: Stage) -> Laid | None:
    """Lay staff and tab out; None where no note can be written."""
    fragment = stage.fragment
    if fragment is None or not fragment.measures or not any(n.pitch is not None for n in fragment.notes):
        return None
    engraved = engrave(fragment)
    space = _space(view, stage, engraved)
    over = StaffOver(stage, fragment, engraved, space)
    clef = CLEF + (SIGN if any(shape.kind == "accid" for shape in engraved.shapes) else 0.0)
    return lay_rows(stage, fragment, view.wants(clef * space), view.rows, view.cursor, over)


def _space(view: Staff, stage: Stage, engraved: Engraved) -> float:
    """A staff space in pixels: the look's, or less where the room is small."""
    spaces = (engraved.bottom - engraved.top) / SPACE + 0.6
    small = max(stage.size("small"), stage.smallest_text)
    most = stage.height * SHARE / max(1, view.rows) / spaces
    return max(min(stage.size("staff-gap"), most), small * SMALLEST_SPACE * 0.5)


@dataclass(frozen=True)
class Bend:
    """A rising piecewise-linear map from the engraver's x to a row's x."""

    at: tuple[float, ...]
    to: tuple[float, ...]
    scale: float

    def __call__(self, x: float) -> float:
        if x <= self.at[0]:
            return self.to[0] + (x - self.at[0]) * self.scale
        if x >= self.at[-1]:
            return self.to[-1] + (x - self.at[-1]) * self.scale
        i = bisect_right(self.at, x) - 1
        width = self.at[i + 1] - self.at[i]
        return self.to[i] + (x - self.at[i]) * (self.to[i + 1] - self.to[i]) / width


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
        return (self.engraved.bottom - self.engraved.top) * self.scale + self.space * 0.6

    @property
    def top_line(self) -> float:
        """The y of the top staff line in a row."""
        return -self.height + self.space * 0.3 - self.engraved.top * self.scale

    @cached_property
    def signed_beats(self) -> frozenset[Fraction]:
        """Where main notes have accidentals, which stand between them and their grace notes."""
        signs = (shape for shape in self.engraved.shapes if shape.kind == "accid" and shape.note is not None)
        notes = ((self.fragment.notes[shape.note or 0], shape.beat) for shape in signs)
        return frozenset(beat for note, beat in notes if beat is not None and not note.grace)

    @cached_property
    def beams(self) -> dict[int, Beam]:
        """The beams, by the groups of the shapes that are a part of them or hang on them."""
        return beams_of(self.engraved.shapes)

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
        bend, (left, right) = self._bend(system), self._source(placed)
        for shape in self.engraved.shapes:
            if shape.kind in ("clef", "keySig"):
                continue
            if shape.kind == "meterSig":
                marks.extend(self._meter(brush, placed, shape, left, right))
            elif left <= self._anchor(shape) < right and not self._left_open(shape):
                marks.append(self._drawn(brush, shape, bend, "ink"))
        return tuple(marks)

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
        bend, colour = self._bend(system), brush.colour("sounding")
        for shape in self.engraved.shapes:
            if shape.note != index or shape.kind not in LIT or not self._within(system, shape):
                continue
            outline = self._bent(shape, bend)
            box = outline_box(outline)
            if shape.kind == "notehead" and box is not None:
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
        """What decides which piece a shape belongs to: its note's head, else its left end."""
        if shape.note is not None:
            for index, beat, x in self.engraved.notes:
                if index == shape.note and beat == shape.beat:
                    return x
        return shape.ends[0] + min(60.0, (shape.ends[1] - shape.ends[0]) / 2)

    def _hold(self, shape: Shape) -> float:
        """The x that a shape keeps its distance to: its note's column, a ledger line's nearest one."""
        middle = sum(shape.ends) / 2
        if shape.note is not None:
            return self._anchor(shape)
        if shape.kind != "ledgerLines":
            return middle
        return min((x for _, _, x in self.engraved.notes), key=lambda x: abs(x - middle), default=middle)

    def _source(self, placed: Placed) -> tuple[float, float]:
        """From where to where a piece reaches in the engraver's row."""
        piece, bars = placed.piece, self.engraved.bars
        left = bars[piece.measure - 1] if piece.measure else -1e9
        right = bars[piece.measure] if piece.measure < len(bars) else 1e9
        return (
            left if piece.opens else self._cut(piece.start),
            right if piece.closes else self._cut(piece.end),
        )

    def _cut(self, beat: Fraction) -> float:
        """Between the notes before and after a beat inside a bar."""
        before = [x for _, at, x in self.engraved.notes if at < beat]
        after = [x for _, at, x in self.engraved.notes if at >= beat]
        return (max(before, default=0.0) + min(after, default=max(before, default=0.0) + 400)) / 2

    def _bend(self, system: System) -> Bend:
        return _bend_of(self, system)

    def _drawn(self, brush: Brush, shape: Shape, bend: Bend, role: str) -> Path:
        outline, colour = self._bent(shape, bend), brush.colour(role)
        width = None if shape.width is None else max(shape.width * self.scale, brush.weight("hair"))
        stroke = None if width is None else Stroke(colour, width, round_ends=False)
        return Path(outline, colour if shape.filled else None, stroke, f"staff {shape.kind}")

    def _bent(self, shape: Shape, bend: Bend) -> Outline:
        """A shape in a row: signs and what belongs to a note keep their form, all else follows the bend."""
        beam = self.beams.get(shape.group)
        outline = shape.outline if beam is None else beam.levelled(shape.outline, bend)
        if shape.glyph or shape.note is not None or shape.kind == "ledgerLines":
            anchor = self._hold(shape)
            shift = bend(anchor) - anchor * self.scale
            return self._sent(outline, lambda v: v * self.scale + shift)
        return self._sent(outline, bend)

    def _sent(self, outline: Outline, to_x) -> Outline:  # type: ignore[no-untyped-def]
        level = transformed(outline, (1.0, 0.0, 0.0, self.scale, 0.0, self.top_line))
        return tuple(
            (name, tuple(to_x(v) if i % 2 == 0 else v for i, v in enumerate(values)))
            for name, values in level
        )


@lru_cache(maxsize=128)
def _bend_of(over: StaffOver, system: System) -> Bend:
    """The bend of a row: heads over their columns, bar lines over bar lines, a stiff zone at each head."""
    knots = dict[float, float]()
    columns = {
        column.start: x
        for placed in system.placed
        for column, x in zip(placed.piece.columns, placed.xs, strict=True)
    }
    for placed in system.placed:
        left, right = over._source(placed)
        knots[max(left, 0.0)] = placed.x
        knots[min(right, over.engraved.bars[-1])] = placed.right
    heads = sorted({(x, _target(over, system, columns, index, beat)) for index, beat, x in over.engraved.notes
                    if system.start <= beat < system.end})  # fmt: skip
    placed_heads = [(x, to) for x, to in heads if to is not None]
    for x, to in placed_heads:
        zone = min(
            [STIFF]
            + [abs(x - other) * 0.4 for other, _ in placed_heads if abs(x - other) > 40]
            + [abs(to - other) * 0.4 / over.scale for _, other in placed_heads if abs(to - other) > 4]
        )
        knots[x - zone] = to - zone * over.scale
        knots[x + zone] = to + zone * over.scale
    ordered = sorted(knots.items())
    rising = [ordered[0]]
    for at, to in ordered[1:]:
        if at > rising[-1][0] + 1e-6 and to > rising[-1][1]:
            rising.append((at, to))
    return Bend(tuple(a for a, _ in rising), tuple(t for _, t in rising), over.scale)


def _target(
    over: StaffOver, system: System, columns: dict[Fraction, float], index: int, beat: Fraction
) -> float | None:
    note = over.fragment.notes[index]
    if note.onset == beat and index in system.xs:
        aside = GRACE_ROOM * over.space if note.grace and beat in over.signed_beats else 0.0
        return system.xs[index] - aside
    return columns.get(beat)
