"""A phase vocoder whose peaks are locked: sound at new times, at its own pitch.

Each output frame shows the source around a chosen place. A spectral peak's phase goes on from the frame
before by the advance measured in the source over the same hop, and the bins around a peak keep their
phases relative to it (identity phase locking: J. Laroche and M. Dolson, "Improved phase vocoder time-scale
modification of audio", IEEE Trans. Speech and Audio Processing 7(3), 1999). Channels share one rotation,
so the stereo image stays.
"""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
from scipy.fft import irfft, rfft

Waves = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]
Spectra = npt.NDArray[np.complex128]

OVERLAP = 4
_BLOCK = 128
_TINY = 1e-20


def vocode(source: Waves, centres: Places, resets: npt.NDArray[np.bool_], window: int) -> Waves:
    """Frames of `source` (n, channels) around `centres`, laid `window // OVERLAP` samples apart.

    Sample `window // 2 + k * hop` of the result stands at the centre of frame k. A frame marked in `resets`
    takes its phases as they are (the first always does). Every window must lie within the source, and so
    must the one a hop before it.
    """
    hop = window // OVERLAP
    taper = np.hanning(window + 1)[:-1, None]
    out = np.zeros(((len(centres) - 1) * hop + window, source.shape[1]))
    for number, frame in enumerate(_rotated(source, centres, resets, taper, hop)):
        out[number * hop : number * hop + window] += frame
    return out / _overlapped(taper, len(centres), hop)


def _rotated(
    source: Waves, centres: Places, resets: npt.NDArray[np.bool_], taper: Waves, hop: int
) -> Iterator[Waves]:
    """The synthesis frames one by one, tapered."""
    last: Spectra | None = None
    for start in range(0, len(centres), _BLOCK):
        block = centres[start : start + _BLOCK]
        here, before = _spectra(source, block, taper), _spectra(source, block - hop, taper)
        nearest = _nearest_peaks(np.abs(here).sum(axis=2))
        for k in range(len(block)):
            if last is not None and not resets[start + k]:
                here[k] *= _turn(last, before[k])[nearest[k], None]
            last = here[k]
        yield from irfft(here, axis=1) * taper


def _spectra(source: Waves, centres: Places, taper: Waves) -> Spectra:
    """Spectra (frames, bins, channels) of the windows around the centres."""
    window = len(taper)
    frames = source[centres[:, None] - window // 2 + np.arange(window)]
    result: Spectra = rfft(frames * taper, axis=1)
    return result


def _turn(last: Spectra, before: Spectra) -> npt.NDArray[np.complex128]:
    """For each bin the rotation that carries the phase of the last output frame on."""
    cross = (last * before.conj()).sum(axis=1)
    size = np.abs(cross)
    return np.where(size > _TINY, cross / np.maximum(size, _TINY), 1.0)


def _nearest_peaks(size: npt.NDArray[np.float64]) -> npt.NDArray[np.int64]:
    """For each bin of each frame the bin of the nearest spectral peak (largest of five neighbours)."""
    bins = size.shape[1]
    padded = np.pad(size, ((0, 0), (2, 2)), mode="edge")
    around = np.max([padded[:, i : i + bins] for i in (0, 1, 3, 4)], axis=0)
    index = np.broadcast_to(np.arange(bins), size.shape)
    peak = size >= around
    below = np.maximum.accumulate(np.where(peak, index, -bins), axis=1)
    above = np.minimum.accumulate(np.where(peak, index, 2 * bins)[:, ::-1], axis=1)[:, ::-1]
    return np.where(index - below <= above - index, below, above).clip(0, bins - 1)


def _overlapped(taper: Waves, count: int, hop: int) -> Waves:
    """What the squared windows of `count` frames add up to."""
    total = np.zeros(((count - 1) * hop + len(taper), 1))
    for number in range(count):
        total[number * hop : number * hop + len(taper)] += taper**2
    return np.maximum(total, 1e-3)
