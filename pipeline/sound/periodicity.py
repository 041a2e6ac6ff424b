"""How periodic a sound is, and at what pitch: near 1 for a single note, lower for a chord or noise.

The normalised square difference function of P. McLeod and G. Wyvill, "A smarter way to find pitch"
(International Computer Music Conference, 2005): its height at the best lag, and the first high peak as pitch.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.fft import irfft, rfft

LOWEST_HZ, HIGHEST_HZ = 75.0, 1400.0
_FRAME, _HOP = 2048, 1024
_NEARLY = 0.9
"""The first peak so near to the highest is the pitch: later ones are its multiples."""


@dataclass(frozen=True)
class Period:
    """The best normalised autocorrelation (-1 to 1), and the pitch in hertz."""

    clarity: float
    hertz: float


UNTOLD = Period(1.0, LOWEST_HZ)
"""Of a silent or very short sound: nothing in it could be told apart."""


def periodicity(wave: npt.NDArray[np.float64], rate: int) -> Period:
    """The medians over the frames of a mono wave."""
    frames = [wave[i : i + _FRAME] for i in range(0, max(1, len(wave) - _FRAME + 1), _HOP)]
    found = [_period(frame, rate) for frame in frames if len(frame) > rate / LOWEST_HZ * 1.5]
    if not found:
        return UNTOLD
    return Period(*(float(np.median(values)) for values in zip(*found, strict=True)))


def _period(frame: npt.NDArray[np.float64], rate: int) -> tuple[float, float]:
    size = len(frame)
    likeness = irfft(np.abs(rfft(frame, 2 * size)) ** 2)[:size]
    energy = np.concatenate([[0.0], np.cumsum(frame**2)])
    lags = np.arange(int(rate / HIGHEST_HZ), int(rate / LOWEST_HZ))
    shared = energy[size - lags] + energy[size] - energy[lags]
    if not (shared > 1e-12).any():
        return UNTOLD.clarity, UNTOLD.hertz
    clear = np.where(shared > 1e-12, 2 * likeness[lags] / np.maximum(shared, 1e-12), -1.0)
    inner = clear[1:-1]
    high = (inner >= clear[:-2]) & (inner >= clear[2:]) & (inner > _NEARLY * clear.max())
    first = int(np.argmax(high)) + 1 if high.any() else int(np.argmax(clear))
    return float(clear.max()), float(rate / lags[first])
