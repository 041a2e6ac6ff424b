"""Guitars against published fret tables, MEI tunings and the W3C's own string+fret=pitch notes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.music.guitar import Guitar
from pipeline.music.pitch import parse_pitch

# onlycalculators.com/other/music/fret-calculator: printed table for 647.70 mm, nut to fret; 0.01 mm.
FROM_NUT = {1: 36.35, 2: 70.66, 3: 103.05, 4: 133.62, 5: 162.47, 6: 189.71, 7: 215.41, 8: 239.67, 9: 262.58}
FROM_NUT |= {12: 323.85, 24: 485.78}
# stuphi.co.uk, printed table for 25 inches, bridge to fret; 0.001 inch.
FROM_BRIDGE = {1: 23.597, 2: 22.272, 3: 21.022, 4: 19.843, 5: 18.729, 6: 17.678, 7: 16.685, 8: 15.749}
FROM_BRIDGE |= {9: 14.865, 10: 14.031}
# W3C MusicXML 4.0 examples: page, string, frets, pitches as written there.
W3C = [
    ("technical-element-tablature", [(4, 5, "G3")]),
    ("pluck-element", [(5, 3, "C3"), (2, 1, "C4")]),
    ("pre-bend-element", [(3, 3, "Bb3")]),
    ("release-element", [(2, 5, "E4")]),
    ("tap-element", [(1, 14, "F#5"), (1, 7, "B4"), (1, 10, "D5")]),
    ("tutorial-tablature", [(3, 5, "C4"), (3, 7, "D4"), (3, 8, "Eb4"), (3, 7, "D4"), (3, 5, "C4")]),
]
# MEI data.COURSETUNING; open G corrected from memory, as MEI prints an octave slip there.
MEI = {
    "guitar.standard": ("E2 A2 D3 G3 B3 E4", (64, 59, 55, 50, 45, 40)),
    "guitar.drop.D": ("D2 A2 D3 G3 B3 E4", (64, 59, 55, 50, 45, 38)),
    "guitar.open.D": ("D2 A2 D3 F#3 A3 D4", (62, 57, 54, 50, 45, 38)),
    "guitar.open.A": ("E2 A2 E3 A3 C#4 E4", (64, 61, 57, 52, 45, 40)),
    "guitar.open.G": ("D2 G2 D3 G3 B3 D4", (62, 59, 55, 50, 43, 38)),
}


@pytest.mark.parametrize(("fret", "mm"), FROM_NUT.items())
def test_printed_distances_from_the_nut(fret: int, mm: float) -> None:
    assert Guitar(scale_mm=647.70).fret_mm(fret) == pytest.approx(mm, abs=0.01)


@pytest.mark.parametrize(("fret", "inches"), FROM_BRIDGE.items())
def test_printed_distances_from_the_bridge(fret: int, inches: float) -> None:
    guitar = Guitar(scale_mm=25 * 25.4)
    assert (guitar.scale_mm - guitar.fret_mm(fret)) / 25.4 == pytest.approx(inches, abs=0.001)


def test_the_luthiers_constant() -> None:
    """M. Koch, Building Electric Guitars: the scale divided by 17.817 is the first fret."""
    guitar = Guitar()
    assert guitar.scale_mm / guitar.fret_mm(1) == pytest.approx(17.817, abs=0.0005)


@pytest.mark.parametrize(("page", "notes"), W3C)
def test_w3c_string_and_fret_give_the_written_pitch(page: str, notes: list[tuple[int, int, str]]) -> None:
    for string, fret, pitch in notes:
        assert Guitar().pitch(string, fret) == parse_pitch(pitch), page


@pytest.mark.parametrize(("name", "tuning"), MEI.items())
def test_mei_tunings(name: str, tuning: tuple[str, tuple[int, ...]]) -> None:
    assert Guitar.tuned(tuning[0]).strings == tuning[1], name


def test_a_capo_raises_every_open_string() -> None:
    """MusicXML 4.0 `capo`: A2 D3 G3 C4 E4 A4 with a capo at 5 (the list is derived)."""
    guitar = Guitar(capo=5)
    opens = [guitar.open_pitch(string) for string in range(6, 0, -1)]
    assert opens == [parse_pitch(name) for name in ("A2", "D3", "G3", "C4", "E4", "A4")]
    assert guitar.fret_mm(0) == pytest.approx(Guitar().fret_mm(5))
    assert guitar.highest_fret == 19


@given(st.floats(0, 24), st.integers(0, 7))
def test_fret_and_distance_turn_back(fret: float, capo: int) -> None:
    guitar = Guitar(capo=capo)
    assert guitar.fret_at(guitar.fret_mm(fret)) == pytest.approx(fret, abs=1e-6)


@given(st.integers(40, 88))
def test_places_are_all_that_give_the_pitch(note: int) -> None:
    guitar = Guitar()
    every = {(s, f) for s in range(1, 7) for f in range(25) if guitar.pitch(s, f) == note}
    assert set(guitar.places(note)) == every


@pytest.mark.parametrize(("string", "fret"), [(0, 3), (7, 3), (1, 25), (1, -1)])
def test_what_is_not_on_the_neck(string: int, fret: int) -> None:
    with pytest.raises(ValueError, match=r"this guitar has no string|is beyond the neck"):
        Guitar().pitch(string, fret)


@pytest.mark.parametrize("count", [3, 10])
def test_four_to_nine_strings(count: int) -> None:
    with pytest.raises(ValueError, match="4 to 9 strings"):
        Guitar((40,) * count)


def test_a_capo_beyond_the_neck() -> None:
    with pytest.raises(ValueError, match="capo"):
        Guitar(capo=24)


def test_strings_fan_out_to_the_bridge() -> None:
    guitar = Guitar()
    assert guitar.string_mm(6, 0) == pytest.approx(35.0)
    assert guitar.string_mm(6, 12) == pytest.approx((35.0 + 52.0) / 2)
    assert guitar.string_mm(1, 7) == 0
