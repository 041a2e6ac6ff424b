"""Sharp, flat, natural and their doubles, drawn here because text faces lack them.

Measures are shares of the type size, the baseline at y = 0 and y downwards. The signs stand a little taller
than capitals, as they do between words, and take their weight from the face beside them. Their shapes follow
common practice in engraving (no source): thin uprights, heavy slanting bars.
"""

from functools import cache

from pipeline.drawing.outline import Pen, Point, joined, polygon, shifted
from pipeline.drawing.picture import Outline

SIGNS = "♯♭♮𝄪𝄫"
STEMS = {"light": 0.034, "regular": 0.052, "italic": 0.052, "semibold": 0.068, "bold": 0.082, "black": 0.098}
BARS = {"light": 0.052, "regular": 0.084, "italic": 0.084, "semibold": 0.106, "bold": 0.126, "black": 0.146}
TOP, FOOT, SIDE = -0.735, 0.085, 0.05
UPPER, LOWER = -0.45, -0.20
"""Where the middles of the two bars lie."""


def sign(character: str, face: str) -> tuple[Outline, float]:
    """Outline and advance of one of `SIGNS` at size 1."""
    return _DRAWN[character](STEMS[face], BARS[face])


@cache
def _sharp(stem: float, bar: float) -> tuple[Outline, float]:
    width, slant = 0.34 + 1.1 * stem, 0.07
    left, right = SIDE + width * 0.31, SIDE + width * 0.69
    pieces = [
        _upright(left, TOP + 0.04, FOOT, stem),
        _upright(right, TOP, FOOT - 0.04, stem),
        _bar(SIDE, SIDE + width, UPPER, slant, bar),
        _bar(SIDE, SIDE + width, LOWER, slant, bar),
    ]
    return joined(*pieces), width + 2 * SIDE


@cache
def _natural(stem: float, bar: float) -> tuple[Outline, float]:
    """Two uprights, each ending flush with the outer edge of a bar."""
    width, slant = 0.25 + 1.6 * stem, 0.06
    left, right = SIDE, SIDE + width
    reach, inner = slant / 2 + bar / 2, slant * stem / width
    end, start = LOWER + reach, UPPER - reach
    first = ((left, TOP), (left + stem, TOP), (left + stem, end - inner), (left, end))
    second = ((right - stem, start + inner), (right, start), (right, FOOT), (right - stem, FOOT))
    bars = [_bar(left, right, middle, slant, bar) for middle in (UPPER, LOWER)]
    return joined(polygon(first), polygon(second), *bars), width + 2 * SIDE


@cache
def _flat(stem: float, bar: float) -> tuple[Outline, float]:
    width = 0.30 + 0.8 * stem
    stick = _upright(SIDE + stem / 2, TOP, 0.0, stem)
    return joined(stick, _bowl(SIDE, width, stem, bar)), width + 2 * SIDE


@cache
def _double_flat(stem: float, bar: float) -> tuple[Outline, float]:
    outline, advance = _flat(stem, bar)
    step = advance - 2 * SIDE - stem * 0.25
    return joined(outline, shifted(outline, step, 0.0)), advance + step


@cache
def _double_sharp(stem: float, bar: float) -> tuple[Outline, float]:
    """A heavy cross that widens into square ends."""
    half = 0.165
    corners = ((1, 1), (1, -1), (-1, 1), (-1, -1))
    arms = [_arm(SIDE + half, -0.32, (sx * half, sy * half), stem * 0.31, bar * 0.95) for sx, sy in corners]
    return joined(*arms), 2 * (half + SIDE)


def _arm(x: float, y: float, reach: Point, waist: float, end: float) -> Outline:
    """A quarter of the double sharp, from the middle (x, y) to a tip; `end` is the size of its corner."""
    sx, sy = (1 if part > 0 else -1 for part in reach)
    tip = (x + reach[0], y + reach[1])
    return polygon(
        (
            (x + sx * waist, y - sy * waist),
            (tip[0], tip[1] - sy * end),
            tip,
            (tip[0] - sx * end, tip[1]),
            (x - sx * waist, y + sy * waist),
        )
    )


def _bowl(left: float, width: float, stem: float, bar: float) -> Outline:
    """The flat's belly: a swelling outer curve less a slimmer counter, ending in a point at the foot."""
    inner, right, top = left + stem, left + width, -0.475
    crown = left + stem + (width - stem) * 0.50
    outer = Pen().move(left, -0.36).cubic(inner, -0.42, inner + 0.05, top, crown, top)
    outer.cubic(right - 0.04, top, right, top + 0.06, right, -0.33)
    outer.cubic(right, -0.19, inner + 0.10, -0.07, left, 0.03).close()
    edge, roof = right - bar * 1.02, top + max(stem * 0.95, bar * 0.62)
    peak = min(crown, edge - 0.01)
    counter = Pen().move(inner, -0.32).line(inner, -0.07)
    counter.cubic(inner + 0.09, -0.15, edge, -0.23, edge, -0.33)
    counter.cubic(edge, roof + 0.04, peak + 0.02, roof, peak - 0.01, roof)
    counter.cubic(inner + 0.04, roof, inner, -0.36, inner, -0.32).close()
    return joined(outer.outline, counter.outline)


def _upright(x: float, top: float, foot: float, weight: float) -> Outline:
    w = weight / 2
    return polygon(((x - w, top), (x + w, top), (x + w, foot), (x - w, foot)))


def _bar(left: float, right: float, middle: float, slant: float, weight: float) -> Outline:
    s, w = slant / 2, weight / 2
    corners = (
        (left, middle + s - w),
        (right, middle - s - w),
        (right, middle - s + w),
        (left, middle + s + w),
    )
    return polygon(corners)


_DRAWN = {"♯": _sharp, "♭": _flat, "♮": _natural, "𝄪": _double_sharp, "𝄫": _double_flat}
