"""Flashes against verdicts on made-up clips; the verdicts are those of an independent analyser.

Verdicts from PyPI's iris-pse-detection 1.1.2 (photosensitivity, quarter of the screen) on ten clips of four
seconds at 50 frames a second.
"""

from collections.abc import Iterator
from fractions import Fraction

import numpy as np
import pytest

from pipeline.drawing.flashes import Field, FlashCounter, Verdict

RATE = 50
Rgb = tuple[int, ...]


def clip(hertz: float, dark: Rgb, light: Rgb, share: float = 1.0) -> Iterator[np.ndarray]:
    for n in range(4 * RATE):
        frame = np.zeros((90, 160, 3), np.uint8)
        frame[:] = dark
        if int(2 * n * hertz / RATE) % 2:
            frame[: round(90 * share)] = light
        yield frame


def judged(frames: Iterator[np.ndarray], area: Field = "screen") -> Verdict:
    counter = FlashCounter(Fraction(RATE), area)
    for frame in frames:
        counter.see(frame)
    return counter.verdict


BLACK, WHITE, RED = (0, 0, 0), (255, 255, 255), (255, 0, 0)


@pytest.mark.parametrize(
    ("hertz", "dark", "light", "share", "found", "safe"),
    [
        (0.1, BLACK, WHITE, 1.0, 0, True),
        (2, BLACK, WHITE, 1.0, 2, True),
        (3, BLACK, WHITE, 1.0, 3, True),
        (4, BLACK, WHITE, 1.0, 4, False),
        (5, BLACK, WHITE, 1.0, 5, False),
        (5, BLACK, WHITE, 0.2, 0, True),
        (5, BLACK, WHITE, 0.3, 5, False),
        (5, (128, 128, 128), (138, 138, 138), 1.0, 0, True),
        (5, (235, 235, 235), WHITE, 1.0, 0, True),
        (5, BLACK, RED, 1.0, 5, False),
    ],
)
def test_verdicts(hertz: float, dark: Rgb, light: Rgb, share: float, found: float, safe: bool) -> None:
    verdict = judged(clip(hertz, dark, light, share))
    assert (verdict.flashes, verdict.safe) == (found, safe)


def test_ten_degrees_are_stricter_than_the_screen() -> None:
    """W3C: a quarter of 341 x 256 of 1024 x 768 points, here 21,824 of them."""
    assert not judged(clip(5, BLACK, WHITE, 0.2), "ten degrees").safe
    assert judged(clip(5, BLACK, WHITE, 0.06), "ten degrees").safe


def test_a_dim_red_that_darkens_is_a_red_flash() -> None:
    """Its luminance changes by less than a tenth, so only the rule for red can find it."""
    verdict = judged(clip(5, BLACK, (150, 0, 0)))
    assert not verdict.safe
    assert judged(clip(5, BLACK, (0, 0, 150))).safe


def test_a_slow_fade_is_no_flash() -> None:
    def fades() -> Iterator[np.ndarray]:
        for n in range(4 * RATE):
            yield np.full((90, 160, 4), round(127 + 127 * np.sin(2 * np.pi * n / RATE)), np.uint8)

    assert judged(fades()).flashes <= 1.5


def test_small_notes_at_twenty_a_second_are_safe() -> None:
    def notes() -> Iterator[np.ndarray]:
        for n in range(4 * RATE):
            frame = np.zeros((1080, 1920, 4), np.uint8)
            x = 300 + 60 * (n * 20 // RATE % 20)
            if n * 40 // RATE % 2:
                frame[500:558, x : x + 58] = (255, 182, 80, 255)
            yield frame

    assert judged(notes(), "ten degrees").safe


def test_the_first_bad_frame_is_named() -> None:
    assert judged(clip(5, BLACK, WHITE)).frame == 7 * RATE // 10
