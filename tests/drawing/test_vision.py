"""Colour vision against the published matrices and an independent package."""

from itertools import combinations

import numpy as np
import pytest

from pipeline.drawing.look import load_look, look_names
from pipeline.drawing.picture import Colour
from pipeline.drawing.vision import MATRICES, Sight, distance, lab, seen, told_apart

colorspacious = pytest.importorskip("colorspacious")

# Okabe & Ito, Color Universal Design, 2008 (black left out).
OKABE_ITO = [
    (230, 159, 0),
    (86, 180, 233),
    (0, 158, 115),
    (240, 228, 66),
    (0, 114, 178),
    (213, 94, 0),
    (204, 121, 167),
]
NAMES: dict[Sight, str] = {"no red": "protanomaly", "no green": "deuteranomaly", "no blue": "tritanomaly"}


@pytest.mark.parametrize("sight", NAMES)
def test_the_matrices_are_those_of_machado_and_others(sight: Sight) -> None:
    theirs = colorspacious.machado_et_al_2009_matrix(NAMES[sight], 100)
    assert np.abs(np.array(MATRICES[sight]) - theirs).max() < 1e-6
    assert np.array(MATRICES[sight]).sum(axis=1) == pytest.approx([1, 1, 1], abs=2e-6)


@pytest.mark.parametrize(
    ("sight", "smallest"), [("usual", 20.76), ("no red", 13.96), ("no green", 14.77), ("no blue", 10.97)]
)
def test_smallest_distance_in_the_palette_of_okabe_and_ito(sight: Sight, smallest: float) -> None:
    """CAM02-UCS of colorspacious 1.1.2 on colours seen by our matrices and rounded to bytes; black counts."""
    colours = [seen(Colour(*c), sight) for c in [(0, 0, 0), *OKABE_ITO]]
    pairs = combinations([[part / 255 for part in colour[:3]] for colour in colours], 2)
    found = min(colorspacious.deltaE(a, b, input_space="sRGB1") for a, b in pairs)
    assert found == pytest.approx(smallest, abs=0.3)


def test_greys_stay_grey() -> None:
    for level in (0, 60, 128, 255):
        for sight in MATRICES:
            assert seen(Colour(level, level, level), sight) == Colour(level, level, level)


@pytest.mark.parametrize("colour", OKABE_ITO)
def test_lab_agrees_with_colorspacious(colour: tuple[int, int, int]) -> None:
    theirs = colorspacious.cspace_convert([part / 255 for part in colour], "sRGB1", "CIELab")
    assert lab(Colour(*colour)) == pytest.approx(theirs, abs=0.05)


def test_white_and_black_in_lab() -> None:
    assert lab(Colour(255, 255, 255)) == pytest.approx((100, 0, 0), abs=0.02)
    assert distance(Colour(0, 0, 0), Colour(255, 255, 255)) == pytest.approx(100, abs=0.02)


@pytest.mark.parametrize("name", look_names())
def test_what_means_different_things_looks_different_to_everyone(name: str) -> None:
    close = [found for found in told_apart(load_look(name)) if found.distance < 15]
    assert close == []
