"""Pinch harmonics: the partial a touch gives at each fret, and the place found from what was heard."""

import pytest

from pipeline.errors import Faulty
from pipeline.music.guitar import Guitar
from pipeline.music.pitch import pitch_class_name, pitch_name
from pipeline.reasoning.harmonics import (
    Pinched,
    along_the_neck,
    partial_pitch,
    soundings,
    touches,
)

GUITAR = Guitar(scale_mm=648.0)


@pytest.mark.parametrize(
    ("partial", "semitones", "off"),
    [(2, 12, 0.0), (3, 19, 1.955), (4, 24, 0.0), (5, 28, -13.686), (7, 34, -31.174), (9, 38, 3.910)],
)
def test_the_sounding_pitch_and_its_cents(partial: int, semitones: int, off: float) -> None:
    """Cents of the natural harmonics: J. P. Fillmore, Harmonics on the Guitar (2008); checks.md section 2."""
    assert partial_pitch(60, partial) == pytest.approx(60 + semitones + off / 100, abs=1e-4)


def test_the_third_harmonic_above_a_stopped_c_is_a_g() -> None:
    """Issue 3 (common practice, no source)."""
    third = 648.0 - GUITAR.fret_mm(5)
    heard = soundings(GUITAR, 3, 5, third / 3)[0]
    assert pitch_name(GUITAR.pitch(3, 5)) == "C4"
    assert heard.partial == 3
    assert pitch_class_name(round(heard.note)) == "G"
    assert heard.words == "G5 +2"
    assert heard.hertz == pytest.approx(3 * 261.6256, abs=0.01)


def test_a_touch_at_half_the_stopped_length_gives_the_octave() -> None:
    length = 648.0 - GUITAR.fret_mm(7)
    assert soundings(GUITAR, 1, 7, length / 2)[0].partial == 2


def test_what_lies_beyond_the_tolerance_does_not_sound() -> None:
    quarter = (648.0 - GUITAR.fret_mm(5)) / 4
    assert soundings(GUITAR, 3, 5, quarter + 2.9)[0].partial == 4
    assert 4 not in [s.partial for s in soundings(GUITAR, 3, 5, quarter + 3.1)]
    assert soundings(GUITAR, 3, 5, quarter + 2.0, tolerance_mm=1.0) == ()


def test_the_next_fret_gives_another_harmonic_from_the_same_place() -> None:
    """The hand stays where the fifth partial of fret 5 sounds; the nodes of each next fret lie nearer."""
    place = (648.0 - GUITAR.fret_mm(5)) / 5
    neck = along_the_neck(GUITAR, 3, place, range(5, 18))
    assert neck[5] is not None
    assert neck[5].partial == 5
    partials = {fret: s.partial if s else None for fret, s in neck.items()}
    assert partials[17] == 5  # half the length: its node at two fifths is that at one fifth of fret 5
    assert len(set(partials.values())) > 2
    for fret, sounding in neck.items():
        if sounding is not None:
            length = 648.0 - GUITAR.fret_mm(fret)
            nodes = [length * j / sounding.partial for j in range(1, sounding.partial)]
            assert min(abs(node - place) for node in nodes) <= 3.0


def test_two_pinched_notes_at_one_place_find_the_place() -> None:
    true = 97.0
    heard = [
        Pinched(3, fret, sounding.partial)
        for fret in (5, 7)
        if (sounding := next(iter(soundings(GUITAR, 3, fret, true)), None)) is not None
    ]
    assert len(heard) == 2
    found = touches(GUITAR, heard)
    assert any(touch.low_mm - 0.25 <= true <= touch.high_mm + 0.25 for touch in found)
    one = touches(GUITAR, heard[:1])
    width = sum(touch.high_mm - touch.low_mm for touch in one)
    assert sum(touch.high_mm - touch.low_mm for touch in found) < width


def test_pinched_notes_from_no_one_place_are_refused() -> None:
    """The octave is touched in the middle of the string, the ninth partial near the bridge."""
    with pytest.raises(Faulty, match="no one place gives partial 2 at fret 0"):
        touches(GUITAR, [Pinched(3, 0, 2), Pinched(3, 0, 9)], farthest_mm=640.0)


def test_nothing_heard_finds_nothing() -> None:
    assert touches(GUITAR, []) == ()
