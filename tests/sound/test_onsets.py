"""Onsets: clicks where they were put, and the mathematics of spectral flux."""

import numpy as np
import pytest

from pipeline.sound.onsets import Curve, fine_flux, flux, foot_of, frames_of, sharpen

RATE = 44100


def decays(moments: list[float], seconds: float = 2.0) -> np.ndarray:
    """Plucks of noise that die away, at the given seconds."""
    random, out = np.random.default_rng(5), np.zeros(round(seconds * RATE))
    for moment in moments:
        at = round(moment * RATE)
        length = min(len(out) - at, RATE // 5)
        out[at : at + length] += random.normal(0, 0.3, length) * np.exp(-np.arange(length) / (0.05 * RATE))
    return out


def test_frames_are_centred_and_cover_the_wave() -> None:
    wave = np.zeros(1000)
    wave[300] = 1.0
    frames = np.concatenate(list(frames_of(wave, 100, 64)))
    assert frames.shape == (10, 64)
    assert np.argmax(np.abs(frames).max(axis=1)) == 3
    assert np.argmax(frames[3]) == 32


def test_flux_of_a_steady_tone_is_small_beside_its_start() -> None:
    tone = np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)
    tone[: RATE // 2] = 0
    curve = flux(tone, 176, 529, 2, 0.02)
    top = int(np.argmax(curve))
    assert abs(top * 176 - RATE // 2) < 2 * 176
    assert curve[top + 10 : -10].max() < 0.2 * curve[top]


@pytest.mark.parametrize("off", [-0.015, -0.006, 0.0, 0.006, 0.012])
def test_a_moment_moves_to_the_attack_beside_it(off: float) -> None:
    true = [0.3, 0.7, 1.1, 1.5]
    found, heights = sharpen(fine_flux(decays(true), RATE), np.array(true) + off)
    assert np.abs(found - true).max() < 0.0015
    assert heights.min() > 0.4


def test_a_moment_with_nothing_near_stays() -> None:
    found, heights = sharpen(fine_flux(decays([0.3, 1.5]), RATE), np.array([0.3, 0.9]))
    assert found[1] == 0.9
    assert heights[1] == 0.0


def test_two_moments_never_meet() -> None:
    moments = np.array([0.290, 0.296, 0.301, 0.309])
    found, _ = sharpen(fine_flux(decays([0.3]), RATE), moments)
    assert (np.diff(found) > 0).all()


def test_the_foot_lies_where_the_climb_passes_the_threshold() -> None:
    assert foot_of(np.array([0.0, 0.0, 1.0, 2.0]), 3, 0.5, 3) == pytest.approx(1.5)
    assert foot_of(np.array([1.0, 1.5, 1.8, 2.0]), 3, 0.5, 3) is None


def test_a_curve_of_silence_gives_no_steps() -> None:
    found, heights = sharpen(Curve(np.zeros(100), 0.001), np.array([0.05]))
    assert found[0] == 0.05
    assert heights[0] == 0.0
