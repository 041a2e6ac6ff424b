"""Sharp, flat, natural and their doubles, drawn here because text faces lack them.

Measures are shares of the type size, the baseline at y = 0 and y downwards. The signs stand a little taller
than capitals, as they do between words, and take their weight from the face beside them. Their shapes follow
common practice in engraving (no source): thin uprights, heavy slanting bars.
"""

from functools import cache

from pipeline.drawing.outline import Pen, joined, polygon, shifted
from pipeline.drawing.picture import Outline

SIGNS = "♯♭♮𝄪𝄫"
STEMS = {"light": 0.042, "regular": 0.056, "italic": 0.056, "semibold": 0.070, "bold": 0.084, "black": 0.100}
BARS = {"light": 0.062, "regular": 0.086, "italic": 0.086, "semibold": 0.108, "bold": 0.130, "black": 0.150}
TOP, FOOT, SIDE = -0.735, 0.085, 0.05


def sign(character: str, face: str) -> tuple[Outline, float]:
    """Outline and advance of one of `SIGNS` at size 1."""
    return _DRAWN[character](STEMS[face], BARS[face])


@cache
def _sharp(stem: float, bar: float) -> tuple[Outline, float]:
    width, slant = 0.40, 0.07
    left, right = SIDE + width * 0.30, SIDE + width * 0.70
    pieces = [
        _upright(left, TOP + 0.04, FOOT, stem),
        _upright(right, TOP, FOOT - 0.04, stem),
        _bar(SIDE, SIDE + width, -0.44, slant, bar),
        _bar(SIDE, SIDE + width, -0.20, slant, bar),
    ]
    return joined(*pieces), width + 2 * SIDE


@cache
def _natural(stem: float, bar: float) -> tuple[Outline, float]:
    width, slant = 0.27, 0.05
    left, right = SIDE + stem / 2, SIDE + width - stem / 2
    pieces = [
        _upright(left, TOP, -0.20 + slant / 2 + bar / 2, stem),
        _upright(right, -0.44 - slant / 2 - bar / 2, FOOT, stem),
        _bar(SIDE, SIDE + width, -0.44, slant, bar),
        _bar(SIDE, SIDE + width, -0.20, slant, bar),
    ]
    return joined(*pieces), width + 2 * SIDE


@cache
def _flat(stem: float, bar: float) -> tuple[Outline, float]:
    width = 0.34
    return joined(_upright(SIDE + stem / 2, TOP, 0.0, stem), _bowl(SIDE, width, stem, bar)), width + 2 * SIDE


@cache
def _double_flat(stem: float, bar: float) -> tuple[Outline, float]:
    outline, advance = _flat(stem, bar)
    step = advance - 2 * SIDE - stem * 0.5
    return joined(outline, shifted(outline, step, 0.0)), advance + step


@cache
def _double_sharp(stem: float, bar: float) -> tuple[Outline, float]:
    half, middle, arm = 0.17, -0.32, bar * 0.36
    x, box = SIDE + half, bar * 0.55
    rising = polygon(_crossbar(x, middle, half, arm, 1))
    falling = polygon(_crossbar(x, middle, half, arm, -1))
    ends = [
        polygon(_square(x + sx * (half - box / 2), middle + sy * (half - box / 2), box))
        for sx in (-1, 1)
        for sy in (-1, 1)
    ]
    return joined(rising, falling, *ends), 2 * (half + SIDE)


def _bowl(left: float, width: float, stem: float, bar: float) -> Outline:
    """The flat's belly: a swelling outer curve less a slimmer counter, ending in a point at the foot."""
    inner, right, top = left + stem, left + width, -0.46
    outer = Pen().move(left, -0.34).cubic(left + 0.06, top + 0.01, left + 0.13, top, left + 0.19, top)
    outer.cubic(right - 0.05, top, right, top + 0.06, right, -0.32)
    outer.cubic(right, -0.18, left + 0.16, -0.06, left, 0.03).close()
    thick = bar * 1.05
    edge = right - thick
    counter = Pen().move(inner, -0.30).line(inner, -0.075)
    counter.cubic(left + 0.14, -0.15, edge, -0.22, edge, -0.32)
    counter.cubic(edge, -0.37, edge - 0.02, top + stem * 1.25, left + 0.16, top + stem * 1.25)
    counter.cubic(left + 0.11, top + stem * 1.25, inner + 0.01, -0.35, inner, -0.30).close()
    return joined(outer.outline, counter.outline)


def _upright(x: float, top: float, foot: float, weight: float) -> Outline:
    w = weight / 2
    return polygon(((x - w, top), (x + w, top), (x + w, foot), (x - w, foot)))


def _bar(left: float, right: float, middle: float, slant: float, weight: float) -> Outline:
    s, w = slant / 2, weight / 2
    return polygon(
        (
            (left, middle + s - w),
            (right, middle - s - w),
            (right, middle - s + w),
            (left, middle + s + w),
        )
    )


def _crossbar(x: float, y: float, half: float, arm: float, way: int) -> list[tuple[float, float]]:
    a = arm / 2
    return [
        (x - half, y - way * half + a),
        (x - half, y - way * half - a),
        (x + half, y + way * half - a),
        (x + half, y + way * half + a),
    ]


def _square(x: float, y: float, side: float) -> list[tuple[float, float]]:
    h = side / 2
    return [(x - h, y - h), (x + h, y - h), (x + h, y + h), (x - h, y + h)]


_DRAWN = {"♯": _sharp, "♭": _flat, "♮": _natural, "𝄪": _double_sharp, "𝄫": _double_flat}
