"""What can be measured of each note of an aligned clip: attack, course of the height, partials."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, sosfiltfilt

from pipeline.music.pitch import frequency
from pipeline.sound.onsets import Curve, fine_flux
from pipeline.sound.pitchtrack import STEP_S, Track, track

Floats = npt.NDArray[np.float64]
REACH = 3.4
"""Semitones about the expected height that are searched."""
BEGUN = 0.6
"""Semitones from the expected height within which a bend begins."""
AT_HEIGHT = 0.3
"""Semitones within which a height counts as that of a note."""
GLIDING = 0.9
"""The clarity that a gliding string keeps; two notes that overlap in a window have less."""
BEFORE_S, AFTER_S = 0.10, 0.07
"""What is looked at before and after a start for a slide or a slip."""
HIGHEST_PARTIAL = 20
PINCHES = (3, 4, 5, 6, 7, 8)
BRIGHT_HZ = 1500.0


@dataclass(frozen=True)
class Spoken:
    """One note as it lies in the wave: start and end in seconds, and its expected height."""

    start: float
    end: float
    height: float


@dataclass(frozen=True)
class Traits:
    """What was measured of a note. Semitones, seconds, decibels.

    `attack` is the step of the bright part of the sound at the start, in dB, `new` the height of the fine
    spectral flux there over its 70th percentile in the clip. `bend` is how far the height
    climbs within the note and stays; `wobble` the half-width of a regular swing, at `wobble_hz`. `glide` is
    how long the height takes from the note before to this one. `dip` is how far the
    height leaves a repeated note about its start. `ring` is how far the note's partials fall over the
    first 90 ms of the next note. `pinch` is the partial whose multiples hold nearly all energy, and `bare`
    how far the others lie below it.
    """

    attack: float
    new: float
    bend: float
    wobble: float
    wobble_hz: float
    glide: float
    dip: float
    ring: float
    pinch: int
    bare: float


def traits_of(wave: Floats, rate: int, notes: Sequence[Spoken]) -> list[Traits]:
    """The traits of notes that follow each other, in a mono wave."""
    bright, new = brightness(wave, rate), fine_flux(wave, rate)
    before: list[Spoken | None] = [None, *notes[:-1]]
    after: list[Spoken | None] = [*notes[1:], None]
    found = [
        traits(wave, rate, bright, new, note, last, following)
        for note, last, following in zip(notes, before, after, strict=True)
    ]
    usual = max(0.3, float(np.percentile([trait.new for trait in found], 70)))
    return [replace(trait, new=trait.new / usual) for trait in found]


def traits(
    wave: Floats,
    rate: int,
    bright: Floats,
    new: Curve,
    note: Spoken,
    last: Spoken | None,
    following: Spoken | None,
) -> Traits:
    """The traits of one note between its neighbours."""
    inner = heights(wave, rate, note.start + 0.012, note.end - 0.006, note.height)
    wobble, hertz = swing(inner)
    partial, bare = pinch_of(wave, rate, note)
    return Traits(
        attack=step_at(bright, rate, note.start),
        new=flux_at(new, note.start),
        bend=climb(inner, note.height, round((note.end - note.start) / STEP_S)),
        wobble=wobble,
        wobble_hz=hertz,
        glide=glide_between(wave, rate, last, note) if last else 0.0,
        dip=dip_before(wave, rate, last, note) if last else 0.0,
        ring=fall(wave, rate, note, following) if following else 99.0,
        pinch=partial,
        bare=bare,
    )


def brightness(wave: Floats, rate: int) -> Floats:
    """The power above `BRIGHT_HZ`, smoothed over 3 ms, (n,)."""
    high = sosfiltfilt(butter(2, BRIGHT_HZ, "highpass", fs=rate, output="sos"), wave)
    width = max(1, round(0.003 * rate))
    return np.asarray(np.convolve(high**2, np.ones(width) / width, mode="same"))


def step_at(power: Floats, rate: int, start: float) -> float:
    """How many dB the highest power of the 16 ms at a start lies over the mean of the 12 ms before it."""
    at = round(start * rate)
    now = power[max(0, at - round(0.002 * rate)) : at + round(0.014 * rate)]
    past = power[max(0, at - round(0.016 * rate)) : max(1, at - round(0.004 * rate))]
    floor = 1e-6 * power.max() + 1e-15
    return float(10 * np.log10((now.max() + floor) / (past.mean() + floor))) if len(now) else 0.0


def flux_at(new: Curve, start: float) -> float:
    """The highest flux from 6 ms before to 10 ms after a start, over its median of the 100 ms about it."""
    near = new.values[max(0, round((start - 0.006) / new.hop)) : round((start + 0.010) / new.hop) + 1]
    about = new.values[max(0, round((start - 0.05) / new.hop)) : round((start + 0.05) / new.hop) + 1]
    return float(near.max() - np.median(about)) if len(near) else 0.0


def heights(wave: Floats, rate: int, start: float, end: float, height: float, reach: float = REACH) -> Track:
    """The believable heights about an expected one."""
    return track(wave, rate, start, end, height - reach, height + reach).clear


def climb(inner: Track, height: float, expected: int) -> float:
    """Semitones from an expected height, at which the heights must begin, to the level that they end on.

    0 where they begin elsewhere (an old note dying away), do not hold the level, or are lost for more
    than a third of the `expected` count.
    """
    count = len(inner.heights)
    if count < max(12, 0.67 * expected):
        return 0.0
    early, late = inner.heights[: max(3, count // 8)], inner.heights[-(count // 3) :]
    held = float(np.percentile(late, 80) - np.percentile(late, 20)) < 0.35
    begun = abs(float(np.median(early)) - height) < BEGUN
    return float(np.median(late) - height) if held and begun else 0.0


def swing(inner: Track) -> tuple[float, float]:
    """Half the width of a swing of 3 to 9 Hz, and its rate in hertz; (0, 0) where there is none."""
    if len(inner.heights) < 60:
        return 0.0, 0.0
    times = inner.seconds - inner.seconds[0]
    level = inner.heights - np.polyval(np.polyfit(times, inner.heights, 1), times)
    hertz = np.arange(3.0, 9.0, 0.25)
    waves = np.abs(np.exp(-2j * np.pi * hertz[:, None] * times) @ level) * 2 / len(level)
    best = int(np.argmax(waves))
    regular = waves[best] ** 2 / 2 > 0.5 * level.var()
    return (float(waves[best]), float(hertz[best])) if regular else (0.0, 0.0)


def glide_between(wave: Floats, rate: int, last: Spoken, note: Spoken) -> float:
    """Seconds that the height takes from one note's to the next one's, about the start.

    From the last moment at the old height to the first at the new one: a window's length where a finger
    simply comes down, more where one slides.
    """
    apart = abs(note.height - last.height)
    if not 1.0 <= apart <= 12.0:
        return 0.0
    middle, reach = (note.height + last.height) / 2, apart / 2 + 1.0
    start, end = max(last.start, note.start - BEFORE_S), min(note.end, note.start + AFTER_S)
    found = track(wave, rate, start, end, middle - reach, middle + reach)
    old = found.seconds[np.abs(found.heights - last.height) < AT_HEIGHT]
    new = found.seconds[np.abs(found.heights - note.height) < AT_HEIGHT]
    if not len(old) or not len(new):
        return 0.0
    arrived = new[new > old[0]]
    left = old[old < arrived[0]] if len(arrived) else old[:0]
    passed = found.between(float(left[-1]), float(arrived[0])).clarity[1:] if len(left) else np.zeros(0)
    gliding = float(np.mean(passed >= GLIDING)) if len(passed) else 0.0
    return float(arrived[0] - left[-1]) * gliding if len(left) else 0.0


def dip_before(wave: Floats, rate: int, last: Spoken, note: Spoken) -> float:
    """Semitones by which the height leaves a repeated note about its second start."""
    if abs(note.height - last.height) > 0.5:
        return 0.0
    start, end = max(last.start + 0.02, note.start - BEFORE_S), min(note.end, note.start + AFTER_S)
    found = heights(wave, rate, start, end, note.height)
    off = np.sort(np.abs(found.heights - note.height))
    return float(off[-4]) if len(off) >= 8 else 0.0


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


def fall(wave: Floats, rate: int, note: Spoken, following: Spoken) -> float:
    """How many dB the partials of a note fall over the start of the next one, those that it shares left out.

    99 where all are shared.
    """
    own = frequency(note.height) * np.arange(1, 9)
    theirs = frequency(following.height) * np.arange(1, 25)
    free = np.array([np.abs(1200 * np.log2(theirs / hertz)).min() > 130 for hertz in own])
    if not free.any():
        return 99.0
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


def spoken(starts: Sequence[float], heights_: Sequence[float], last_length: float) -> list[Spoken]:
    """Notes from their starts (seconds) and heights; the last one lasts `last_length` seconds."""
    ends = [b for _, b in pairwise(starts)] + [starts[-1] + last_length]
    return [Spoken(*note) for note in zip(starts, ends, heights_, strict=True)]
