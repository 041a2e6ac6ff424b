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
        ("burst", "fall", "fine", "coarse", "far"), (-0.304, 0.247, -1.78, -0.888, -4.0), -2.5
    ),
    "slide": Logistic(("gain", "seconds"), (10.3, 40.8), -2.6),
    "slip": Logistic(("gain",), (7.0,), 0.0),
    "bend": Logistic(("gain", "over swing"), (3.4, 2.0), -2.1),
    "open": Logistic(("ring",), (-0.44,), 1.2),
    "pinched": Logistic(("bare",), (0.46,), -4.6),
}
"""Fitted by tests/benchmarks/hearing_fit.py."""
