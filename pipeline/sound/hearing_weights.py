"""How measures become the chance that a clue is true: a logistic of a few measures for each kind."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp


@dataclass(frozen=True)
class Logistic:
    """Weights of the measures, in the order of their names, and what is added to their sum."""

    names: tuple[str, ...]
    weights: tuple[float, ...]
    constant: float

    def chance(self, measured: Sequence[float]) -> float:
        """0 to 1."""
        total = self.constant + sum(w * m for w, m in zip(self.weights, measured, strict=True))
        return 1.0 / (1.0 + exp(-max(-50.0, min(50.0, total))))


WEIGHTS: Mapping[str, Logistic] = {
    "slurred": Logistic(
        ("burst", "fall", "fine", "coarse", "dip", "far"), (-0.357, 0.232, -1.307, -0.672, 0.192, -6.0), -1.81
    ),
    "slide": Logistic(("gain", "seconds"), (12.161, 42.138), -2.51),
    "slip": Logistic(("gain",), (6.714,), -0.04),
    "bend": Logistic(("gain",), (6.195,), -0.22),
    "open": Logistic(("ring",), (-0.466,), 1.75),
    "pinched": Logistic(("bare",), (0.641,), -6.07),
}
"""As tests/benchmarks/hearing_fit.py fitted them, on 30 phrases (seeds from 1000) of each of four sets: own
strings, clean and amplified, and sampled guitars, slurred without attack and played by pitch wheel. On those,
precision and recall in percent at strength 0.5:

             own     amplified  sampled  by wheel
    slurred  91, 95  91, 70     75, 74   65, 86
    slide    91, 75  77, 71              78, 93     among slurred notes
    slip     82, 85  82, 84              59, 56
    bend     85, 97  91, 91              81, 84
    open     80, 98  79, 74     82, 94   65, 92
    pinched  97, 90  95, 94              88, 95

The constants are no base rates: they put strength 0.5 where precision and recall are most alike.
"""
