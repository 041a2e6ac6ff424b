"""Sound: samples, their rate, exact cutting; long ones lie on the disk and come in blocks."""

import mmap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from tempfile import TemporaryFile

import numpy as np
import numpy.typing as npt

from pipeline.sound.clipping import Clipping

Samples = npt.NDArray[np.float32]
BLOCK = 1 << 18
"""Samples of a block where nothing else is said: about five seconds."""
_IN_MEMORY = 1 << 24
"""Numbers that are still held in memory: 64 MB."""


@dataclass(frozen=True, eq=False)
class Signal:
    """Sound: float32 samples of shape (n, channels), full scale 1.0, at `rate` samples a second.

    `clipping` is known of a decoded recording that is clipped, and not of what is cut or made from it.
    """

    samples: Samples
    rate: int
    clipping: Clipping | None = None

    def __post_init__(self) -> None:
        if self.samples.ndim != 2:
            raise ValueError("samples have the shape (n, channels)")

    @property
    def channels(self) -> int:
        return int(self.samples.shape[1])

    @property
    def duration(self) -> Fraction:
        return Fraction(len(self.samples), self.rate)

    def cut(self, start: Fraction, end: Fraction) -> "Signal":
        """The samples of [start, end) seconds, to the nearest sample. Raises ValueError outside."""
        first, last = round(start * self.rate), round(end * self.rate)
        if not 0 <= first <= last <= len(self.samples):
            raise ValueError(f"{float(start)} to {float(end)} s leaves the signal ({float(self.duration)} s)")
        return Signal(self.samples[first:last], self.rate)


def blank(count: int, channels: int) -> Samples:
    """Silence to be filled, (count, channels): in memory, or mapped from a nameless file where it is long."""
    if not count or count * channels <= _IN_MEMORY:
        return np.zeros((count, channels), dtype=np.float32)
    with TemporaryFile() as file:
        return np.memmap(file, np.float32, "w+", shape=(count, channels))


def let_go(samples: Samples) -> None:
    """Give the pages of a mapped sound back to the system, which reads them again where they are wanted.

    Whoever walks through an hour does so now and then, or all of it would count as this program's memory.
    Sound in memory stays as it is, and so does a mapping whose changes belong to this program alone.
    """
    if not isinstance(samples, np.memmap) or samples.mode == "c" or not hasattr(mmap.mmap, "madvise"):
        return
    held: object = samples
    while isinstance(held, np.ndarray):
        held = held.base
    if isinstance(held, mmap.mmap):
        held.madvise(mmap.MADV_DONTNEED)


def blocks_of(sound: Signal | Iterable[Signal], size: int = BLOCK) -> Iterator[Signal]:
    """The same sound in blocks of exactly `size` samples, the last one shorter."""
    waiting: list[Samples] = []
    for signal in [sound] if isinstance(sound, Signal) else sound:
        at = 0
        while at < len(signal.samples):
            missing = size - sum(map(len, waiting))
            waiting.append(signal.samples[at : at + missing])
            at += missing
            if sum(map(len, waiting)) == size:
                yield Signal(np.concatenate(waiting), signal.rate)
                waiting = []
        rate = signal.rate
    if waiting:
        yield Signal(np.concatenate(waiting), rate)


def exactly(sound: Iterable[Signal], length: int) -> Iterator[Signal]:
    """The blocks cut or filled with silence to `length` samples in all."""
    left = length
    for block in sound:
        last = block
        if left:
            yield Signal(block.samples[:left], block.rate)
        left = max(0, left - len(block.samples))
    if left:
        yield Signal(np.zeros((left, last.channels), np.float32), last.rate)
