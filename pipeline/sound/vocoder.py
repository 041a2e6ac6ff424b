"""A phase vocoder whose peaks are locked: sound at new times, at its own pitch.

Each output frame shows the source around a chosen place. A spectral peak's phase goes on from the frame
before by the advance measured in the source over the same hop, and the bins around a peak keep their
phases relative to it (identity phase locking: J. Laroche and M. Dolson, "Improved phase vocoder time-scale
modification of audio", IEEE Trans. Speech and Audio Processing 7(3), 1999). Channels share one rotation,
so the stereo image stays.
"""

from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt
from scipy.fft import irfft, rfft

Waves = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]
Spectra = npt.NDArray[np.complex128]

Source = Callable[[int, int], Waves]

OVERLAP = 4
_BLOCK = 128
_TINY = 1e-20


def vocode(source: Source, centres: Places, resets: npt.NDArray[np.bool_], window: int) -> Iterator[Waves]:
    """Frames of the source around `centres`, laid `window // OVERLAP` samples apart, in pieces that follow
    each other, so that an hour need not lie in memory.

    `source(first, last)` gives samples (last - first, channels). Sample `window // 2 + k * hop` of the whole
    stands at the centre of frame k. A frame marked in `resets` takes its phases as they are (the first
    always does). Every window must lie within the source, and so must the one a hop before it.
    """
    hop = window // OVERLAP
    taper = np.hanning(window + 1)[:-1, None]
    carried, weight = np.zeros((window - hop, 1)), np.zeros((window - hop, 1))
    for frames in _rotated(source, centres, resets, taper, hop):
        piece, carried = _laid(frames, carried, hop)
        total, weight = _laid(np.broadcast_to(taper**2, (len(frames), window, 1)), weight, hop)
        yield piece / np.maximum(total, 1e-3)
    yield carried / np.maximum(weight, 1e-3)


def _laid(frames: Waves, carried: Waves, hop: int) -> tuple[Waves, Waves]:
    """Frames (frames, window, channels) added up `hop` apart onto what was carried over: what is done, and
    what the next frames still change."""
    count, window, channels = frames.shape
    out = np.zeros(((count - 1) * hop + window, channels))
    out[: len(carried)] += carried
    for number, frame in enumerate(frames):
        out[number * hop : number * hop + window] += frame
    return out[: count * hop], out[count * hop :]


def _rotated(
    source: Source, centres: Places, resets: npt.NDArray[np.bool_], taper: Waves, hop: int
) -> Iterator[Waves]:
    """The synthesis frames, tapered, in blocks of (frames, window, channels)."""
    last: Spectra | None = None
    for start in range(0, len(centres), _BLOCK):
        block = centres[start : start + _BLOCK]
        here, before = _spectra(source, block, taper), _spectra(source, block - hop, taper)
        nearest = _nearest_peaks(np.abs(here).sum(axis=2))
        for k in range(len(block)):
            if last is not None and not resets[start + k]:
                here[k] *= _turn(last, before[k])[nearest[k], None]
            last = here[k]
        yield irfft(here, axis=1) * taper


def _spectra(source: Source, centres: Places, taper: Waves) -> Spectra:
    """Spectra (frames, bins, channels) of the windows around the centres."""
    window = len(taper)
    first = int(centres.min()) - window // 2
    piece = source(first, int(centres.max()) + window - window // 2)
    frames = piece[(centres - first)[:, None] - window // 2 + np.arange(window)]
    result: Spectra = rfft(frames * taper, axis=1)
    return result


def _turn(last: Spectra, before: Spectra) -> npt.NDArray[np.complex128]:
    """For each bin the rotation that carries the phase of the last output frame on."""
    cross = (last * before.conj()).sum(axis=1)
    size = np.abs(cross)
    return np.where(size > _TINY, cross / np.maximum(size, _TINY), 1.0)


def _nearest_peaks(size: npt.NDArray[np.float64]) -> npt.NDArray[np.int64]:
    """For each bin of each frame the bin of the nearest spectral peak, larger than its two neighbours.

    Peaks are not asked to stand out further: what is faint beside a partial then keeps its own frequency.
    """
    bins = size.shape[1]
    padded = np.pad(size, ((0, 0), (1, 1)), mode="edge")
    peak = (size >= padded[:, :-2]) & (size >= padded[:, 2:])
    index = np.broadcast_to(np.arange(bins), size.shape)
    below = np.maximum.accumulate(np.where(peak, index, -bins), axis=1)
    above = np.minimum.accumulate(np.where(peak, index, 2 * bins)[:, ::-1], axis=1)[:, ::-1]
    return np.where(index - below <= above - index, below, above).clip(0, bins - 1)
