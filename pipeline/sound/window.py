"""How many samples of a body the vocoder sees at once.

A single note takes as few as tell its partials and what sounds between them apart, so that its pitch is
followed closely. A chord takes many, as its partials lie near each other; but in a window far longer than the
body there would be little but what prediction made of it.
"""

import numpy as np
import numpy.typing as npt

from pipeline.sound.periodicity import periodicity

_NOTE, _CHORD = (1024, 1536, 2048), (6144, 4096, 2048)
_SINGLE = 0.85
"""From this periodicity on a body is a single note."""
_PERIODS = 6
_FILLED = 0.75
"""The least share of a chord's window that the body itself fills."""
LISTENED_S = 20
"""Seconds of a body that are enough to tell."""


def window_for(body: npt.NDArray[np.float64], rate: int) -> int:
    """The window, in samples, for a mono body (the first `LISTENED_S` seconds of it will do)."""
    heard = periodicity(body, rate)
    if heard.clarity < _SINGLE:
        return next((size for size in _CHORD if _FILLED * size <= len(body)), _CHORD[-1])
    return next((size for size in _NOTE if size * heard.hertz >= _PERIODS * rate), _NOTE[-1])
