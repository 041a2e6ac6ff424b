"""Sound in memory: samples, their rate, and exact cutting."""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Signal:
    """Sound: float32 samples of shape (n, channels), full scale 1.0, at `rate` samples a second."""

    samples: Samples
    rate: int

    def __post_init__(self) -> None:
        if self.samples.ndim != 2:
            raise ValueError("samples have the shape (n, channels)")

    @property
    def channels(self) -> int:
        return int(self.samples.shape[1])

    @property
    def duration(self) -> Fraction:
        return Fraction(len(self.samples), self.rate)

    def cut(self, start: Fraction, end: Fraction) -> "Signal":
        """The samples of [start, end) seconds, to the nearest sample. Raises ValueError outside."""
        first, last = round(start * self.rate), round(end * self.rate)
        if not 0 <= first <= last <= len(self.samples):
            raise ValueError(f"{float(start)} to {float(end)} s leaves the signal ({float(self.duration)} s)")
        return Signal(self.samples[first:last], self.rate)
