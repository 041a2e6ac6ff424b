"""Habits learned from fragments whose fingering is known.

The chain gives every fingering the weight exp(-cost); the weights are moved so that the known fingerings
become likelier (conditional maximum likelihood, gradient by forward-backward). What is not written, fingers
or positions, is summed over. A quadratic prior keeps weights near those they started from, in proportion to
their size, so that few notes change little. Strokes and clues are left as they are.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import count

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from pipeline.errors import Place, faulty
from pipeline.music.fragment import Fragment
from pipeline.reasoning.costs import CAUSES, COUNT, NAMES, STROKE_CAUSES
from pipeline.reasoning.habits import HEAVIEST, Habits
from pipeline.reasoning.lattice import lattice_of
from pipeline.reasoning.moments import Times
from pipeline.reasoning.odds import expected

Reals = NDArray[np.float64]
STIFFNESS = 2.0
"""How many notes of evidence the starting weights are worth against a change by their own size."""
FLOOR = 0.02
"""Smallest size of a weight for the prior, in units of a typical count."""
LEARNED = np.array([name not in STROKE_CAUSES and name != "clue" for name in NAMES])


@dataclass(frozen=True)
class Fit:
    """Learned habits and what they explain: bits a note needed to tell its place, before and after."""

    habits: Habits
    before: float
    after: float
    notes: int


def fit(
    fragments: Sequence[Fragment],
    start: Habits | None = None,
    times: Sequence[Times | None] | None = None,
    name: str = "learned",
    rounds: int = 40,
    report: Callable[[int, int], None] | None = None,
) -> Fit:
    """Learn weights from fragments with known strings and frets. Raises Faulty where nothing is known.

    `report` is told after each round how many are done, of how many at most.
    """
    start = start or Habits()
    known = [f for f in fragments if any(n.string is not None for n in f.notes)]
    if not known:
        wrong = "no fragment has a note with a known string"
        raise faulty(Place(name), wrong, "write strings and frets into at least one fragment")
    when = [None] * len(fragments) if times is None else list(times)
    pairs = [(f, t) for f, t in zip(fragments, when, strict=True) if f in known]
    notes = sum(len(f.notes) for f, _ in pairs)
    target = _Target(pairs, start)
    done = count(1)
    told = None if report is None else lambda _: report(next(done), rounds)
    how = {"method": "L-BFGS-B", "jac": True, "bounds": target.bounds, "options": {"maxiter": rounds}}
    found = minimize(target, target.origin, callback=told, **how)
    habits = target.habits(found.x, name)
    bits = notes * np.log(2.0)
    return Fit(habits, target.surprise(start) / bits, target.surprise(habits) / bits, notes)


def bare(fragment: Fragment) -> Fragment:
    """The fragment with no string, fret, finger, position or stroke written."""
    return fragment.with_notes(
        note.but(string=None, fret=None, finger=None, position=None, stroke=None) for note in fragment.notes
    )


class _Target:
    """The function that is made small: surprise at the known places, and distance from the start."""

    def __init__(self, pairs: Sequence[tuple[Fragment, Times | None]], start: Habits) -> None:
        self.pairs, self.start = pairs, start
        weights = np.array(start.weights)
        self.scale = np.maximum(np.abs(weights), FLOOR / _typical())[LEARNED]
        self.origin = weights[LEARNED] / self.scale
        self.bounds = [(0.0, HEAVIEST / size) for size in self.scale]

    def habits(self, x: Reals, name: str) -> Habits:
        weights = np.array(self.start.weights)
        weights[LEARNED] = x * self.scale
        return replace(self.start, name=name, weights=tuple(round(float(w), 6) for w in weights))

    def surprise(self, habits: Habits) -> float:
        """Minus the log of the share of the known places, summed over the fragments."""
        return sum(self._one(f, t, habits)[0] for f, t in self.pairs)

    def __call__(self, x: Reals) -> tuple[float, Reals]:
        habits = self.habits(x, self.start.name)
        value, slope = 0.0, np.zeros(COUNT)
        for fragment, times in self.pairs:
            loss, change = self._one(fragment, times, habits)
            value, slope = value + loss, slope + change
        away = x - self.origin
        value += STIFFNESS * float(away @ away)
        return value, slope[LEARNED] * self.scale + 2 * STIFFNESS * away

    def _one(self, fragment: Fragment, times: Times | None, habits: Habits) -> tuple[float, Reals]:
        told = lattice_of(
            fragment.with_notes(n.but(stroke=None) for n in fragment.notes), habits, None, times
        )
        free = lattice_of(bare(fragment), habits, None, times)
        with_places, log_told = expected(told.chain, told.width, told.counts)
        without, log_free = expected(free.chain, free.width, free.counts)
        return log_free - log_told, with_places - without


def _typical() -> Reals:
    """A typical count of each cause, so that a weight of zero can still be learned."""
    large = {"mm": 50.0, "mm/s": 500.0}
    return np.array([large.get(cause.unit, 1.0) for cause in CAUSES])
