"""What a stroke leaves: bursts and fluxes of tones that are made here to the sample."""

import numpy as np
import pytest

from pipeline.sound.hearing_strokes import (
    EDGE_HZ,
    EDGE_S,
    dip_at,
    fall_at,
    levels,
    measures,
    peak_at,
    strokes,
    trend,
)

RATE = 44100
STARTS = [0.2, 0.4, 0.6, 0.8, 1.0]
ENDS = [*STARTS[1:], 1.2]
HEIGHTS = [57.0, 60.0, 62.0, 64.0, 65.0]


def played(unpicked: int = -1) -> np.ndarray:
    """Tones one after the other, each but one with a burst of noise at its start."""
    time, random = np.arange(round(1.4 * RATE)) / RATE, np.random.default_rng(0)
    wave = 1e-4 * random.normal(size=len(time))
    for number, (start, end, height) in enumerate(zip(STARTS, ENDS, HEIGHTS, strict=True)):
        hertz, here = 440 * 2 ** ((height - 69) / 12), (time >= start) & (time < end)
        wave += here * sum(np.sin(2 * np.pi * k * hertz * (time - start)) / k**2 for k in range(1, 9))
        if number != unpicked:
            wave += here * np.exp(-np.maximum(time - start, 0) / 0.002) * random.normal(size=len(time))
    return wave


@pytest.mark.parametrize("unpicked", [1, 3])
def test_a_start_without_a_burst_stands_out(unpicked: int) -> None:
    found = strokes(played(unpicked), RATE, STARTS, ENDS, HEIGHTS)
    for name in ("burst", "fall", "fine"):
        values = [getattr(stroke, name) for stroke in found]
        assert int(np.argmin(values)) == unpicked
        assert sorted(values)[1] - min(values) > (3 if name != "fine" else 0.5)


def test_measures_do_not_hang_on_the_level_of_the_clip() -> None:
    wave = played(2)
    loud, soft = (strokes(gain * wave, RATE, STARTS, ENDS, HEIGHTS) for gain in (1.0, 0.05))
    assert np.allclose([measures(s) for s in loud], [measures(s) for s in soft], atol=0.02)


def test_a_single_note_is_its_own_usual_one() -> None:
    assert measures(strokes(played(), RATE, [0.2], [0.4], [57.0])[0]) == (0.0,) * 5


def test_a_burst_dies_away_and_a_tone_does_not() -> None:
    edge = levels(played(1), RATE, EDGE_HZ, EDGE_S)
    assert fall_at(edge, 0.2, 0.4) > fall_at(edge, 0.4, 0.6) + 6
    assert peak_at(edge, 0.2) > peak_at(edge, 0.4)


def test_a_gap_between_notes_is_a_dip() -> None:
    wave = np.sin(2 * np.pi * 880 * np.arange(RATE) / RATE)
    broken = wave.copy()
    broken[round(0.49 * RATE) : round(0.5 * RATE)] *= 0.01
    assert dip_at(levels(broken, RATE, 60.0, 0.003), 0.5) < -20
    assert abs(dip_at(levels(wave, RATE, 60.0, 0.003), 0.5)) < 1


def test_a_trend_is_a_line_for_many_notes_and_level_for_few() -> None:
    heights = np.arange(50.0, 60.0)
    assert trend(heights, 3 * heights) == pytest.approx(3 * heights)
    assert trend(heights[:3], np.array([1.0, 2.0, 3.0])) == pytest.approx([2.0, 2.0, 2.0])
    assert trend(np.full(9, 60.0), np.arange(9.0)) == pytest.approx(np.full(9, 4.0))
