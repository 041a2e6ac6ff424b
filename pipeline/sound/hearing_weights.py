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
        ("burst", "fall", "fine", "coarse", "dip", "far"), (-0.314, 0.268, -0.514, -0.319, 0.257, -6.0), -1.13
    ),
    "slide": Logistic(("gain", "seconds"), (12.72, 28.259), -2.0),
    "slip": Logistic(("gain",), (8.544,), -0.32),
    "bend": Logistic(("gain",), (5.035,), -1.15),
    "open": Logistic(("ring",), (-0.543,), 2.23),
    "pinched": Logistic(("bare",), (0.633,), -6.04),
}
"""As `python -m tests.benchmarks.hearing_fit 26 1000` fitted them, on 26 phrases of each of four sets: own
strings, clean and amplified, and sampled guitars, slurred without attack and played by pitch wheel. On those,
precision and recall in percent at strength 0.5:

             own      amplified  sampled  by wheel
    slurred  87, 95   89, 70     67, 66   59, 76
    slide    91, 77   70, 62              74, 100   among slurred notes
    slip     82, 88   83, 83              71, 71
    bend     79, 79   80, 74              80, 77
    open     79, 98   74, 74     94, 96   63, 98
    pinched  100, 96  99, 96              95, 94

The constants are no base rates: they put strength 0.5 where precision and recall are most alike. That of
slides was then lowered by hand, from -1.52, so that a plain hammered note is not told as one. What they reach
on phrases that were not fitted stands in DEVELOPERS.md.
"""
