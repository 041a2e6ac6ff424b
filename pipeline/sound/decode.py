"""Recordings as signals: any format, decoded whole, at 48 kHz, with one clear line for each that will not do.

The whole file is decoded once and cut by samples, since seeking in compressed sound is off by milliseconds.
An hour need not lie in memory: with `keep` the samples go to a file that is mapped.
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from math import gcd
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.signal import firwin, resample_poly

from pipeline.errors import Fault, Faulty, Place, faulty
from pipeline.ffmpeg import Decoded, decoded_audio
from pipeline.media import kind_of, stated_length
from pipeline.sound.clipping import Clipping, ClippingMeter
from pipeline.sound.signal import Samples, Signal

Waves = npt.NDArray[np.float64]
RATE = 48000
SLOWEST_RATE, FASTEST_RATE = 8000, 384000
SILENT = 10 ** (-90 / 20)
"""A recording that never passes this peak counts as silent."""
LOUDEST = 64.0
"""A float file beyond this holds no sound at full scale 1."""
_BLOCK_SECONDS = 10
_REACH = 32
"""Half the length of the resampling filter, in periods of the lower rate."""

EXPECTED = "a recording (wav, flac, ogg, opus, mp3 or m4a) with sound in it is expected here"


def decode(path: Path, place: Place, keep: Path | None = None) -> Signal:
    """The recording at 48 kHz with one or two channels (more are mixed to one).

    With `keep` the samples are put into that file (NumPy's format) and mapped from it. Raises Faulty at
    `place` for a file that is missing, damaged, cut off, silent, or no sound.
    """
    try:
        with decoded_audio(path) as decoded:
            signal = _at_our_rate(decoded, place, keep)
    except Faulty as failure:
        raise _moved(failure, path, place) from failure
    return signal


def kept(keep: Path, clipping: Clipping | None = None) -> Signal:
    """What `decode` put into a file earlier, mapped from there."""
    return Signal(np.load(keep, mmap_mode="r", allow_pickle=False), RATE, clipping)


def cautions(path: Path, signal: Signal | None = None) -> list[str]:
    """What an educator should know of a recording that can be used: its times may be late, or it clipped
    (where `signal`, its sound, is given)."""
    found = []
    kind = kind_of(path)
    if kind == "mp3" and stated_length(path, kind) is None:
        found.append(f"{path.name}: this mp3 does not state its encoder's delay, so it may sound 25 ms late")
    if kind == "aac":
        found.append(f"{path.name}: bare AAC states no encoder delay, so it may sound 23 ms late")
    if signal is not None and signal.clipping:
        found.append(f"{path.name}: the recording is {signal.clipping}; slowed down, that is heard more")
    return found


def _moved(failure: Faulty, path: Path, place: Place) -> Faulty:
    """The same faults told at the place in the script that names the recording."""
    return Faulty(Fault(place, f"{path.name} {fault.wrong}", fault.remedy) for fault in failure.faults)


def _at_our_rate(decoded: Decoded, place: Place, keep: Path | None) -> Signal:
    rate = decoded.rate
    if not SLOWEST_RATE <= rate <= FASTEST_RATE:
        raise faulty(
            place, f"has {rate} samples a second", f"between {SLOWEST_RATE} and {FASTEST_RATE} are read"
        )
    shape = (-(-len(decoded) * RATE // rate), decoded.shape[1] if decoded.shape[1] <= 2 else 1)
    meter = ClippingMeter()
    blocks = _sounding(_blocks(decoded, rate, meter), place, shape[0])
    if keep is None:
        return Signal(np.concatenate(list(blocks)), RATE, meter.found)
    try:
        with keep.open("wb") as file:
            header = {"descr": "<f4", "fortran_order": False, "shape": shape}
            np.lib.format.write_array_header_1_0(file, header)
            for block in blocks:
                file.write(block.astype("<f4").tobytes())
    except BaseException:
        keep.unlink(missing_ok=True)
        raise
    return kept(keep, meter.found)


def _sounding(blocks: Iterable[Waves], place: Place, count: int) -> Iterator[Samples]:
    """The blocks as float32, `count` samples in all. Raises Faulty where they hold no sound."""
    peak, left = 0.0, count
    for block in blocks:
        top = float(np.abs(block).max(initial=0.0))
        if not top <= LOUDEST:
            raise faulty(place, "holds numbers that are no sound", "export it again at full scale 1")
        peak = max(peak, top)
        yield block[:left].astype(np.float32)
        left -= len(block)
    if peak < SILENT:
        raise faulty(place, "is silent", EXPECTED)


def _blocks(samples: Decoded, rate: int, meter: ClippingMeter) -> Iterator[Waves]:
    """The samples at our rate in pieces that join without a seam; more than two channels become one. The
    meter hears them as they were recorded.
    """
    common = gcd(rate, RATE)
    up, down = RATE // common, rate // common
    size = max(1, rate * _BLOCK_SECONDS // down) * down
    margin = -(-2 * _REACH * max(up, down) // up // down) * down
    for start in range(0, len(samples), size):
        lead = min(start, margin)
        piece = samples[start - lead : start + size + margin].astype(np.float64)
        meter.hear(piece[lead : lead + size])
        if piece.shape[1] > 2:
            piece = piece.mean(axis=1, keepdims=True)
        if up != down:
            piece = resample_poly(piece, up, down, axis=0, window=_filter(up, down))
        first, wanted = lead * up // down, size * up // down
        yield piece[first : first + wanted]


def _filter(up: int, down: int) -> Waves:
    """A linear-phase low-pass that lets through 0.92 of the lower band and stops 90 dB above it."""
    most = max(up, down)
    taps: Waves = firwin(2 * _REACH * most + 1, 0.96 / most, window=("kaiser", 8.6))
    return taps


def duration(path: Path) -> Fraction | None:
    """The seconds that a file says it holds, without decoding it; None where it does not say."""
    kind = kind_of(path)
    return None if kind is None else stated_length(path, kind)
