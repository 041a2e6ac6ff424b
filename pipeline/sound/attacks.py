"""Attacks that no mark names: heard in the recording itself, and kept where the planned map puts them.

The map of a slowed excerpt is known without any sound. An attack that is heard between two marks, or where
there are none, is copied to the very moment that the map gives its onset; what lies around it is stretched a
little more to make up for it. So picture and sound meet at every onset heard, and its attack is not smeared.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy.ndimage import maximum_filter1d, median_filter

from pipeline.sound.onsets import Floats, fine_flux, flux, mono, sharpen
from pipeline.sound.signal import Signal, let_go
from pipeline.sound.slowmap import Attack, Plan, attack_at, fences

BLOCK_S, AROUND_S = 10, 0.5
"""Seconds that are heard at once, and what is heard beside them. Blocks begin at multiples of their length in
the clip, so that the same attacks are found whatever is cut."""
_WINDOW_S, _HOP_S, _LAG, _PRESSED = 0.032, 0.004, 4, 0.05
_LEAST = 0.05
"""The rise of a weak attack's spectrum: where nothing rises more, noise is not taken for attacks."""
_STEP, _OVER = 0.2, 1.25
"""An attack rises by so much of a clear one over so many times the rise around it: in vibrato and noise
something rises all the time."""
_AROUND_S, _APART_S = 0.1, 0.03
_CLEAR_S = 0.01
"""How far from a copied attack another one must lie."""


def completed(plan: Plan, onsets: list[int], rate: int) -> Plan:
    """The plan with an attack at each onset (sample of the clip) that lies clear of its own attacks."""
    gaps = pairwise(fences(plan))
    heard = [new for before, after in gaps for new in _between(before, after, plan.loose, onsets, rate)]
    return replace(plan, attacks=tuple(sorted((*plan.attacks, *heard), key=lambda attack: attack.first)))


def _between(
    before: Attack, after: Attack, loose: tuple[tuple[int, int], ...], onsets: list[int], rate: int
) -> Iterator[Attack]:
    clear = int(_CLEAR_S * rate)
    inside = [onset for onset in onsets if before.last + clear < onset < after.first - clear]
    free = [(s, t) for s, t in loose if before.last < s < after.first and before.end < t < after.target]
    sources, targets = zip((before.last, before.end), *free, (after.first, after.target), strict=True)
    edges = [before.last, *inside, after.first]
    for onset, previous, following in zip(inside, edges, edges[2:], strict=False):
        place = (onset, round(float(np.interp(onset, sources, targets))))
        yield attack_at(place, previous, following, rate)


def heard_onsets(signal: Signal, first: int, last: int) -> list[int]:
    """The samples of [first, last) at which something is heard to start."""
    size, rate = BLOCK_S * signal.rate, signal.rate
    blocks = range(first // size * size, last, size)
    found = np.concatenate([_heard_in(signal, at, at + size) for at in blocks])
    return [int(onset) for onset in np.rint(found * rate) if first <= onset < last]


def _heard_in(signal: Signal, first: int, last: int) -> Floats:
    """The onsets of one block, in seconds of the clip."""
    start = max(0, first - round(AROUND_S * signal.rate))
    wave = mono(signal.samples[start : last + round(AROUND_S * signal.rate)])
    let_go(signal.samples)
    moments = _steps(wave, signal.rate)
    if len(moments):
        moments, _ = sharpen(fine_flux(wave, signal.rate), moments)
    clip = moments + start / signal.rate
    return np.asarray(clip[(clip >= first / signal.rate) & (clip < last / signal.rate)], np.float64)


def _steps(wave: Floats, rate: int) -> Floats:
    """The seconds at which the spectrum rises more than around; not at the wave's cut ends."""
    hop, window = max(1, round(_HOP_S * rate)), round(_WINDOW_S * rate)
    if len(wave) < 2 * window:
        return np.zeros(0)
    rise = flux(wave, hop, window, _LAG, _PRESSED, _LEAST)
    usual: npt.NDArray[np.float64] = median_filter(rise, 2 * round(_AROUND_S / _HOP_S) + 1)
    highest = rise == maximum_filter1d(rise, 2 * round(_APART_S / _HOP_S) - 1)
    moments = np.flatnonzero(highest & (rise > _STEP + _OVER * usual)) * hop / rate
    return np.asarray(moments[(moments > _WINDOW_S) & (moments < len(wave) / rate - _WINDOW_S)], np.float64)
