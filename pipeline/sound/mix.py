"""Sounds laid on one time line: at exact samples, faded, excerpts lower while somebody speaks.

The mix comes in blocks, so that an hour of it never lies in memory. Speech is placed as it is: nothing here
changes the speed of a sound.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

import numpy as np
import numpy.typing as npt

from pipeline.sound.signal import Samples, Signal, let_go

Wave = npt.NDArray[np.float64]
Role = Literal["excerpt", "voice", "click"]

RATE = 48000
FADE = Fraction(5, 1000)
"""A sound that is cut anywhere starts and ends without a click over this many seconds."""
DUCK_DB = -10.0
DUCK_DOWN, DUCK_UP = 0.15, 0.5
"""Seconds in which excerpts go down before somebody speaks and come back afterwards."""
PAUSE = 0.6
"""Shorter pauses of a voice do not bring the excerpts back."""
SPEAKS = 10 ** (-45 / 20)
_STEP = RATE // 100
_BLOCK = RATE * 10


@dataclass(frozen=True, eq=False)
class Part:
    """A sound on the time line: from which second on, how loud, how it is faded, what it is.

    Only an `excerpt` is ducked, and only a `voice` ducks. Fades are in seconds.
    """

    signal: Signal
    at: Fraction
    gain: float = 1.0
    fade_in: Fraction = FADE
    fade_out: Fraction = FADE
    role: Role = "excerpt"

    @property
    def end(self) -> Fraction:
        return self.at + self.signal.duration


def mixed(parts: Sequence[Part], length: Fraction, duck_db: float = DUCK_DB) -> Signal:
    """The whole mix in stereo, `length` seconds to the sample."""
    blocks = [block.samples for block in mix_blocks(parts, length, duck_db)]
    return Signal(np.concatenate(blocks) if blocks else np.zeros((0, 2), np.float32), RATE)


def mix_blocks(parts: Sequence[Part], length: Fraction, duck_db: float = DUCK_DB) -> Iterator[Signal]:
    """The mix in blocks of ten seconds. Raises ValueError for a part that is not at 48 kHz."""
    for part in parts:
        if part.signal.rate != RATE:
            raise ValueError(f"a mix holds sounds at {RATE} samples a second, not {part.signal.rate}")
    count = round(length * RATE)
    duck = _ducking(parts, count, duck_db)
    for start in range(0, count, _BLOCK):
        end = min(start + _BLOCK, count)
        out = np.zeros((end - start, 2))
        lowered = _between(duck, start, end)
        for part in parts:
            _lay(out, part, start, lowered)
            let_go(part.signal.samples)
        yield Signal(out.astype(np.float32), RATE)


def faded(samples: Samples, first: int, whole: int, fade_in: int, fade_out: int) -> Wave:
    """Samples that start at `first` of a sound of `whole` samples, with its fades (equal power) on them."""
    if first >= fade_in and first + len(samples) <= whole - fade_out:
        return np.asarray(samples, dtype=np.float64)
    place = first + np.arange(len(samples))
    rise = np.clip((place + 0.5) / max(fade_in, 1), 0, 1) if fade_in else 1.0
    fall = np.clip((whole - place - 0.5) / max(fade_out, 1), 0, 1) if fade_out else 1.0
    gain = np.sin(np.pi / 2 * rise) * np.sin(np.pi / 2 * fall)
    return np.asarray(samples * np.reshape(gain, (-1, 1)), dtype=np.float64)


def looped(signal: Signal, times: int, gap: Fraction = Fraction(0), lead: Signal | None = None) -> Signal:
    """A signal `times` over, each time after `lead` (a count-in) and before `gap` seconds of silence."""
    whole, fade = len(signal.samples), round(FADE * signal.rate)
    once = faded(signal.samples, 0, whole, fade, fade).astype(np.float32)
    pieces = [once, np.zeros((round(gap * signal.rate), signal.channels), np.float32)]
    if lead is not None:
        pieces.insert(0, np.broadcast_to(lead.samples, (len(lead.samples), signal.channels)))
    return Signal(np.concatenate(pieces * times), signal.rate)


def _lay(out: Wave, part: Part, start: int, lowered: Wave) -> None:
    """Add what of a part lies in the block that begins at sample `start`."""
    at = round(part.at * RATE)
    whole = len(part.signal.samples)
    first, last = max(start, at), min(start + len(out), at + whole)
    if first >= last:
        return
    fades = round(part.fade_in * RATE), round(part.fade_out * RATE)
    sound = faded(part.signal.samples[first - at : last - at], first - at, whole, *fades) * part.gain
    if part.role == "excerpt":
        sound *= lowered[first - start : last - start]
    out[first - start : last - start] += sound[:, :2] if sound.shape[1] > 1 else sound


def _ducking(parts: Sequence[Part], count: int, duck_db: float) -> Wave:
    """The gain of excerpts every hundredth of a second, smooth; empty where nobody speaks."""
    speaking = np.zeros(-(-count // _STEP) + 2, dtype=bool)
    for part in parts:
        if part.role == "voice":
            _mark(speaking, part)
    if not speaking.any():
        return np.zeros(0)
    spoken = _closed(speaking, round(PAUSE * RATE / _STEP))
    distance_to, distance_from = _distances(spoken)
    step = RATE / _STEP
    low = np.maximum(
        _eased(1 - distance_to / (DUCK_DOWN * step)), _eased(1 - distance_from / (DUCK_UP * step))
    )
    return np.asarray(10 ** (duck_db * low / 20), dtype=np.float64)


def _between(duck: Wave, start: int, end: int) -> Wave:
    """The gain of excerpts at each sample from `start` to `end`."""
    if not len(duck):
        return np.broadcast_to(1.0, (end - start, 1))
    places = np.arange(start, end) / _STEP
    return np.asarray(np.interp(places, np.arange(len(duck)), duck)[:, None], dtype=np.float64)


def _mark(speaking: npt.NDArray[np.bool_], part: Part) -> None:
    """Mark the steps in which a voice is heard."""
    samples, at = part.signal.samples, round(part.at * RATE)
    for start in range(0, len(samples), _BLOCK):
        piece = (samples[start : start + _BLOCK].astype(np.float64) ** 2).mean(axis=1)
        power = np.add.reduceat(piece, np.arange(0, len(piece), _STEP)) / _STEP
        places = (at + start) // _STEP + np.flatnonzero(np.sqrt(power) * part.gain > SPEAKS)
        speaking[places[(places >= 0) & (places < len(speaking))]] = True
        let_go(samples)


def _closed(speaking: npt.NDArray[np.bool_], pause: int) -> npt.NDArray[np.bool_]:
    """The same with short pauses filled."""
    to, since = _distances(speaking)
    return np.asarray(to + since <= pause + 1, dtype=np.bool_) | speaking


def _distances(marked: npt.NDArray[np.bool_]) -> tuple[Wave, Wave]:
    """Steps from each place to the next marked one, and since the last."""
    index = np.arange(len(marked), dtype=np.float64)
    following = np.minimum.accumulate(np.where(marked, index, np.inf)[::-1])[::-1]
    before = np.maximum.accumulate(np.where(marked, index, -np.inf))
    return following - index, index - before


def _eased(share: Wave) -> Wave:
    part = np.clip(share, 0, 1)
    return np.asarray(part * part * (3 - 2 * part), dtype=np.float64)
