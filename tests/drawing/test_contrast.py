"""Contrast against the published formula's worked values and an independent package."""

import pytest
import wcag_contrast_ratio

from pipeline.drawing.contrast import contrast, from_linear, luminance, over, to_linear
from pipeline.drawing.picture import Colour

BLACK, WHITE = Colour(0, 0, 0), Colour(255, 255, 255)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#ffffff", 21.0),
        ("#767676", "#ffffff", 4.5422),
        ("#777777", "#ffffff", 4.4781),
        ("#949494", "#ffffff", 3.0335),
        ("#959595", "#ffffff", 2.9953),
        ("#ff0000", "#ffffff", 3.9985),
        ("#00ff00", "#ffffff", 1.3722),
        ("#0000ff", "#ffffff", 8.5925),
        ("#ff0000", "#000000", 5.2520),
    ],
)
def test_worked_values(one: str, other: str, ratio: float) -> None:
    """W3C, WCAG 2.2, definition of contrast ratio."""
    a, b = Colour.parse(one), Colour.parse(other)
    assert contrast(a, b) == pytest.approx(ratio, abs=5e-4)
    assert contrast(b, a) == contrast(a, b)


def test_agrees_with_the_package_wcag_contrast_ratio() -> None:
    for step in range(0, 256, 15):
        colour = Colour(step, 255 - step, (step * 7) % 256)
        theirs = wcag_contrast_ratio.rgb(tuple(part / 255 for part in colour[:3]), (1.0, 1.0, 1.0))
        assert contrast(colour, WHITE) == pytest.approx(theirs, abs=2e-3)


@pytest.mark.parametrize(
    ("share", "light"),
    [(0.04045, 0.003131), (0.5, 0.214041), (119 / 255, 0.184475), (118 / 255, 0.181164)],
)
def test_srgb_to_linear_light(share: float, light: float) -> None:
    """IEC 61966-2-1 by way of the W3C definition of relative luminance."""
    assert to_linear(share) == pytest.approx(light, abs=1e-6)


@pytest.mark.parametrize(("light", "share"), [(0.0031308, 0.04045), (0.18, 0.461356), (0.5, 0.735357)])
def test_linear_light_to_srgb(light: float, share: float) -> None:
    assert from_linear(light) == pytest.approx(share, abs=1e-5)


@pytest.mark.parametrize(
    ("colour", "on_black", "on_white"),
    [
        ((230, 159, 0), 9.32, 2.25),
        ((86, 180, 233), 9.10, 2.31),
        ((0, 158, 115), 6.14, 3.42),
        ((240, 228, 66), 15.88, 1.32),
        ((0, 114, 178), 4.05, 5.19),
        ((213, 94, 0), 5.43, 3.87),
        ((204, 121, 167), 6.86, 3.06),
    ],
)
def test_colours_of_okabe_and_ito(colour: tuple[int, int, int], on_black: float, on_white: float) -> None:
    """Okabe & Ito, Color Universal Design (2008); ratios from the package wcag-contrast-ratio 0.9."""
    assert contrast(Colour(*colour), BLACK) == pytest.approx(on_black, abs=0.005)
    assert contrast(Colour(*colour), WHITE) == pytest.approx(on_white, abs=0.005)


def test_luminance_of_white_is_one() -> None:
    assert luminance(WHITE) == pytest.approx(1.0)
    assert luminance(BLACK) == 0.0


def test_a_see_through_colour_is_seen_over_its_ground() -> None:
    assert over(Colour(255, 0, 0, 128), BLACK) == Colour(128, 0, 0)
    assert over(WHITE, BLACK) == WHITE
