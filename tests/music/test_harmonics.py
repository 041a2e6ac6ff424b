"""Harmonics against J. P. Fillmore, "Harmonics on the Guitar" (UC San Diego, 2008) and printed tables."""

import pytest

from pipeline.music.guitar import Guitar
from pipeline.music.harmonics import (
    cents,
    deviation,
    nodes,
    partial_at,
    semitones,
    touch_points,
    touched_partial,
)
from pipeline.music.pitch import parse_pitch, pitch_name

# k, semitones, cents, deviation (computed: 1200 log2 k), fret equivalents of some of its nodes.
# 3, 5 and 7 are also printed by Fillmore and in a table of natural harmonics, rounded to +2, -14, -31.
TABLE = [
    (2, 12, 1200.000, 0.000, [12.000]),
    (3, 19, 1901.955, 1.955, [7.020, 19.020]),
    (4, 24, 2400.000, 0.000, [4.980, 24.000]),
    (5, 28, 2786.314, -13.686, [3.863, 8.844, 15.863, 27.863]),
    (6, 31, 3101.955, 1.955, [3.156, 31.020]),
    (7, 34, 3368.826, -31.174, [2.669, 5.825, 9.688, 14.669, 21.688, 33.688]),
    (8, 36, 3600.000, 0.000, [2.312, 8.137, 16.980, 36.000]),
    (9, 38, 3803.910, 3.910, [2.039, 4.351, 10.176, 14.039, 26.039, 38.039]),
]


@pytest.mark.parametrize(("k", "interval", "size", "off", "frets"), TABLE)
def test_partials_and_nodes(k: int, interval: int, size: float, off: float, frets: list[float]) -> None:
    assert semitones(k) == interval
    assert cents(k) == pytest.approx(size, abs=0.001)
    assert deviation(k) == pytest.approx(off, abs=0.001)
    assert [node.fret for node in nodes(k)] == pytest.approx(frets, abs=0.001)


@pytest.mark.parametrize(("k", "rounded"), [(3, 2), (5, -14), (7, -31), (9, 4)])
def test_printed_deviations_in_whole_cents(k: int, rounded: int) -> None:
    """Table of natural harmonics (pdfcoffee.com/harmonic-nodes-pdf-free.html); tolerance 1 cent."""
    assert deviation(k) == pytest.approx(rounded, abs=1)


@pytest.mark.parametrize(
    ("fret", "sounding"), [(12, "E3"), (7, "B3"), (5, "E4"), (4, "G#4"), (9, "G#4"), (16, "G#4")]
)
def test_harmonics_of_the_low_e_by_printed_fret(fret: int, sounding: str) -> None:
    """A printed table; at frets 9 and 16 the nodes lie at 8.844 and 15.863, so a window is needed."""
    partial = partial_at(fret)
    assert partial is not None
    assert pitch_name(parse_pitch("E2") + semitones(partial)) == sounding


def test_frets_seven_and_nineteen_give_the_same_third_harmonic() -> None:
    """Fillmore: on the A string both sound E4."""
    assert partial_at(7) == partial_at(19) == 3
    assert pitch_name(parse_pitch("A2") + semitones(3)) == "E4"


def test_w3c_artificial_harmonic() -> None:
    """W3C MusicXML 4.0 example artificial-element: base C4, touching F4, sounding C6."""
    partial = partial_at(parse_pitch("F4") - parse_pitch("C4"))
    assert partial == 4
    assert parse_pitch("C4") + semitones(partial) == parse_pitch("C6")


@pytest.mark.parametrize("fret", [1, 11, 13])
def test_no_harmonic_far_from_every_node(fret: int) -> None:
    assert partial_at(fret) is None


def test_the_same_touch_gives_other_harmonics_for_other_frets() -> None:
    """The node must lie under the touch: from the bridge it is the sounding length times 1 - j/k."""
    guitar = Guitar()
    touch = touch_points(guitar, 5, 4)[0]
    assert touch == pytest.approx((648.0 - guitar.fret_mm(5)) / 4)
    assert touched_partial(guitar, 5, touch) == 4
    assert touched_partial(guitar, 5, touch + 8.0) != 4
    # A quarter of the length at fret 5 is a third of it five semitones higher (3:4), within 1 mm.
    assert touched_partial(guitar, 10, touch, tolerance_mm=1.0) == 3
    assert touched_partial(guitar, 3, touch, tolerance_mm=0.5, highest=8) is None


def test_touch_points_are_symmetric_about_the_middle() -> None:
    length = Guitar().scale_mm
    points = touch_points(Guitar(), 0, 5)
    assert [a + b for a, b in zip(points, reversed(points), strict=True)] == pytest.approx([length] * 4)
