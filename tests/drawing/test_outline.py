"""Shapes: where they lie, how they turn, that curves follow what they stand for."""

import math

import pytest

from pipeline.drawing.affine import box_at, compose, growth, is_shift, moved, point_at, scaled, turned
from pipeline.drawing.dashes import dashed, walked
from pipeline.drawing.outline import (
    Pen,
    arc,
    arrow_head,
    circle,
    cross,
    diamond,
    ellipse,
    joined,
    line,
    outline_box,
    polygon,
    polyline,
    rect,
    ring,
    rounded,
    shifted,
    slur,
    smooth,
    transformed,
    wavy,
)
from pipeline.drawing.picture import Box, Outline


def area(outline: Outline) -> float:
    """Signed area of what is walked; positive runs clockwise as seen."""
    total = 0.0
    for points in walked(outline):
        for (x1, y1), (x2, y2) in zip(points, [*points[1:], points[0]], strict=True):
            total += (x1 * y2 - x2 * y1) / 2
    return total


def test_the_pen_records_what_it_drew() -> None:
    drawn = Pen().move(1, 2).line(3, 4).cubic(1, 1, 2, 2, 3, 3).close().outline
    assert drawn == (("M", (1.0, 2.0)), ("L", (3.0, 4.0)), ("C", (1.0, 1.0, 2.0, 2.0, 3.0, 3.0)), ("Z", ()))


@pytest.mark.parametrize(
    ("shape", "size"),
    [
        (rect(Box(1, 2, 30, 20)), 600.0),
        (rounded(Box(0, 0, 30, 20), 5), 600 - (4 - math.pi) * 25),
        (circle(3, 4, 10), math.pi * 100),
        (ellipse(3, 4, 10, 5), math.pi * 50),
        (ring(0, 0, 10, 6), math.pi * 64),
        (diamond(0, 0, 10, 8), 40.0),
        (polygon([(0, 0), (0, 10), (10, 10), (10, 0)]), 100.0),
    ],
)
def test_closed_shapes_run_clockwise_and_have_their_area(shape: Outline, size: float) -> None:
    assert area(shape) == pytest.approx(size, rel=2e-3)


def test_a_circle_is_round_to_three_parts_in_ten_thousand() -> None:
    radii = [math.hypot(x - 5, y - 6) for x, y in walked(circle(5, 6, 100))[0]]
    assert min(radii) > 100 * (1 - 3e-4)
    assert max(radii) < 100 * (1 + 3e-4)


def test_an_arc_goes_from_angle_to_angle() -> None:
    points = walked(arc(0, 0, 10, 0, 90))[0]
    assert points[0] == pytest.approx((10, 0))
    assert points[-1] == pytest.approx((0, 10))
    back = walked(arc(0, 0, 10, 180, 0))[0]
    assert back[len(back) // 2] == pytest.approx((0, 10), abs=1e-6)


def test_a_smooth_curve_passes_its_points() -> None:
    points = [(0.0, 0.0), (10.0, 5.0), (20.0, -5.0), (30.0, 0.0)]
    ends = [values[-2:] for _, values in smooth(points)]
    assert ends == points
    assert smooth(points[:2]) == polyline(points[:2])
    assert smooth(points, closed=True)[-1] == ("Z", ())


def test_a_wavy_line_has_its_height_and_whole_half_waves() -> None:
    box = outline_box(wavy(10, 90, 50, 8, 13))
    assert box is not None
    assert (box.x, box.right) == pytest.approx((10, 90))
    assert (box.y, box.bottom) == pytest.approx((46, 54))
    assert len(wavy(10, 90, 50, 8, 13)) == 1 + round(2 * 80 / 13)
    assert len(wavy(10, 11, 50, 8, 13)) == 3


def test_a_slur_rises_and_is_thin_at_its_ends() -> None:
    box = outline_box(slur(0, 0, 100, 0, 20, 4))
    assert box is not None
    assert box.y == pytest.approx(-22)
    assert (box.x, box.right, box.bottom) == (0, 100, 0)
    below = outline_box(slur(0, 0, 100, 0, -20, 4))
    assert below is not None
    assert below.bottom == pytest.approx(22)


@pytest.mark.parametrize(("angle", "back"), [(0, (-10, 0)), (90, (0, -10)), (180, (10, 0)), (-90, (0, 10))])
def test_an_arrow_head_points_where_it_should(angle: float, back: tuple[float, float]) -> None:
    box = outline_box(arrow_head(0, 0, angle, 10))
    assert box is not None
    reach = (box.x + box.right, box.y + box.bottom)
    assert tuple(reach) == pytest.approx(back, abs=1e-9)


def test_boxes_follow_curves_to_their_extremes() -> None:
    assert outline_box(circle(10, 20, 5)) == pytest.approx(Box(5, 15, 10, 10))
    assert outline_box((("M", (0, 0)), ("C", (0, 100, 100, 100, 100, 0)))) == pytest.approx(
        Box(0, 0, 100, 75)
    )
    assert outline_box(()) is None
    assert outline_box(cross(5, 5, 4)) == Box(3, 3, 4, 4)


def test_shifting_joining_and_transforming() -> None:
    assert shifted(line(0, 0, 1, 1), 2, 3) == line(2, 3, 3, 4)
    assert joined(line(0, 0, 1, 1), line(2, 2, 3, 3)) == line(0, 0, 1, 1) + line(2, 2, 3, 3)
    turned_line = transformed(line(0, 0, 1, 0), turned(90))
    assert turned_line[1][1] == pytest.approx((0, 1))


def test_transforms_compose_inner_first() -> None:
    both = compose(moved(10, 0), scaled(2, 3))
    assert point_at(both, 1, 1) == (12, 3)
    assert point_at(scaled(2, about=(5, 5)), 5, 5) == (5, 5)
    assert point_at(turned(90, (5, 5)), 6, 5) == pytest.approx((5, 6))
    assert growth(scaled(2, 8)) == 4
    assert is_shift(moved(3, 4))
    assert not is_shift(turned(1))
    assert box_at(turned(90), Box(0, 0, 4, 2)) == pytest.approx(Box(-2, 0, 2, 4))


def test_dashes_have_their_lengths() -> None:
    runs = walked(dashed(line(0, 0, 25, 0), (6.0, 4.0)))
    assert [(run[0][0], run[-1][0]) for run in runs if len(run) > 1] == [(0, 6), (10, 16), (20, 25)]


def test_dashes_go_round_corners_and_odd_lists_are_read_twice() -> None:
    runs = walked(dashed(polyline([(0, 0), (4, 0), (4, 4)]), (5.0,)))
    assert [point for run in runs for point in run][:3] == [(0, 0), (4, 0), (4, 1)]
    assert len([run for run in runs if len(run) > 1]) == 1


@pytest.mark.parametrize("lengths", [(), (0.0, 0.0), (-1.0, 5.0)])
def test_lists_that_make_no_dashes_leave_the_line(lengths: tuple[float, ...]) -> None:
    assert dashed(line(0, 0, 9, 0), lengths) == line(0, 0, 9, 0)


def test_dashes_without_length_are_skipped() -> None:
    runs = walked(dashed(line(0, 0, 10, 0), (3.0, 0.0)))
    assert [point[0] for run in runs for point in run][-1] == 10
