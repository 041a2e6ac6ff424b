"""How far two colours stand apart: relative luminance and contrast as WCAG 2.2 defines them.

Source: W3C, Web Content Accessibility Guidelines 2.2, definitions of relative luminance and contrast ratio
(sRGB threshold 0.04045), success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (marks, 3:1).
"""

from pipeline.drawing.picture import Colour

TEXT = 4.5
MARKS = 3.0
WEIGHTS = (0.2126, 0.7152, 0.0722)


def to_linear(share: float) -> float:
    """sRGB (0 to 1) to linear light."""
    return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)


def from_linear(light: float) -> float:
    """Linear light (0 to 1) to sRGB."""
    return light * 12.92 if light <= 0.0031308 else float(1.055 * light ** (1 / 2.4) - 0.055)


def luminance(colour: Colour) -> float:
    """Relative luminance, 0 for black to 1 for white; alpha is not looked at."""
    return sum(w * to_linear(part / 255) for w, part in zip(WEIGHTS, colour[:3], strict=True))


def contrast(one: Colour, other: Colour) -> float:
    """The contrast ratio, 1 to 21, of two opaque colours in either order."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def over(top: Colour, ground: Colour) -> Colour:
    """The opaque colour seen where `top` lies over an opaque ground."""
    share = top.alpha / 255
    parts = (round(t * share + g * (1 - share)) for t, g in zip(top[:3], ground[:3], strict=True))
    return Colour(*parts)
