"""The standing part of a strip, a group a piece: strings, bar lines, meter, repeats, techniques, rhythm."""

from pipeline.drawing.outline import circle, line, rect, slur
from pipeline.drawing.picture import Box, Group, Mark, Path, Text
from pipeline.drawing.typeface import cap_height
from pipeline.views.brush import Brush
from pipeline.views.digits import string_lines
from pipeline.views.rhythm import Rhythm, Tuplet, Value, beam_runs
from pipeline.views.signs import centred, flags, note_head, rest
from pipeline.views.strip import Placed, System, meter_left, meter_shown, meter_width, string_name
from pipeline.views.techniques import WORDS, lane_signs, note_techniques, spans


def prefix_group(brush: Brush, system: System) -> Group:
    """The letters of the strings and the line the row starts with."""
    sheet, sizes = brush.sheet, brush.sheet.sizes
    marks: list[Mark] = []
    if sheet.wants.tuning:
        right = system.prefix - sizes.small * 0.35
        for string in range(1, sizes.strings + 1):
            y = sizes.string_y(string) + cap_height(WORDS, sizes.small) / 2
            name = string_name(sheet.fragment, string)
            marks.append(Text(right, y, name, sizes.small, brush.colour("ink-soft"), WORDS, "end",
                              f"string {string} name"))  # fmt: skip
    marks.append(_bar_line(brush, system.prefix))
    return Group(tuple(marks), name="row start")


def piece_group(brush: Brush, system: System, placed: Placed) -> Group:
    """Everything of a piece that never changes, in the system's coordinates."""
    marks: list[Mark] = [*_strings(brush, system, placed), *_bar_marks(brush, system, placed)]
    marks += note_techniques(brush, system, placed)
    marks += lane_signs(brush, system, placed)
    marks += spans(brush, system, placed)
    if brush.sheet.sizes.lane("rhythm") is not None:
        marks += rhythm_marks(brush, placed)
    return Group(tuple(marks), name=f"bar {placed.piece.measure + 1}")


def string_weight(brush: Brush, string: int) -> float:
    """Strings grow thicker from the first to the last, between the look's two weights."""
    thin, thick = brush.weight("string"), brush.weight("string-thick")
    share = (string - 1) / max(1, brush.sheet.sizes.strings - 1)
    return thin + (thick - thin) * share * 0.6


def _strings(brush: Brush, system: System, placed: Placed) -> list[Mark]:
    marks: list[Mark] = []
    for string in range(1, brush.sheet.sizes.strings + 1):
        outline = string_lines(brush, system, placed.x, placed.right, string)
        stroke = brush.stroke("string", string_weight(brush, string), round_ends=False)
        marks.append(Path(outline, stroke=stroke, name=f"string {string}"))
    return marks


def _bar_line(brush: Brush, x: float) -> Path:
    sizes, weight = brush.sheet.sizes, brush.weight("bar")
    box = Box(x - weight / 2, sizes.first - weight / 2, weight, sizes.last - sizes.first + weight)
    return Path(rect(box), brush.colour("bar-line"), name="bar line")


def _bar_marks(brush: Brush, system: System, placed: Placed) -> list[Mark]:
    """Bar line, number, meter and repeat signs of a piece."""
    piece, repeats = placed.piece, brush.sheet.fragment.repeats
    marks: list[Mark] = []
    if piece.opens and any(r.first == piece.measure for r in repeats):
        marks.extend(_repeat_sign(brush, placed.x, 1))
    if piece.opens and meter_shown(brush.sheet.fragment, piece.measure):
        marks.extend(_meter(brush, piece.measure, meter_left(brush.sheet, placed)))
    if piece.opens and brush.sheet.wants.numbers and _numbered(brush, system, placed):
        marks.append(centred(str(_number(brush, piece.measure)), placed.x, brush.sheet.sizes.number_lane,
                             brush.sheet.sizes.small, brush.colour("ink-soft"), "regular",
                             f"bar number {piece.measure}"))  # fmt: skip
    ending = next((r for r in repeats if r.last == piece.measure and piece.closes), None)
    if ending:
        marks.extend(_repeat_sign(brush, placed.right, -1))
        if ending.times > 2:
            marks.append(_times(brush, placed, ending.times))
    elif piece.closes:
        marks.append(_bar_line(brush, placed.right))
    return marks


def _number(brush: Brush, measure: int) -> int:
    """Bars count from 1; a pick-up bar is 0 (common practice)."""
    return measure if brush.sheet.fragment.measures[0].pickup else measure + 1


def _numbered(brush: Brush, system: System, placed: Placed) -> bool:
    number = _number(brush, placed.piece.measure)
    return number > 1 or (number == 1 and placed is not system.placed[0])


def _meter(brush: Brush, index: int, x: float) -> list[Mark]:
    sheet, measure = brush.sheet, brush.sheet.fragment.measures[index]
    size = sheet.sizes.gap * 1.75
    half, middle = cap_height("black", size) / 2 + sheet.sizes.gap * 0.14, x + meter_width(sheet, measure) / 2
    return [
        centred(str(part), middle, sheet.sizes.middle + side * half, size, brush.colour("ink-soft"), "black",
                f"meter {index}")
        for part, side in ((measure.beats, -1), (measure.unit, 1))
    ]  # fmt: skip


def _repeat_sign(brush: Brush, x: float, side: int) -> list[Mark]:
    """A heavy line at x, a thin one and two dots on the side the repeat lies (1 right, -1 left)."""
    sizes, ink = brush.sheet.sizes, brush.colour("bar-line")
    tall, gap = sizes.last - sizes.first, sizes.gap
    heavy, thin = gap * 0.13, brush.weight("bar")
    left = x if side > 0 else x - heavy
    marks: list[Mark] = [Path(rect(Box(left, sizes.first, heavy, tall)), ink, name="repeat")]
    at = x + side * gap * 0.27
    marks.append(Path(rect(Box(at - thin / 2, sizes.first, thin, tall)), ink, name="repeat"))
    for dot in (-1, 1):
        y = sizes.middle + dot * gap * (0.5 if sizes.strings % 2 == 0 or sizes.strings < 5 else 1.0)
        y += gap * 0.0 if sizes.strings % 2 else dot * gap * 0.5
        marks.append(Path(circle(at + side * gap * 0.24, y, gap * 0.1), ink, name="repeat dot"))
    return marks


def _times(brush: Brush, placed: Placed, times: int) -> Mark:
    sizes = brush.sheet.sizes
    y = sizes.number_lane + cap_height(WORDS, sizes.small) / 2
    return Text(placed.right - sizes.gap * 0.1, y, f"×{times}", sizes.small, brush.colour("ink-soft"), WORDS,
                "end", "times")  # fmt: skip


# rhythm ------------------------------------------------------------------------------------------------


def rhythm_marks(brush: Brush, placed: Placed) -> list[Mark]:
    """The rhythm row of a piece: heads, stems, beams, dots, rests and tuplet numbers."""
    piece = placed.piece
    xs = {column.start: x for column, x in zip(piece.columns, placed.xs, strict=True)}
    rhythm = brush.sheet.rhythms[piece.measure]
    own = {i for i, value in enumerate(rhythm.values) if value.onset in xs}
    row = _Row(brush, xs, rhythm)
    marks: list[Mark] = []
    beamed = {i for run in beam_runs(rhythm) for i in run}
    for index in sorted(own):
        marks.extend(row.value(rhythm.values[index], index in beamed))
    for run in beam_runs(rhythm):
        marks.extend(row.beams([rhythm.values[i] for i in run if i in own]))
    for tuplet in rhythm.tuplets:
        if tuplet.first in own and tuplet.last in own:
            beam = any(set(range(tuplet.first, tuplet.last + 1)) <= set(run) for run in beam_runs(rhythm))
            marks.extend(row.number(tuplet, beam))
    return marks


class _Row:
    """Draws written values at their columns' x."""

    def __init__(self, brush: Brush, xs: dict, rhythm: Rhythm) -> None:  # type: ignore[type-arg]
        self.brush, self.xs, self.rhythm = brush, xs, rhythm
        self.small = small = brush.sheet.sizes.small
        lane = brush.sheet.sizes.lane("rhythm") or 0.0
        self.head_y, self.stem_y, self.number_y = (
            lane - small * 0.75,
            lane + small * 0.28,
            lane + small * 0.78,
        )
        self.ink, self.head = brush.colour("ink-soft"), small * 0.40
        self.thin = brush.weight("stem")

    def stem_x(self, value: Value) -> float:
        return float(self.xs[value.onset]) - self.head / 2 + self.thin / 2

    def value(self, value: Value, beamed: bool) -> list[Mark]:
        x = float(self.xs[value.onset])
        marks: list[Mark] = []
        if value.rest:
            middle = (self.head_y + self.stem_y) / 2
            marks.extend(rest(value.base, x, middle, self.small, self.ink))
        else:
            marks.append(note_head(x, self.head_y, self.head, value.base >= 2, self.ink))
            if value.base < 4:
                marks.append(self._stem(value))
            if value.flags and not beamed:
                marks.append(
                    flags(self.stem_x(value), self.stem_y, value.flags, self.small * 0.9, False, self.ink)
                )
        marks.extend(self._dots(value, x))
        marks.extend(self._tie(value, x))
        return marks

    def _stem(self, value: Value) -> Mark:
        x = self.stem_x(value)
        box = Box(x - self.thin / 2, self.head_y, self.thin, self.stem_y - self.head_y)
        return Path(rect(box), self.ink, name="stem")

    def _dots(self, value: Value, x: float) -> list[Mark]:
        start = x + (self.small * 0.5 if value.rest else self.head * 0.85)
        return [
            Path(circle(start + d * self.small * 0.24, self.head_y, self.small * 0.075), self.ink, name="dot")
            for d in range(value.dots)
        ]

    def _tie(self, value: Value, x: float) -> list[Mark]:
        notes = [n for n in self.brush.sheet.fragment.notes if n.onset == value.onset and not n.grace]
        if not notes or value.rest or any(n.attack != "tie" for n in notes):
            return []
        before = max((at for at in self.xs if at < value.onset), default=None)
        left = float(self.xs[before]) if before is not None else x - self.small
        y = self.head_y - self.head * 0.5
        outline = slur(
            left + self.head * 0.3, y, x - self.head * 0.3, y, self.small * 0.16, self.small * 0.08
        )
        return [Path(outline, self.ink, name="tie")]

    def beams(self, values: list[Value]) -> list[Mark]:
        """Primary beam over all, shorter ones where both neighbours have them, stubs where none has."""
        marks: list[Mark] = []
        thick, step = self.small * 0.15, self.small * 0.24
        for level in range(1, max((v.flags for v in values), default=0) + 1):
            y = self.stem_y - (level - 1) * step
            for left, right in self._stretches(values, level):
                box = Box(left - self.thin / 2, y - thick, right - left + self.thin, thick)
                marks.append(Path(rect(box), self.ink, name="beam"))
        return marks

    def _stretches(self, values: list[Value], level: int) -> list[tuple[float, float]]:
        found: list[tuple[float, float]] = []
        place = 0
        while place < len(values):
            end = place
            while end + 1 < len(values) and values[end + 1].flags >= level and values[end].flags >= level:
                end += 1
            if values[place].flags >= level:
                left, right = self.stem_x(values[place]), self.stem_x(values[end])
                if end == place and len(values) > 1:
                    stub = self.small * 0.34
                    left, right = (left - stub, right) if place else (left, right + stub)
                found.append((left, right))
            place = end + 1
        return [pair for pair in found if pair[1] > pair[0]]

    def number(self, tuplet: Tuplet, beamed: bool) -> list[Mark]:
        first, last = self.rhythm.values[tuplet.first], self.rhythm.values[tuplet.last]
        left, right = self.stem_x(first), self.stem_x(last)
        middle, size = (left + right) / 2, self.small
        text = centred(str(tuplet.number), middle, self.number_y, size, self.ink, "semibold",
                       f"tuplet {first.onset}")  # fmt: skip
        if beamed:
            return [text]
        away, y = size * 0.42 * len(str(tuplet.number)), self.number_y
        marks: list[Mark] = [text]
        for a, b in ((left, middle - away), (middle + away, right)):
            if b > a:
                marks.append(
                    Path(line(a, y, b, y), stroke=self.brush.stroke("ink-soft", self.thin), name="bracket")
                )
        return marks
