"""Counts flashes in finished frames, so that no film flashes more than three times a second.

Source: W3C, WCAG 2.2, success criterion 2.3.1 and its definition of general flash and red flash thresholds.
A flash is a pair of opposing changes: of relative luminance by a tenth or more where the darker state is
below 0.80, or to or from a saturated red (R / (R + G + B) at least 0.8) by more than 0.2 in CIE 1976 u'v'.
More than three in any second over a quarter of any ten degrees of the field of view are too many; ten
degrees are taken as 341 x 256 of 1024 x 768 points, a third of the picture each way. Broadcasting asks for a
quarter of the whole screen instead (ITU-R BT.1702).

This is a check, not a medical clearance: pictures that pass may still trouble someone.
"""

from collections import deque
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.drawing.contrast import WEIGHTS, to_linear

Field = Literal["ten degrees", "screen"]
Floats = NDArray[np.float32]
Counts = NDArray[np.int16]
Mask = NDArray[np.bool_]

CHANGE, BRIGHT, SATURATED, RED_CHANGE = 0.1, 0.8, 0.8, 0.2
MOST_CHANGES = 6
"""Three flashes are six opposing changes."""
LARGEST_SHARE = 0.25
SAMPLES = 160
"""Points across the picture that are looked at."""
_LIGHT = np.array([to_linear(level / 255) for level in range(256)], np.float32)
_GREY = (0.1978, 0.4683)
"""u'v' of white, which stands for black too."""


@dataclass(frozen=True)
class Verdict:
    """What was found: the most changes in any second where enough of the field makes them, and where."""

    flashes: float
    """Flashes a second of the busiest quarter of a field; more than 3 are too many."""
    frame: int | None
    """The first frame at which they are too many."""

    @property
    def safe(self) -> bool:
        return self.frame is None


@dataclass
class _Swings:
    """Opposing changes of one quantity at every point, counted over the last second."""

    length: int
    now: deque[Mask] = field(default_factory=deque)
    count: Counts | None = None

    def add(self, swung: Mask) -> Counts:
        if self.count is None:
            self.count = np.zeros(swung.shape, np.int16)
        self.now.append(swung)
        self.count += swung
        if len(self.now) > self.length:
            self.count -= self.now.popleft()
        return self.count


class FlashCounter:
    """Looks at frames in order; `verdict` may be asked for at any time."""

    def __init__(self, rate: Fraction, area: Field = "ten degrees") -> None:
        self._area = area
        self._general, self._red = _Swings(round(rate)), _Swings(round(rate))
        self._number, self._worst = -1, 0
        self._first: int | None = None
        self._low = self._high = self._chroma = np.zeros(0, np.float32)
        self._rising = np.zeros(0, np.int8)
        self._was_red = np.zeros(0, np.bool_)

    def see(self, canvas: NDArray[np.uint8]) -> None:
        """Look at the next frame: an opaque canvas (h, w, 3 or 4), red first."""
        step = max(1, canvas.shape[1] // SAMPLES)
        light = _LIGHT[canvas[step // 2 :: step, step // 2 :: step, :3]]
        self._number += 1
        if self._number == 0:
            self._start(light)
        for swings, swung in (
            (self._general, self._luminance_swings(light)),
            (self._red, self._red_swings(light)),
        ):
            self._judge(swings.add(swung))

    @property
    def verdict(self) -> Verdict:
        return Verdict(self._worst / 2, self._first)

    def _start(self, light: Floats) -> None:
        luminance = light @ np.array(WEIGHTS, np.float32)
        self._low, self._high = luminance.copy(), luminance.copy()
        self._rising = np.zeros(luminance.shape, np.int8)
        self._chroma, self._was_red = _uv(light), _saturated(light)

    def _luminance_swings(self, light: Floats) -> Mask:
        """Where the luminance has turned by a tenth from its last turning point."""
        now = light @ np.array(WEIGHTS, np.float32)
        up = (now - self._low >= CHANGE) & (self._low < BRIGHT) & (self._rising != 1)
        down = (self._high - now >= CHANGE) & (now < BRIGHT) & (self._rising != -1)
        swung: Mask = up | down
        self._rising = np.where(up, 1, np.where(down, -1, self._rising)).astype(np.int8)
        self._low = np.where(swung, now, np.minimum(self._low, now))
        self._high = np.where(swung, now, np.maximum(self._high, now))
        return swung

    def _red_swings(self, light: Floats) -> Mask:
        """Where the colour has gone to or from a saturated red since it last did."""
        chroma, red = _uv(light), _saturated(light)
        swung: Mask = (red | self._was_red) & (np.linalg.norm(chroma - self._chroma, axis=-1) > RED_CHANGE)
        self._chroma = np.where(swung[..., None], chroma, self._chroma)
        self._was_red = np.where(swung, red, self._was_red)
        return swung

    def _judge(self, counts: Counts) -> None:
        """Raise the worst count while a quarter of some field makes at least that many changes."""
        while counts.max() > self._worst and self._covers(counts > self._worst):
            self._worst += 1
        if self._first is None and self._worst > MOST_CHANGES:
            self._first = self._number

    def _covers(self, mask: Mask) -> bool:
        """Whether a quarter of any field lies inside the mask."""
        if self._area == "screen":
            return bool(mask.mean() > LARGEST_SHARE)
        height, width = (max(1, round(size / 3)) for size in mask.shape)
        sums = np.zeros((mask.shape[0] + 1, mask.shape[1] + 1), np.int32)
        np.cumsum(np.cumsum(mask, axis=0), axis=1, out=sums[1:, 1:])
        inside = (
            sums[height:, width:] - sums[:-height, width:] - sums[height:, :-width] + sums[:-height, :-width]
        )
        return bool(inside.max() > LARGEST_SHARE * height * width)


def _saturated(light: Floats) -> Mask:
    total = light.sum(axis=-1)
    red: Mask = (light[..., 0] >= SATURATED * total) & (total > 0)
    return red


def _uv(light: Floats) -> Floats:
    """CIE 1976 u'v' of linear sRGB; black has the colour of white."""
    x = light @ np.array((0.4124564, 0.3575761, 0.1804375), np.float32)
    y = light @ np.array((0.2126729, 0.7151522, 0.0721750), np.float32)
    z = light @ np.array((0.0193339, 0.1191920, 0.9503041), np.float32)
    whole = x + 15 * y + 3 * z
    dark = whole < 1e-6
    whole = np.where(dark, 1, whole)
    uv = np.stack([4 * x / whole, 9 * y / whole], axis=-1)
    return np.where(dark[..., None], np.array(_GREY, np.float32), uv).astype(np.float32)
