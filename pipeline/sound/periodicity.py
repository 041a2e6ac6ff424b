"""How periodic a sound is: near 1 for a single note, lower for a chord or noise.

The normalised square difference function of P. McLeod and G. Wyvill, "A smarter way to find pitch"
(International Computer Music Conference, 2005), at its best lag.
"""

import numpy as np
import numpy.typing as npt
from scipy.fft import irfft, rfft

LOWEST_HZ, HIGHEST_HZ = 75.0, 1400.0
_FRAME, _HOP = 2048, 1024


def periodicity(wave: npt.NDArray[np.float64], rate: int) -> float:
    """The median over frames of the best normalised autocorrelation (-1 to 1) of a mono wave.

    A silent or very short wave counts as fully periodic: nothing in it could be told apart.
    """
    frames = [wave[i : i + _FRAME] for i in range(0, max(1, len(wave) - _FRAME + 1), _HOP)]
    values = [_clarity(frame, rate) for frame in frames if len(frame) > rate / LOWEST_HZ * 1.5]
    return float(np.median(values)) if values else 1.0


def _clarity(frame: npt.NDArray[np.float64], rate: int) -> float:
    size = len(frame)
    likeness = irfft(np.abs(rfft(frame, 2 * size)) ** 2)[:size]
    energy = np.concatenate([[0.0], np.cumsum(frame**2)])
    lags = np.arange(int(rate / HIGHEST_HZ), int(rate / LOWEST_HZ))
    shared = energy[size - lags] + energy[size] - energy[lags]
    loud = shared > 1e-12
    return float((2 * likeness[lags][loud] / shared[loud]).max()) if loud.any() else 1.0
