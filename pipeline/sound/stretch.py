"""Slow-down at true pitch: attacks are copied, the bodies of notes between them are stretched.

The times are `slowmap`'s, which needs no sound. Attacks, the marked ones and those that `attacks` hears
between them, are the source's own samples, bit for bit. What lies between two of them is stretched by the
vocoder, each note by itself: linear prediction carries it on past its edges, so no window ever sees a
neighbour's attack.
"""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from pipeline.sound.attacks import completed, heard_onsets
from pipeline.sound.continuation import Extended
from pipeline.sound.onsets import mono
from pipeline.sound.signal import Samples, Signal, blank, let_go
from pipeline.sound.slowmap import BEFORE_ONSET, Attack, fences, planned
from pipeline.sound.vocoder import OVERLAP, Places, vocode
from pipeline.sound.window import LISTENED_S, window_for
from pipeline.timing import Span

_FADE_IN, _FADE_OUT = 0.003, 0.006
_TRANSIENT = float(BEFORE_ONSET) + 0.003
"""Where in an attack the body is looked at from: when the noise of the pick is over."""


def stretch(
    signal: Signal, span: Span, speed: Fraction, anchors: tuple[Fraction, ...], loose: frozenset[int]
) -> Signal:
    """The span of a recording slowed to `speed`, by `slowmap.stretch_map` to the sample where an attack is.

    Attacks that are only heard begin at the map's moments too, and what is around them gives way.
    At speed 1 it is the untouched cut; a long excerpt lies on the disk. Raises ValueError where the span
    leaves the signal.
    """
    cut = signal.cut(span.start, span.end)
    if speed == 1:
        return cut
    marked = planned(span, speed, anchors, loose, signal.rate)
    plan = completed(marked, heard_onsets(signal, marked.first, marked.last), signal.rate)
    out = blank(plan.length, signal.channels)
    for attack in plan.attacks:
        out[attack.target : attack.end] = signal.samples[attack.first : attack.last]
        let_go(signal.samples)
        let_go(out)
    for before, after in pairwise(fences(plan)):
        if after.target > before.end:
            _Body(signal, before, after, plan.loose).stretch_into(out[before.end : after.target])
    return Signal(out, signal.rate)


class _Body:
    """What lies between two attacks, in clip samples and in excerpt samples."""

    def __init__(
        self, signal: Signal, before: Attack, after: Attack, loose: tuple[tuple[int, int], ...]
    ) -> None:
        self.signal, self.rate = signal, signal.rate
        self.start, self.stop = before.last, after.first
        self.target, self.length = before.end, after.target - before.end
        self.known = min(
            before.first + int(_TRANSIENT * self.rate) if before.last > before.first else before.first,
            self.start,
        )
        self.loose = [
            (s, t) for s, t in loose if self.start < s < self.stop and self.target < t < after.target
        ]
        heard = min(self.stop, self.known + LISTENED_S * self.rate)
        self.window = window_for(mono(signal.samples[self.known : heard]), self.rate)
        self.reach = self.window + 2 * (self.window // OVERLAP)

    def stretch_into(self, out: Samples) -> None:
        """Fill `out` (length, channels), faded from and into the source at both ends."""
        hop, lead = self.window // OVERLAP, OVERLAP // 2
        count = 2 * lead + -(-self.length // hop) + 1
        times = (np.arange(count) - lead) * hop
        note = Extended(self.signal.samples[self.known : self.stop], self.reach)
        at = -(self.window // 2 + lead * hop)
        for piece in vocode(note, self._centres(times), self._resets(times), self.window):
            inside = piece[max(0, -at) : max(0, self.length - at)]
            start = max(0, at)
            out[start : start + len(inside)] = inside
            at += len(piece)
            let_go(self.signal.samples)
            let_go(out)
        self._fade(out)

    def _centres(self, times: Places) -> Places:
        """Where in the note (carried on) each frame looks; before the body's start it runs one to one."""
        pairs = [(0, self.start), *((t - self.target, s) for s, t in self.loose), (self.length, self.stop)]
        xs, ys = zip(*pairs, strict=True)
        inside = np.interp(times, xs, ys)
        slope = (ys[-1] - ys[-2]) / (xs[-1] - xs[-2])
        placed = inside + np.minimum(times, 0) + np.maximum(times - self.length, 0) * slope
        rounded: Places = np.rint(placed).astype(np.int64) - self.known + self.reach
        return rounded

    def _resets(self, times: Places) -> npt.NDArray[np.bool_]:
        """Frames that run one to one, and the first after each loose onset, take the source's phases."""
        marked: npt.NDArray[np.bool_] = times <= 0
        for _, target in self.loose:
            marked[np.searchsorted(times, target - self.target)] = True
        return marked

    def _fade(self, out: Samples) -> None:
        samples, size = self.signal.samples, len(out)
        into = min(int(_FADE_IN * self.rate), (self.stop - self.start) // 3, size // 3)
        out_of = min(int(_FADE_OUT * self.rate), (self.stop - self.start) // 3, size // 3)
        rise = (0.5 - 0.5 * np.cos(np.pi * (np.arange(into) + 0.5) / max(into, 1)))[:, None]
        out[:into] += (samples[self.start : self.start + into] - out[:into]) * (1 - rise)
        if out_of:
            out[-out_of:] = _joined(out[-out_of:], samples[self.stop - out_of : self.stop])


def _joined(leaving: Samples, coming: Samples) -> npt.NDArray[np.float64]:
    """A cross-fade that keeps the power steady whatever the two sounds have in common."""
    going = leaving.astype(np.float64)
    share = (np.arange(len(going)) + 0.5) / len(going)
    fall, rise = np.cos(share * np.pi / 2)[:, None], np.sin(share * np.pi / 2)[:, None]
    energy = np.sqrt((going**2).sum() * (coming.astype(np.float64) ** 2).sum())
    likeness = float((going * coming).sum() / energy) if energy > 0 else 0.0
    return np.asarray((going * fall + coming * rise) / np.sqrt(1 + 2 * fall * rise * max(likeness, -0.5)))
