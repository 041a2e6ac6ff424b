"""Attacks that swell go back to where they begin; sudden ones stay."""

import numpy as np
import pytest

from pipeline.sound.align_rise import foot_of_climb, in_order, to_feet

RATE = 44100
RAMP_S = 0.040
PLAYED = tuple(0.3 + 0.11 * n for n in range(14))
PITCHES = (220.0, 247.0, 294.0, 247.0, 330.0, 294.0, 294.0)
LATE_S = 0.018
ONE_KIND = np.zeros(len(PLAYED), np.int64)


def notes(ramp: float, played: tuple[float, ...] = PLAYED) -> np.ndarray:
    """Tones of ten partials, each swelling in a straight ramp while the one before goes within 20 ms."""
    wave = np.zeros(round((played[-1] + 0.5) * RATE))
    for number, start in enumerate(played):
        end = played[number + 1] if number + 1 < len(played) else start + 0.3
        time = np.arange(round((end + 0.02 - start) * RATE)) / RATE
        pitch = PITCHES[number % len(PITCHES)]
        tone = sum(np.sin(2 * np.pi * pitch * h * time + h) / h for h in range(1, 11))
        shape = np.clip(time / ramp, 0, 1) * np.clip((end + 0.02 - start - time) / 0.02, 0, 1)
        at = round(start * RATE)
        wave[at : at + len(time)] += 0.1 * tone * shape
    return wave


def found(late: float) -> np.ndarray:
    """What a search gives that hears a note only so many seconds after it began, give or take 3 ms."""
    scatter = np.random.default_rng(3).uniform(-0.003, 0.003, len(PLAYED))
    return np.array(PLAYED) + late + scatter


def test_swelling_notes_go_back_to_a_tenth_of_their_height() -> None:
    moved, spread = to_feet(notes(RAMP_S), RATE, found(LATE_S), ONE_KIND)
    errors = moved - np.array(PLAYED) - RAMP_S / 10
    assert np.abs(errors[1:]).max() < 0.010
    assert np.abs(np.median(errors)) < 0.005
    assert (spread > 0).all()


def test_a_repeated_pitch_follows_its_kind_and_is_less_sure() -> None:
    """Notes 6 and 13 repeat the pitch before them, so they show no climb of their own."""
    moved, spread = to_feet(notes(RAMP_S), RATE, found(LATE_S), ONE_KIND)
    assert np.abs(moved[[6, 13]] - np.array(PLAYED)[[6, 13]]).max() < 0.010
    assert spread[6] > spread[5]


@pytest.mark.parametrize("late", [-0.002, 0.0, 0.003])
def test_sudden_notes_stay_where_they_were_found(late: float) -> None:
    moments = found(late)
    moved, spread = to_feet(notes(0.001), RATE, moments, ONE_KIND)
    assert np.array_equal(moved, moments)
    assert not spread.any()


def test_one_kind_of_attack_moves_without_the_other() -> None:
    """Every second note is found late; only that kind is brought back."""
    kinds = np.arange(len(PLAYED)) % 2
    moments = found(0.0) + np.where(kinds, LATE_S, RAMP_S / 10)
    moved, spread = to_feet(notes(RAMP_S), RATE, moments, kinds)
    assert np.array_equal(moved[kinds == 0], moments[kinds == 0])
    assert (moved < moments)[kinds == 1].all()
    assert np.array_equal(spread > 0, kinds == 1)


def test_moved_moments_never_pass_each_other() -> None:
    moments = np.array([0.0, 0.1, 0.13, 0.2])
    out = in_order(np.array([-0.01, 0.1, 0.09, 0.19]), moments)
    assert out[0] == 0
    assert np.diff(out).min() >= 0.01 - 1e-12
    assert (out <= moments).all()


def test_a_straight_climb_begins_where_it_leaves_the_ground() -> None:
    """A ramp of 40 frames seen without a window: its foot is a little before the lowest share timed."""
    share = np.clip((np.arange(100) - 30) / 40, 0, 1)
    foot, slowness = foot_of_climb(share, 50.0)
    assert foot == pytest.approx(30 + 0.14 * 40 + 5 - 0.3 * (0.36 * 40 - 4.5))
    assert slowness == pytest.approx(0.2 * 40)
    assert np.isnan(foot_of_climb(np.zeros(100), 50.0)).all()
