"""The standing part of a strip, a group a piece: strings, bar lines, meter, repeats, techniques, rhythm."""

from pipeline.drawing.outline import rect
from pipeline.drawing.picture import Box, Group, Mark, Path, Text
from pipeline.drawing.typeface import cap_height
from pipeline.views.brush import Brush
from pipeline.views.columns import meter_shown, meter_width
from pipeline.views.digits import string_lines
from pipeline.views.labels import string_name
from pipeline.views.signs import centred, repeat_sign
from pipeline.views.strip import Placed, System, meter_left
from pipeline.views.techniques import WORDS, lane_signs, note_techniques, spans
from pipeline.views.valuerow import rhythm_marks


def prefix_group(brush: Brush, system: System) -> Group:
    """The letters of the strings and the line the row starts with."""
    sheet, sizes = brush.sheet, brush.sheet.sizes
    marks: list[Mark] = []
    if sheet.wants.tuning:
        right = system.opening - sizes.small * 0.35
        for string in range(1, sizes.strings + 1):
            y = sizes.string_y(string) + cap_height(WORDS, sizes.small) / 2
            name = string_name(sheet.fragment, string)
            marks.append(Text(right, y, name, sizes.small, brush.colour("ink-soft"), WORDS, "end",
                              f"string {string} name"))  # fmt: skip
    marks.append(_bar_line(brush, system.opening))
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
    left = system.opening if placed is system.placed[0] else placed.x
    for string in range(1, brush.sheet.sizes.strings + 1):
        outline = string_lines(brush, system, left, placed.right, string)
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
    if piece.opens and not brush.sheet.wants.clef and meter_shown(brush.sheet.fragment, piece.measure):
        marks.extend(_meter(brush, piece.measure, meter_left(brush.sheet, placed)))
    room = brush.sheet.sizes.number_lane > 0
    if piece.opens and room and brush.sheet.wants.numbers and _numbered(brush, system, placed):
        marks.append(centred(str(_number(brush, piece.measure)), placed.x, brush.sheet.sizes.number_lane,
                             brush.sheet.sizes.small, brush.colour("ink-soft"), "regular",
                             f"bar number {piece.measure}"))  # fmt: skip
    ending = next((r for r in repeats if r.last == piece.measure and piece.closes), None)
    if ending:
        marks.extend(_repeat_sign(brush, placed.right, -1))
        if ending.times > 2 and room:
            marks.append(_times(brush, placed, ending.times))
    elif piece.closes:
        marks.append(_bar_line(brush, placed.right))
    return marks


def _number(brush: Brush, measure: int) -> int:
    return brush.sheet.fragment.bar_number(measure)


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
        for part, side in ((measure.meter.over, -1), (measure.unit, 1))
    ]  # fmt: skip


def _repeat_sign(brush: Brush, x: float, side: int) -> list[Mark]:
    """A repeat's sign on the strip; its dots stand between strings."""
    sizes = brush.sheet.sizes
    away = sizes.gap * (0.5 if sizes.strings % 2 else 1.0)
    dots = (sizes.middle - away, sizes.middle + away)
    outline = repeat_sign(x, side, (sizes.first, sizes.last), sizes.gap, dots, brush.weight("bar"))
    return [Path(outline, brush.colour("bar-line"), name="repeat")]


def _times(brush: Brush, placed: Placed, times: int) -> Mark:
    sizes = brush.sheet.sizes
    y = sizes.number_lane + cap_height(WORDS, sizes.small) / 2
    return Text(
        placed.right - sizes.small * 0.75,
        y,
        f"×{times}",
        sizes.small,
        brush.colour("ink-soft"),
        WORDS,
        "end",
        "times",
    )
