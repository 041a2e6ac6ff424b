"""Where attacks that swell begin: found onsets of slow attacks go back to the foot of the rise.

The flux of a note that swells is greatest long after it began. So the sound about each start is explained by
two pictures taken from the clip itself, the spectrum of the note before and that of the note after: the share
of the new one climbs from nothing, and its foot is the start, whatever the instrument. Notes whose pitch does
not change show no such climb; they lag as far behind as the others of the clip do.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.sound.onsets import frames_of

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
HOP_S, WINDOW_S = 0.001, 0.020
LOWEST_HZ, HIGHEST_HZ = 70.0, 6000.0
BEFORE_S, AFTER_S = 0.060, 0.045
"""How far about a start the climb is looked at."""
BELIEVED_S = 0.035
"""How far from the found moment the new note may reach half its share."""
LOW, HIGH = 0.14, 0.30
"""Shares of the new note at which its climb is timed, beside one half."""
STEP_LOW_S, STEP_WIDTH_S = 0.005, 0.0045
"""A sudden attack seen through this window passes `LOW` so much before it starts, and one half so much
after that (measured on the sharp guitars of the tuning set)."""
LEAN = 0.3
"""The share of the further width of the climb that its foot lies before `LOW`: a straight ramp has 0.39."""
ALIKE = (0.97, 0.98, 0.99, 1.0)
"""How alike the two pictures may be; the later ones where too few starts satisfy the first."""
ENOUGH = 6
SLOW_LAG_S, SLOW_CLIMB_S = 0.007, 0.0035
"""Found moments lag by so much, and climbs take so long from `HIGH` to one half, where attacks swell."""
OWN = 0.55
"""How much a start's own climb weighs against the lag of its kind."""
REACH_S = 0.012
"""How far a start may lie from where the lag of its kind puts it."""
CLEAR_S, UNCLEAR_S = 0.0095, 0.011
"""Standard deviation of a start that went back by its own climb, and of one that only followed its kind."""


@dataclass(frozen=True)
class Climbs:
    """How each new note comes, in seconds: the foot, the time from `HIGH` to one half (nan where no climb is
    seen), and how alike the sound before and after is (1: the same)."""

    foot: Floats
    slowness: Floats
    alike: Floats


def to_feet(wave: Floats, rate: int, moments: Floats, kinds: npt.NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Moments (seconds, rising) with those of slow attacks moved back to where they begin, and the standard
    deviation in seconds of each that moved (0 for the others).

    `kinds` (n,) says which attacks are of one kind; a kind is slow or sudden as a whole.
    """
    climbs = climbs_at(wave, rate, moments)
    out, spread = moments.copy(), np.zeros(len(moments))
    for kind in np.unique(kinds):
        chosen = kinds == kind
        lag = lag_of(climbs, moments, chosen)
        if lag is not None:
            own = chosen & clear(climbs, ALIKE[0])
            behind = moments - lag
            foot = np.where(own, OWN * climbs.foot + (1 - OWN) * behind, behind)
            foot = np.clip(foot, behind - REACH_S, np.minimum(behind + REACH_S, moments))
            out[chosen], spread[chosen] = foot[chosen], np.where(own, CLEAR_S, UNCLEAR_S)[chosen]
    return in_order(out, moments), spread


def in_order(moved: Floats, moments: Floats) -> Floats:
    """Moved moments that keep at least a third of their distance to the one before."""
    out = moved.copy()
    out[:1] = np.maximum(out[:1], 0.0)
    for number in range(1, len(out)):
        gap = moments[number] - moments[number - 1]
        out[number] = max(out[number], min(moments[number], out[number - 1] + gap / 3))
    return out


def clear(climbs: Climbs, alike: float) -> Flags:
    """Which starts show a climb between sounds that differ."""
    return np.isfinite(climbs.foot) & (climbs.alike < alike)


def lag_of(climbs: Climbs, moments: Floats, chosen: Flags) -> float | None:
    """How many seconds the moments of a kind lie behind the feet; None where its attacks are sudden."""
    for alike in ALIKE:
        seen = chosen & clear(climbs, alike)
        seen[:1] = False
        if seen.sum() >= ENOUGH:
            lag = float(np.median((moments - climbs.foot)[seen]))
            slow = lag > SLOW_LAG_S and np.median(climbs.slowness[seen]) > SLOW_CLIMB_S
            return lag if slow else None
    return None


def climbs_at(wave: Floats, rate: int, moments: Floats) -> Climbs:
    """The climb at each moment, seen between the notes on its two sides."""
    edges = np.concatenate(([max(0.0, moments[0] - 0.2)], moments, [moments[-1] + 0.2]))
    rows = [climb_between(wave, rate, *edges[n - 1 : n + 2]) for n in range(1, len(edges) - 1)]
    return Climbs(*np.array(rows, np.float64).reshape(-1, 3).T)


def climb_between(
    wave: Floats, rate: int, before: float, moment: float, after: float
) -> tuple[float, float, float]:
    """Foot, slowness and likeness (see `Climbs`) at a moment between the starts before and after it."""
    last, coming = moment - before, after - moment
    from_old = -min(0.5 * last, 0.08), -min(0.35 * last, 0.05)
    from_new = 0.45 * coming, min(0.8 * coming, 0.1 + 0.45 * coming)
    seen = -min(BEFORE_S, 0.8 * last), min(AFTER_S, 0.6 * coming)
    hop = max(1, round(HOP_S * rate))
    start = max(0, int((moment + min(from_old[0], seen[0])) * rate / hop))
    frames = pictures(wave, rate, start * hop, (moment + max(from_new[1], seen[1])) * rate, hop)

    def index(after_moment: float) -> int:
        return min(len(frames) - 1, max(0, int((moment + after_moment) * rate / hop) - start))

    old, new = (frames[index(a) : max(index(a) + 1, index(b))].mean(axis=0) for a, b in (from_old, from_new))
    share, alike = share_of_new(frames[index(seen[0]) : index(seen[1]) + 1], old, new)
    begun = (start + index(seen[0])) * hop / rate
    foot, slowness = foot_of_climb(share, (moment - begun) * rate / hop)
    return begun + foot * hop / rate, slowness * hop / rate, alike


def pictures(wave: Floats, rate: int, first: int, last: float, hop: int) -> Floats:
    """Roots of magnitudes (frames, bins) of the windows centred on every `hop` samples from `first` on.

    Roots, so that the loudest partials do not speak for all.
    """
    window = round(WINDOW_S * rate)
    size = 1 << (2 * window - 1).bit_length()
    low, high = (round(hertz * size / rate) for hertz in (LOWEST_HZ, HIGHEST_HZ))
    margin = -(-window // hop) * hop
    begun = max(0, first - margin)
    blocks = frames_of(wave[begun : int(last) + margin], hop, window)
    spectra = np.concatenate([np.sqrt(np.abs(np.fft.rfft(block, size)[:, low:high])) for block in blocks])
    return np.asarray(spectra[(first - begun) // hop : max(1, int((last - begun) / hop) + 1)])


def share_of_new(frames: Floats, old: Floats, new: Floats) -> tuple[Floats, float]:
    """How much of the picture `new` is in each frame beside `old`, by least squares; their likeness."""
    pair = np.stack([old, new], axis=1)
    inner = pair.T @ pair
    inner += 1e-6 * inner[1, 1] * np.eye(2) + 1e-12 * np.eye(2)
    alike = float(inner[0, 1] / np.sqrt(inner[0, 0] * inner[1, 1]))
    return np.asarray(np.linalg.solve(inner, (frames @ pair).T)[1]), alike


def foot_of_climb(share: Floats, near: float) -> tuple[float, float]:
    """Where the climb that passes one half nearest the frame `near` begins, and how long it takes from
    `HIGH` to one half, in frames; nan where there is none."""
    passed = np.flatnonzero((share[:-1] < 0.5) & (share[1:] >= 0.5))
    if not len(passed) or np.abs(passed - near).min() > BELIEVED_S / HOP_S:
        return np.nan, np.nan
    top = int(passed[np.argmin(np.abs(passed - near))])
    low, high, half = (last_under(share, top, level) for level in (LOW, HIGH, 0.5))
    further = max(0.0, half - low - STEP_WIDTH_S / HOP_S)
    return low + STEP_LOW_S / HOP_S - LEAN * further, half - high


def last_under(share: Floats, top: int, level: float) -> float:
    """Where the climb last passes a level up to the frame `top`, in fractions of a frame."""
    under = np.flatnonzero(share[: top + 1] <= level)
    if not len(under):
        return np.nan
    at = int(under[-1])
    return at + float((level - share[at]) / (share[at + 1] - share[at]))
