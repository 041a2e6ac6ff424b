"""A sound carried on beyond its ends by linear prediction, so that a window may look past a note's edge.

Burg's method (J. P. Burg, "Maximum entropy spectral analysis", 1967): the reflection coefficients that make
the forward and backward prediction errors least; the predictor is always stable.
"""

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter, lfiltic

Wave = npt.NDArray[np.float64]

ORDER = 192
_CONTEXT = 2400
"""Samples at an edge that the prediction is learned from: 50 ms at 48 kHz."""


def burg(wave: Wave, order: int) -> Wave:
    """Coefficients a (a[0] = 1) of the predictor x[n] = -sum(a[k] x[n-k]), k = 1 … order."""
    ahead, behind = wave[1:].copy(), wave[:-1].copy()
    coefficients = np.ones(1)
    for _ in range(order):
        power = float(ahead @ ahead + behind @ behind)
        if power < 1e-14:
            break
        reflection = -2.0 * float(ahead @ behind) / power
        padded = np.append(coefficients, 0.0)
        coefficients = padded + reflection * padded[::-1]
        ahead, behind = (ahead + reflection * behind)[1:], (behind + reflection * ahead)[:-1]
    return coefficients


def carried_on(wave: Wave, count: int, order: int = ORDER) -> Wave:
    """The next `count` samples of a mono wave."""
    known = wave[-_CONTEXT:]
    order = min(order, len(known) // 3)
    if order < 2 or count == 0:
        return np.zeros(count)
    a = burg(known, order)
    state = lfiltic([1.0], a, known[: -len(a) : -1])
    result: Wave = lfilter([1.0], a, np.zeros(count), zi=state)[0]
    return result


def extended(wave: Wave, before: int, after: int) -> Wave:
    """A mono wave with `before` predicted samples in front of it and `after` behind."""
    head = carried_on(wave[::-1][-_CONTEXT:], before)[::-1]
    return np.concatenate([head, wave, carried_on(wave, after)])
