"""Which course the height takes: it stays, jumps, glides, slips, bends or swings.

Each kind of course is a family of curves. The clarity along its best curve says how much of the sound that
kind leaves unexplained, and kinds are compared by the logarithm of that share (a log-likelihood ratio a
moment, were the rest white noise). So a swing is no bend where it explains the sound better, and a glide is
one only where a jump at the best moment does worse. Seconds and semitones; courses are (k, moments).
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt

from pipeline.sound.pitchmap import PitchMap

Floats = npt.NDArray[np.float64]
NOISE = 0.01
"""The share of a sound that no course is expected to explain."""
FEWEST = 8
"""Moments under which nothing is said."""
JUMPS = np.arange(-0.040, 0.041, 0.004)
"""When a jump may come, from the start of a note."""
ARRIVALS = np.arange(-0.040, 0.046, 0.004)
GLIDES = (0.020, 0.028, 0.036, 0.046, 0.060, 0.080, 0.100, 0.120)
SLIPS = (-3.0, -2.0, -1.5, -1.0, 1.0, 1.5, 2.0, 3.0)
SLIP_TAKES = (0.020, 0.030, 0.042, 0.056, 0.070)
SLIP_BEGINS = np.arange(-0.024, 0.033, 0.004)
RISES = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
RISE_BEGINS, RISE_TAKES = (0.0, 0.08, 0.16, 0.25, 0.35, 0.5), (0.2, 0.3, 0.4, 0.5)
"""Shares of a note."""
HELD = 0.15
"""The share of a note for which a bend is held at the least."""
LEFT = np.arange(0.1, 0.96, 0.05)
"""Shares of a note after which the next one may have begun."""
OFF_TUNE = np.arange(-0.4, 0.41, 0.1)
SWING_HZ, SWINGS = (4.0, 4.75, 5.5, 6.25, 7.0, 8.0), (0.1, 0.2, 0.3, 0.45, 0.6, 0.8)
SWING_WAITS = (0.0, 0.1)
FEWEST_SWINGS = 0.9


@dataclass(frozen=True)
class Slid:
    """How much better a glide between two heights explains a start than a jump, and how long it takes."""

    gain: float = 0.0
    seconds: float = 0.0


@dataclass(frozen=True)
class Bent:
    """How much better a rise that is held explains a note than anything else does, and how far it goes."""

    gain: float = 0.0
    semitones: float = 0.0


def slid(map_: PitchMap, before: float, height: float, start: float) -> Slid:
    """A glide that arrives at `height` about `start`, smooth or fret by fret, against a jump."""
    if len(map_.seconds) < FEWEST:
        return Slid()
    time = map_.seconds - start
    jumps = np.where(time < JUMPS[:, None], before, height)
    takes, arrivals = (np.array(v)[:, None] for v in zip(*product(GLIDES, ARRIVALS), strict=True))
    share = np.clip((time - arrivals + takes) / takes, 0, 1)
    frets = max(1.0, abs(height - before))
    ways = np.concatenate([eased(share), np.floor(share * frets + 1e-9) / frets])
    glides = map_.along(before + (height - before) * ways)
    best = int(np.argmax(glides))
    return Slid(gain(map_.along(jumps).max(), glides[best]), float(takes[best % len(takes), 0]))


def slipped(map_: PitchMap, height: float, start: float) -> float:
    """How much better a short glide to or from a repeated height explains its start than none."""
    if len(map_.seconds) < FEWEST:
        return 0.0
    grid = product(SLIPS, SLIP_TAKES, SLIP_BEGINS)
    away, takes, begins = (np.array(values)[:, None] for values in zip(*grid, strict=True))
    share = (map_.seconds - start - begins) / takes
    arriving = away * np.where(share < 0, 0, 1 - eased(share))
    leaving = away * np.where(share >= 0, 0, eased(share + 1))
    slips = map_.along(height + np.concatenate([arriving, leaving]))
    return gain(map_.along(np.full((1, len(map_.seconds)), height))[0], slips.max())


def bent(map_: PitchMap, height: float, onward: float | None = None) -> Bent:
    """A rise from `height` that is held, against a level height, a swing, and a way on to the next note.

    `onward` is the next note's height.
    """
    if len(map_.seconds) < FEWEST:
        return Bent()
    time = map_.seconds - map_.seconds[0]
    level = map_.along(height + OFF_TUNE[:, None] * np.ones(len(time))).max()
    grid = [g for g in product(RISES, RISE_BEGINS, RISE_TAKES) if g[1] + g[2] <= 1 - HELD]
    sizes, begins, takes = (np.array(values)[:, None] for values in zip(*grid, strict=True))
    rises = map_.along(height + sizes * eased((time / time[-1] - begins) / takes))
    best = int(np.argmax(rises))
    other = max(level, swinging(map_, height, time), leaving(map_, height, onward, time))
    return Bent(gain(other, rises[best]), float(sizes[best, 0]))


def swinging(map_: PitchMap, height: float, time: Floats) -> float:
    """The clarity of the best swing about `height` or up from it; -1 where a note is too short for one."""
    rates = [hertz for hertz in SWING_HZ if hertz * time[-1] >= FEWEST_SWINGS]
    if not rates:
        return -1.0
    turns = np.arange(8) * np.pi / 4
    grid = product(rates, SWINGS, turns, (0.0, 1.0), SWING_WAITS)
    hertz, width, turn, lift, waits = (np.array(values)[:, None] for values in zip(*grid, strict=True))
    swings = width * (lift + np.sin(2 * np.pi * hertz * time + turn)) * (time >= waits)
    return float(map_.along(height + swings).max())


def leaving(map_: PitchMap, height: float, onward: float | None, time: Floats) -> float:
    """The clarity of the best way to the next note: a slide that ends where this one does, or a jump before
    it, should that note start earlier than is thought; -1 without one."""
    if onward is None:
        return -1.0
    slides = eased((time - time[-1]) / np.array(GLIDES)[:, None] + 1)
    jumps = time > LEFT[:, None] * time[-1]
    return float(map_.along(height + (onward - height) * np.concatenate([slides, jumps])).max())


def gain(plain: float, shaped: float) -> float:
    """The logarithm of what a plain course leaves unexplained over what a shaped one leaves."""
    return float(np.log((1 - plain + NOISE) / (1 - shaped + NOISE)))


def eased(share: Floats) -> Floats:
    """From 0 to 1, slow at both ends."""
    part = np.clip(share, 0, 1)
    return np.asarray(part * part * (3 - 2 * part), np.float64)
