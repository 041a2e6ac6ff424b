"""Fit the weights of pipeline/sound/hearing_weights.py: print them, and what they reach on what was fitted.

    python -m tests.benchmarks.hearing_fit [phrases] [first seed]

A ridge logistic over all sets of `hearing` together; a kind is fitted on the sets that hold it. Its constant
is then moved so that strength 0.5 lies where precision and recall come nearest to each other, the lesser of
the two summed over the sets. What the fit cannot know is held: that a hand does not reach a far note (`far`).
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.errors import Faulty
from pipeline.sound.align import align
from pipeline.sound.hearing import HIGHEST, MORE_LIKELY, heard_notes, pinched
from pipeline.sound.hearing_evidence import EVIDENCE, Heard
from pipeline.sound.hearing_weights import WEIGHTS
from tests.benchmarks.hearing import KINDS, sets_here

Floats = npt.NDArray[np.float64]
RIDGE, TURNS = 1.0, 30
HELD = {"far": -6.0}
TURNING = float(np.log(MORE_LIKELY / HIGHEST / (1 - MORE_LIKELY / HIGHEST)))
"""The sum of weighted measures at which a clue reaches strength 0.5."""


@dataclass(frozen=True)
class Example:
    """A note heard, the set that it is from and the kinds that are true of it."""

    heard: Heard
    source: str
    truth: frozenset[str]


def examples(count: int, first: int) -> Iterator[Example]:
    """Every note of every set."""
    for name, play in sets_here().items():
        for signal, case in play(count, first):
            fragment = case.written.fragment
            try:
                found = heard_notes(signal, fragment, align(signal, fragment))
            except Faulty:
                continue
            for heard in found:
                yield Example(
                    heard, name, frozenset(kind for number, kind in case.truth if number == heard.number)
                )


def fits(kind: str, example: Example, held_by: set[str]) -> bool:
    """Whether an example tells of a kind: slides are told among slurred notes, pinch harmonics apart."""
    if example.source not in held_by or EVIDENCE[kind](example.heard) is None:
        return False
    if kind == "slide":
        return "slurred" in example.truth
    return kind == "pinched" or not pinched(example.heard.traits)


def logistic(table: Floats, truth: Floats, names: tuple[str, ...]) -> Floats:
    """Weights and, last, the constant, by Newton's method; standardised measures share the ridge."""
    centre, spread = table.mean(axis=0), table.std(axis=0) + 1e-9
    held = np.array([HELD.get(name, 0.0) for name in names])
    free = np.array([name not in HELD for name in names] + [True])
    offset = table @ held
    x = np.column_stack([(table - centre) / spread, np.ones(len(table))])[:, free]
    weights = np.zeros(x.shape[1])
    ridge = RIDGE * np.eye(x.shape[1])
    ridge[-1, -1] = 0.0
    for _ in range(TURNS):
        chance = 1 / (1 + np.exp(-np.clip(x @ weights + offset, -50, 50)))
        slope = x.T @ (truth - chance) - ridge @ weights
        weights += np.linalg.solve((x * (chance * (1 - chance))[:, None]).T @ x + ridge, slope)
    scaled = held.copy()
    scaled[free[:-1]] = weights[:-1] / spread[free[:-1]]
    constant = weights[-1] - float(np.sum((scaled - held) * centre))
    return np.append(scaled, constant)


def balance(totals: Floats, truth: Floats, sources: npt.NDArray[np.str_]) -> float:
    """The total from which clues are best told: the lesser of precision and recall, summed over the sets."""
    steps = np.quantile(totals, np.linspace(0.3, 0.999, 300))

    def worth(step: float) -> float:
        return sum(min(rates(totals[sources == s] >= step, truth[sources == s])) for s in np.unique(sources))

    return float(max(steps, key=worth))


def rates(said: npt.NDArray[np.bool_], truth: Floats) -> tuple[float, float]:
    """Precision and recall."""
    hits = float(truth[said].sum())
    return hits / max(1.0, float(said.sum())), hits / max(1.0, float(truth.sum()))


def fit(kind: str, told: list[Example]) -> Iterator[str]:
    """Lines: the weights of a kind, and what they reach on each set."""
    held_by = {example.source for example in told if kind in example.truth}
    told = [example for example in told if fits(kind, example, held_by)]
    table = np.array([EVIDENCE[kind](example.heard) for example in told], np.float64)
    truth = np.array([kind in example.truth for example in told], np.float64)
    sources, names = np.array([example.source for example in told]), WEIGHTS[kind].names
    *weights, constant = logistic(table, truth, names)
    totals = table @ np.array(weights) + constant
    constant += TURNING - balance(totals, truth, sources)
    totals = table @ np.array(weights) + constant
    yield f'"{kind}": Logistic({names}, {tuple(round(float(w), 3) for w in weights)}, {constant:.2f}),'
    for source in sorted(held_by):
        here = sources == source
        precision, recall = rates(totals[here] >= TURNING, truth[here])
        yield f"    {source:26s} {precision:4.0%} / {recall:4.0%} of {truth[here].sum():.0f}"


def main() -> None:
    """All kinds."""
    count, first = (int(given) for given in (*sys.argv[1:], *("30", "1000")[len(sys.argv) - 1 :]))
    told = list(examples(count, first))
    for kind in KINDS:
        print("\n".join(fit(kind, told)), flush=True)


if __name__ == "__main__":
    main()
