"""What the partials of a note tell: whether it rings on under the next one, and whether it was pinched."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.music.pitch import frequency

Floats = npt.NDArray[np.float64]
HIGHEST_PARTIAL = 20
PINCHES = (3, 4, 5, 6, 7, 8)
ALL_SHARED = 99.0
"""What `fall` says where every partial of a note is one of the next note's too."""


@dataclass(frozen=True)
class Spoken:
    """One note as it lies in the wave: start and end in seconds, its expected height, and the end that its
    written length would give it."""

    start: float
    end: float
    height: float
    due: float


def partials(wave: Floats, rate: int, start: float, end: float, height: float) -> Floats:
    """Magnitudes of the partials 1 to `HIGHEST_PARTIAL` of a height between two seconds."""
    part = wave[max(0, round(start * rate)) : round(end * rate)]
    if len(part) < 64:
        return np.zeros(HIGHEST_PARTIAL)
    size = 1 << (4 * len(part) - 1).bit_length()
    spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), size)) / len(part)
    centres = frequency(height) * np.arange(1, HIGHEST_PARTIAL + 1)
    near = [slice(round(c * 0.985 * size / rate), round(c * 1.015 * size / rate) + 1) for c in centres]
    return np.array([spectrum[part].max() if part.stop < len(spectrum) else 0.0 for part in near])


def fall(wave: Floats, rate: int, note: Spoken, following: Spoken | None) -> float:
    """How many dB the partials of a note fall over the start of the next one, those that it shares left out.

    `ALL_SHARED` where all are shared or nothing follows.
    """
    if following is None:
        return ALL_SHARED
    own = frequency(note.height) * np.arange(1, 9)
    theirs = frequency(following.height) * np.arange(1, 25)
    free = np.array([np.abs(1200 * np.log2(theirs / hertz)).min() > 130 for hertz in own])
    if not free.any():
        return ALL_SHARED
    window = 0.05
    before = partials(wave, rate, following.start - window, following.start - 0.002, note.height)[:8][free]
    late = min(following.end, following.start + 0.09)
    after = partials(wave, rate, late - window, late, note.height)[:8][free]
    return float(20 * np.log10((np.linalg.norm(before) + 1e-9) / (np.linalg.norm(after) + 1e-9)))


def pinch_of(wave: Floats, rate: int, note: Spoken) -> tuple[int, float]:
    """The partial whose multiples stand alone, and by how many dB; (0, 0) where none does."""
    sizes = partials(wave, rate, note.start + 0.01, min(note.end, note.start + 0.12), note.height)
    best, bare = 0, 0.0
    numbers = np.arange(1, HIGHEST_PARTIAL + 1)
    for partial in PINCHES:
        kept = numbers % partial == 0
        low = numbers < 2.5 * partial
        others = np.sqrt(np.mean(sizes[~kept & low] ** 2)) + 1e-9
        over = 20 * np.log10((np.sqrt(np.mean(sizes[kept & low] ** 2)) + 1e-9) / others)
        if over > bare:
            best, bare = partial, float(over)
    return best, bare
