"""Beams of a row: straight whatever room the columns have, with every stem ending on its beam."""

from functools import partial

import pytest

from pipeline.views.beams import NEAR, Beam, beams_of
from pipeline.views.engraving import engrave
from tests.views.corpus import lead_line

ROUNDED = 2.0
"""The engraver writes whole units, a hundred and eightieth of a staff space, at both ends of a beam."""
CLOSE = 0.4


def uneven(x: float) -> float:
    """A row that is wide at first and close later on."""
    return 0.2 * x if x < 1500.0 else 300.0 + 0.05 * (x - 1500.0)


def test_a_level_beam_stays_where_it_is() -> None:
    beam = Beam(0.0, 100.0, 3000.0, 100.0)
    outline = (("M", (0.0, 100.0)), ("L", (1500.0, 100.0)), ("L", (3000.0, 190.0)))
    assert beam.levelled(outline, uneven) == outline


def test_a_sloping_beam_is_straight_in_the_row() -> None:
    beam = Beam(0.0, 0.0, 3000.0, 300.0)
    outline = tuple(("L", (x, beam.edge(x))) for x in (0.0, 700.0, 1500.0, 2600.0, 3000.0))
    points = [(uneven(x), y) for _, (x, y) in beam.levelled(outline, uneven)]
    slopes = [(y - points[0][1]) / (x - points[0][0]) for x, y in points[1:]]
    assert slopes == pytest.approx([slopes[0]] * len(slopes))


def test_the_head_end_of_a_stem_stays() -> None:
    beam = Beam(0.0, 0.0, 3000.0, 300.0)
    stem = (("M", (1500.0, -4 * NEAR)), ("L", (1500.0, 150.0 + 72.0)))
    (_, head), (_, foot) = beam.levelled(stem, uneven)
    assert head == (1500.0, -4 * NEAR)
    assert foot[1] > 222.0, "the beam falls sooner where the row is wide at first"


def test_every_stem_under_a_beam_of_the_lead_line_hangs_on_it() -> None:
    shapes = engrave(lead_line()).shapes
    beams = beams_of(shapes)
    groups = {shape.group for shape in shapes if shape.kind == "beam"}
    hanging = [shape for shape in shapes if shape.kind == "stem" and shape.group in beams]
    assert groups
    assert len(hanging) >= 2 * len(groups), "a beam joins two notes at least"


def test_the_beams_of_a_group_run_side_by_side() -> None:
    """Bent with the row, an inner beam of one piece a note would kink under the straight outer one."""
    shapes = engrave(lead_line()).shapes
    kept = dict[int, float]()
    for shape in (shape for shape in shapes if shape.kind == "beam"):
        beam = beams_of(shapes)[shape.group]
        row = partial(crowded, middle=(beam.left + beam.right) / 2)
        (_, (x0, y0)), (_, (x1, y1)) = beam.levelled(shape.outline, row)[:2]
        outer = kept.setdefault(shape.group, (y1 - y0) / (row(x1) - row(x0)))
        assert y1 - y0 == pytest.approx(outer * (row(x1) - row(x0)), abs=ROUNDED)
    assert any(abs(outer) > 0.1 for outer in kept.values()), "some slope"


def crowded(x: float, middle: float) -> float:
    """A row that is set close from a middle on."""
    return x if x < middle else middle + CLOSE * (x - middle)
