"""Signs that several views draw: strokes, fingers, harmonics, accents, rests. Each is centred on a point."""

from fractions import Fraction

from pipeline.drawing.outline import (
    Pen,
    circle,
    ellipse,
    joined,
    line,
    polygon,
    polyline,
    rect,
    shifted,
)
from pipeline.drawing.picture import Box, Colour, Outline, Path, Stroke, Text
from pipeline.drawing.typeface import cap_height

FRACTIONS = {Fraction(1, 4): "¼", Fraction(1, 2): "½", Fraction(3, 4): "¾"}


def centred(text: str, x: float, y: float, size: float, fill: Colour, face: str, name: str = "") -> Text:
    """A text whose capitals (and digits) stand about (x, y)."""
    return Text(x, y + cap_height(face, size) / 2, text, size, fill, face, "middle", name)


def downstroke(x: float, y: float, height: float) -> Outline:
    """The bow sign for a down-stroke: a heavy bar with two thin legs, open below."""
    width, leg, bar = height * 0.82, height * 0.13, height * 0.42
    left, top, bottom = x - width / 2, y - height / 2, y + height / 2
    return polygon((
        (left, bottom), (left, top), (left + width, top), (left + width, bottom),
        (left + width - leg, bottom), (left + width - leg, top + bar), (left + leg, top + bar),
        (left + leg, bottom),
    ))  # fmt: skip


def upstroke(x: float, y: float, height: float) -> Outline:
    """The bow sign for an up-stroke: a narrow V, its left arm heavier."""
    half, top, bottom = height * 0.40, y - height / 2, y + height / 2
    heavy, thin = height * 0.24, height * 0.13
    return polygon((
        (x - half, top), (x - half + heavy, top), (x + heavy * 0.16, bottom - height * 0.34),
        (x + half - thin, top), (x + half, top), (x + thin * 0.35, bottom), (x - thin * 0.35, bottom),
    ))  # fmt: skip


def stroke_sign(stroke: str, x: float, y: float, height: float, fill: Colour, name: str = "") -> Path:
    """The sign of a `down` or `up` stroke."""
    shape = downstroke if stroke == "down" else upstroke
    return Path(shape(x, y, height), fill, name=name or f"stroke {stroke}")


def tremolo(x: float, y: float, height: float) -> Outline:
    """Three leaning bars."""
    half, thick, rise = height * 0.42, height * 0.15, height * 0.16
    bars = (
        polygon((
            (x - half, at + rise), (x + half, at - rise), (x + half, at - rise + thick),
            (x - half, at + rise + thick),
        ))
        for at in (y - height * 0.36, y - height * 0.06, y + height * 0.24)
    )  # fmt: skip
    return joined(*bars)


def accent(x: float, y: float, width: float) -> Outline:
    """A lying wedge, open to the left (to be stroked)."""
    half, rise = width / 2, width * 0.26
    return polyline(((x - half, y - rise), (x + half, y), (x - half, y + rise)))


def angle_brackets(left: float, right: float, y: float, height: float) -> Outline:
    """The two halves of a diamond around something (to be stroked)."""
    lean, half = height * 0.3, height / 2
    opening = polyline(((left + lean, y - half), (left, y), (left + lean, y + half)))
    closing = polyline(((right - lean, y - half), (right, y), (right - lean, y + half)))
    return joined(opening, closing)


def parentheses(left: float, right: float, y: float, height: float) -> Outline:
    """A pair of round brackets around something (to be stroked)."""
    belly, half = height * 0.2, height / 2
    pen = Pen()
    for x, lean in ((left + belly, -belly), (right - belly, belly)):
        pen.move(x, y - half).cubic(
            x + lean * 1.3, y - half * 0.4, x + lean * 1.3, y + half * 0.4, x, y + half
        )
    return pen.outline


def dead(x: float, y: float, size: float) -> Outline:
    """A cross of two lines (to be stroked)."""
    half = size / 2
    return joined(line(x - half, y - half, x + half, y + half), line(x - half, y + half, x + half, y - half))


def finger_dot(label: str, x: float, y: float, radius: float, fill: Colour, text: Colour, size: float,
               name: str = "finger") -> tuple[Path, Text]:  # fmt: skip
    """A finger's name on a filled dot."""
    dot = Path(circle(x, y, radius), fill, name=f"{name} dot")
    return dot, centred(label, x, y, size, text, "bold", name)


def amount_label(semitones: Fraction) -> str:
    """A bend's amount in whole tones as players write it: ¼, ½, full, 1½, 2."""
    tones = semitones / 2
    whole, part = int(tones), tones - int(tones)
    if tones == 1:
        return "full"
    if part == 0:
        return str(whole)
    if part not in FRACTIONS:
        return f"{float(tones):.2g}"
    return f"{whole or ''}{FRACTIONS[part]}"


def bend_label(semitones: Fraction) -> str:
    """`amount_label` for any rise, without a sign."""
    return amount_label(abs(semitones))


def note_head(x: float, y: float, width: float, hollow: bool, fill: Colour) -> Path:
    """A rhythm note's head: filled, or a ring."""
    head = ellipse(x, y, width / 2, width * 0.38)
    if hollow:
        return Path(head, stroke=Stroke(fill, width * 0.2), name="head")
    return Path(head, fill, name="head")


def rest(base: Fraction, x: float, y: float, height: float, fill: Colour) -> tuple[Path, ...]:
    """A rest of our own drawing: a block for whole and half, a bent stroke for a quarter, hooks below it."""
    name = "rest"
    if base >= 2:
        hang = 0.0 if base >= 4 else -height * 0.16
        block = rect(Box(x - height * 0.26, y + hang, height * 0.52, height * 0.16))
        rule = line(x - height * 0.42, y, x + height * 0.42, y)
        return Path(block, fill, name=name), Path(rule, stroke=Stroke(fill, height * 0.05), name=name)
    if base == 1:
        return (Path(_quarter_rest(x, y, height), fill, name=name),)
    hooks = (Fraction(1) / base).numerator.bit_length() - 1
    return _hooked_rest(x, y, height, hooks, fill)


def _quarter_rest(x: float, y: float, h: float) -> Outline:
    """A bolt: two slanted strokes joined, with a tail."""
    points = (
        (-0.10, -0.50), (0.20, -0.12), (0.05, 0.08), (0.20, 0.30), (-0.02, 0.27), (0.04, 0.46),
        (0.00, 0.50), (-0.20, 0.22), (0.02, 0.19), (-0.18, -0.06), (-0.02, -0.24),
    )  # fmt: skip
    return shifted(polygon([(px * h, py * h) for px, py in points]), x, y)


def _hooked_rest(x: float, y: float, h: float, hooks: int, fill: Colour) -> tuple[Path, ...]:
    """A leaning stem with one hook and dot for an eighth, one more for each halving."""
    top, bottom, lean = y - h * 0.34, y + h * 0.42, h * 0.16
    stem = line(x + lean, top, x - lean * 0.6, bottom)
    marks = [Path(stem, stroke=Stroke(fill, h * 0.07), name="rest")]
    for hook in range(hooks):
        at = top + hook * h * 0.24
        slip = hook * h * 0.24 * 1.6 * lean / (bottom - top)
        right, left = x + lean - slip, x - lean * 1.1 - slip
        pen = Pen().move(left, at).cubic(left + lean * 0.5, at + h * 0.12, right - lean * 0.6, at + h * 0.1,
                                         right, at)  # fmt: skip
        marks.append(Path(pen.outline, stroke=Stroke(fill, h * 0.06), name="rest"))
        marks.append(Path(circle(left + h * 0.03, at - h * 0.01, h * 0.085), fill, name="rest"))
    return tuple(marks)


def flags(x: float, tip: float, count: int, height: float, up: bool, fill: Colour) -> Path:
    """Flags of a single short note on a stem whose end is at (x, tip); `up` means the stem goes up."""
    turn = 1.0 if up else -1.0
    pen = Pen()
    for flag in range(count):
        y = tip + turn * flag * height * 0.32
        pen.move(x, y).cubic(
            x + height * 0.08,
            y + turn * height * 0.28,
            x + height * 0.46,
            y + turn * height * 0.3,
            x + height * 0.34,
            y + turn * height * 0.72,
        )
        pen.cubic(x + height * 0.38, y + turn * height * 0.42, x + height * 0.14, y + turn * height * 0.38,
                  x, y + turn * height * 0.26).close()  # fmt: skip
    return Path(pen.outline, fill, name="flag")


def repeat_sign(x: float, side: int, ends: tuple[float, float], unit: float, dots: tuple[float, float],
                thin: float) -> Outline:  # fmt: skip
    """A heavy line at x, a thin one and two dots on the side the repeat lies on (1 right, -1 left).

    `ends` are the lines' top and bottom, `unit` the distance of the lines it crosses, `dots` the dots' y.
    """
    top, bottom = ends
    heavy = unit * 0.13
    at = x + side * unit * 0.27
    bars = (
        Box(x if side > 0 else x - heavy, top, heavy, bottom - top),
        Box(at - thin / 2, top, thin, bottom - top),
    )
    points = (circle(at + side * unit * 0.24, y, unit * 0.1) for y in dots)
    return joined(*(rect(bar) for bar in bars), *points)
