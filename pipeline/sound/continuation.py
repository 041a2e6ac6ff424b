"""A sound carried on beyond its ends by linear prediction, so that a window may look past a note's edge.

Burg's method (J. P. Burg, "Maximum entropy spectral analysis", 1967): the reflection coefficients that make
the forward and backward prediction errors least; the predictor is always stable.
"""

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

Wave = npt.NDArray[np.float64]

ORDER = 128
_CONTEXT = 2400
"""Samples at an edge that the prediction is learned from: 50 ms at 48 kHz."""


def burg(wave: Wave, order: int) -> Wave:
    """Coefficients a (a[0] = 1) of the predictor x[n] = -sum(a[k] x[n-k]), k = 1 … order."""
    ahead, behind = wave[1:], wave[:-1]
    coefficients = np.zeros(order + 1)
    coefficients[0] = 1.0
    for size in range(1, order + 1):
        power = ahead @ ahead + behind @ behind
        if power < 1e-14:
            return coefficients[:size]
        reflection = -2.0 * (ahead @ behind) / power
        coefficients[: size + 1] += reflection * coefficients[size::-1]
        ahead, behind = (ahead + reflection * behind)[1:], (behind + reflection * ahead)[:-1]
    return coefficients


def carried_on(wave: Wave, count: int, order: int = ORDER) -> Wave:
    """The next `count` samples of a mono wave."""
    known = wave[-_CONTEXT:]
    order = min(order, len(known) // 3)
    a = burg(known, order) if order > 0 and count else np.ones(1)
    if len(a) == 1:
        return np.zeros(count)
    state = np.convolve(-a[1:], known[-len(a) + 1 :])[len(a) - 2 :]
    result: Wave = lfilter([1.0], a, np.zeros(count), zi=state)[0]
    return result


def extended(wave: Wave, before: int, after: int) -> Wave:
    """A mono wave with `before` predicted samples in front of it and `after` behind."""
    head = carried_on(wave[::-1][-_CONTEXT:], before)[::-1]
    return np.concatenate([head, wave, carried_on(wave, after)])
