"""How sure an alignment is of each start: near enough, at the right pitch, held from both sides."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.special import erf

from pipeline.sound.align_features import Features
from pipeline.sound.align_passes import Path
from pipeline.sound.align_score import Event

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
NEAR_S = 0.020
"""A start counts as found within so many seconds."""


def agreement(features: Features, events: Sequence[Event], which: Ints, path: Path) -> Floats:
    """The mean fit of each event over the inner part of its sounding length."""
    step = features.hop / features.rate
    lengths = np.diff(path.seconds)
    lengths = np.append(lengths, np.median(lengths) if len(lengths) else 0.2)
    lengths = lengths * np.array([event.sounds for event in events])
    first = np.minimum(np.round((path.seconds + 0.15 * lengths) / step).astype(int), features.frames - 1)
    last = np.maximum(first + 1, np.round((path.seconds + 0.9 * lengths) / step).astype(int))
    return np.array([features.fit[k, a:b].mean() for k, a, b in zip(which, first, last, strict=True)])


def likeness(fits: Floats) -> Floats:
    """How far a mean fit speaks for the pitch, 0 to 1: one half where it is no better than chance."""
    return np.asarray(1.0 / (1.0 + np.exp(-2.5 * fits)))


def held_at_ends(events: Sequence[Event], heights: Floats) -> Floats:
    """A factor of each event's confidence: a half for a picked one at either end that starts with no step.

    Within the passage the neighbours hold such an event; at an end only its length would, from one side.
    """
    factors = np.ones(len(events))
    for number in {0, len(events) - 1}:
        if not events[number].slurred and not heights[number]:
            factors[number] = 0.5
    return factors


def nearness(path: Path, seconds: Floats, features: Features) -> Floats:
    """The chance that each event starts within `NEAR_S` of its second."""
    step = features.hop / features.rate
    reach = round(NEAR_S / step)
    centres = np.round(seconds / step).astype(np.int64)
    rows = [
        row[max(0, c - reach) : c + reach + 1].sum() for row, c in zip(path.chances, centres, strict=True)
    ]
    return np.array(rows)


def within(spread: Floats) -> Floats:
    """The chance that what is normally spread by so many seconds (0: not at all) lies within `NEAR_S`."""
    return np.asarray(erf(NEAR_S / np.sqrt(2) / np.maximum(spread, 1e-6)))
