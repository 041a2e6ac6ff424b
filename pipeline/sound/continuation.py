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


class Extended:
    """A part of a recording (n, channels) with `reach` predicted samples before and behind it.

    Called with (first, last) it gives those samples as float64, counted from the first predicted one; the
    recording itself is only read where it is asked for.
    """

    def __init__(self, samples: npt.NDArray[np.float32], reach: int) -> None:
        self._samples = samples
        first, last = (part.astype(np.float64).T for part in (samples[:_CONTEXT], samples[-_CONTEXT:]))
        self._head = np.stack([carried_on(one[::-1], reach)[::-1] for one in first], axis=1)
        self._tail = np.stack([carried_on(one, reach) for one in last], axis=1)

    def __call__(self, first: int, last: int) -> Wave:
        reach, inner = len(self._head), len(self._samples)
        pieces = [
            self._head[first : max(first, last)],
            self._samples[max(0, first - reach) : max(0, last - reach)].astype(np.float64),
            self._tail[max(0, first - reach - inner) : max(0, last - reach - inner)],
        ]
        return np.concatenate(pieces)
