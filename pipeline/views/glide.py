"""Motion: a smooth rising curve through exact points, and easing that starts and ends at rest."""

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True)
class Glide:
    """A monotone cubic through (at, value) points: it meets each point exactly and never overshoots.

    Fritsch & Carlson, "Monotone piecewise cubic interpolation", SIAM J. Numer. Anal. 17 (1980), with the
    harmonic-mean slopes of Fritsch & Butland (1984). Outside the points the end values hold.
    """

    at: tuple[float, ...]
    values: tuple[float, ...]

    @cached_property
    def _slopes(self) -> tuple[float, ...]:
        x, y = self.at, self.values
        if len(x) < 3:
            secant = (y[-1] - y[0]) / (x[-1] - x[0]) if len(x) == 2 else 0.0
            return (secant,) * len(x)
        h = [b - a for a, b in itertools.pairwise(x)]
        d = [(b - a) / w for a, b, w in zip(y, y[1:], h, strict=False)]
        inner = (_middle_slope(h[i], h[i + 1], d[i], d[i + 1]) for i in range(len(h) - 1))
        return (d[0], *inner, d[-1])

    def __call__(self, at: float) -> float:
        x, y = self.at, self.values
        if at <= x[0]:
            return y[0]
        if at >= x[-1]:
            return y[-1]
        i = bisect_right(x, at) - 1
        width = x[i + 1] - x[i]
        s = (at - x[i]) / width
        m0, m1 = self._slopes[i] * width, self._slopes[i + 1] * width
        c = y[i + 1] - y[i]
        return y[i] + s * (m0 + s * (3 * c - 2 * m0 - m1 + s * (m0 + m1 - 2 * c)))


def _middle_slope(h0: float, h1: float, d0: float, d1: float) -> float:
    if d0 * d1 <= 0:
        return 0.0
    w0, w1 = 2 * h1 + h0, h1 + 2 * h0
    return (w0 + w1) / (w0 / d0 + w1 / d1)


def glide_through(points: Sequence[tuple[float, float]]) -> Glide:
    """The curve through points; of several with one `at` the first counts."""
    kept: list[tuple[float, float]] = []
    for at, value in points:
        if not kept or at > kept[-1][0]:
            kept.append((at, value))
    return Glide(tuple(a for a, _ in kept), tuple(v for _, v in kept))


def eased(share: float) -> float:
    """A share of the way (0 to 1, held outside) with rest at both ends: 3s² - 2s³."""
    s = min(1.0, max(0.0, share))
    return s * s * (3 - 2 * s)
