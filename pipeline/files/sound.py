"""Sound files: WAV and FLAC, whole or not at all, the same bytes every time.

Written by libsndfile through soundfile: it knows both formats and their tags, and puts no date in these.
"""

import errno
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from shutil import disk_usage
from typing import Literal

import numpy as np
import numpy.typing as npt
import soundfile

from pipeline.files.place import placed
from pipeline.sound.signal import Signal

Bits = Literal[16, 24]

TAGS = ("title", "artist", "album", "comment", "copyright", "genre", "tracknumber")
_BLOCK = 1 << 18
_ROOM = 1 << 22


def write_wav(
    path: Path, signal: Signal | Iterable[Signal], bits: Bits = 24, tags: Mapping[str, str] | None = None
) -> Path:
    """A signal, or one in blocks, as WAV (at most 4 GB). Raises Faulty where the disk refuses."""
    return _write(path, signal, "WAV", bits, tags or {})


def write_flac(
    path: Path, signal: Signal | Iterable[Signal], bits: Bits = 24, tags: Mapping[str, str] | None = None
) -> Path:
    """The same as FLAC, about half the size."""
    return _write(path, signal, "FLAC", bits, tags or {})


def read_blocks(path: Path) -> Iterator[Signal]:
    """One of our own sound files, in blocks."""
    with soundfile.SoundFile(path) as file:
        for block in file.blocks(_BLOCK, dtype="float32", always_2d=True):
            yield Signal(block, file.samplerate)


def read_wav(path: Path) -> Signal:
    """One of our own sound files, whole."""
    samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    return Signal(samples, rate)


def _write(
    path: Path, signal: Signal | Iterable[Signal], kind: str, bits: Bits, tags: Mapping[str, str]
) -> Path:
    blocks = iter([signal] if isinstance(signal, Signal) else signal)
    first = next(blocks)
    with placed(path) as part, _opened(part, first, kind, bits) as file:
        for name, text in sorted(tags.items()):
            setattr(file, _tag(name), text)
        for block in chain([first], blocks):
            for start in range(0, len(block.samples), _BLOCK):
                file.write(_whole_numbers(block.samples[start : start + _BLOCK], bits))
    return path


@contextmanager
def _opened(part: Path, first: Signal, kind: str, bits: Bits) -> Iterator[soundfile.SoundFile]:
    """An open file; libsndfile does not say why it failed, so a disk without room is told by its room."""
    try:
        with soundfile.SoundFile(part, "w", first.rate, first.channels, f"PCM_{bits}", format=kind) as file:
            yield file
    except soundfile.LibsndfileError as failure:
        full = disk_usage(part.parent).free < _ROOM
        raise OSError(errno.ENOSPC if full else errno.EIO, str(failure)) from failure


def _tag(name: str) -> str:
    if name not in TAGS:
        raise ValueError(f"{name!r} is no tag of a sound file")
    return name


def _whole_numbers(samples: npt.NDArray[np.float32], bits: Bits) -> npt.NDArray[np.int32]:
    """Rounded to `bits`, held in the upper bits of 32; what lies beyond full scale is cut."""
    full = 2.0 ** (bits - 1)
    whole = np.clip(np.rint(samples.astype(np.float64) * full), -full, full - 1).astype(np.int32)
    return whole << (32 - bits)
