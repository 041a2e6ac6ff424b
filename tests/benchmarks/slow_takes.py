"""What is slowed down to be measured: takes with known onsets, of our own strings and of sampled guitars."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
from scipy.signal import resample_poly

from pipeline.sound.amp import amplified
from pipeline.sound.guide import play_dry
from pipeline.sound.signal import Signal
from pipeline.timing import TimeMap
from tests.benchmarks import ideal, sampled
from tests.benchmarks.phrases import Phrase, phrases
from tests.benchmarks.slow_measures import RATE, Wave

CHORDS, CHORDS_A_SECOND = 8, (2.0, 3.0, 4.0, 2.5, 3.5, 5.0)


@dataclass(frozen=True, eq=False)
class Take:
    """A recording, mono, and the seconds and pitches of its notes."""

    wave: Wave
    onsets: tuple[float, ...]
    pitches: tuple[int, ...]

    @property
    def signal(self) -> Signal:
        return Signal(self.wave.astype(np.float32)[:, None], RATE)


def own_takes(count: int, seed: int) -> Iterator[Take]:
    """Phrases on the project's strings, every second one through the amplifier."""
    for number, phrase in enumerate(phrases(count, 300 + seed)):
        points = zip((note.onset for note in phrase.fragment.notes), phrase.seconds, strict=True)
        moments = TimeMap(
            "beat", "clip", tuple((beat, Fraction(round(s * RATE), RATE)) for beat, s in points)
        )
        signal = play_dry(phrase.fragment, moments, Fraction(phrase.length).limit_denominator(1000), RATE)
        signal = amplified(signal) if number % 2 else signal
        yield take_of(phrase, signal.samples[:, 0].astype(np.float64))


def sampled_takes(count: int, seed: int) -> Iterator[Take]:
    """The same kind of phrases on sampled guitars; nothing where fluidsynth is not installed."""
    for number, phrase in enumerate(phrases(count if sampled.available() else 0, 500 + seed)):
        wave = sampled.perform(phrase, sampled.bank(*guitar(number)), 0.01, np.random.default_rng(number))
        yield take_of(phrase, resample_poly(wave, 160, 147))


def guitar(number: int) -> tuple[Path, int]:
    """A font and a program, each another for each number."""
    fonts = sampled.available()
    return fonts[number % len(fonts)], sampled.PROGRAMS[number % len(sampled.PROGRAMS)]


def chords(count: int, seed: int) -> Iterator[list[list[ideal.Played]]]:
    """Strummed chords, lists of their notes; nothing where fluidsynth is not installed."""
    for number in range(count if sampled.available() else 0):
        random = np.random.default_rng(700 + seed + number)
        yield ideal.strummed(CHORDS, CHORDS_A_SECOND[number % len(CHORDS_A_SECOND)], random)


def chord_takes(count: int, seed: int) -> Iterator[Take]:
    for number, struck in enumerate(chords(count, seed)):
        notes = [note for chord in struck for note in chord]
        wave = ideal.recorded(notes, *guitar(number), notes[-1].start + 1.0)
        yield Take(wave / np.abs(wave).max() * 0.7, *starts_of(struck))


def starts_of(struck: list[list[ideal.Played]]) -> tuple[tuple[float, ...], tuple[int, ...]]:
    """The onsets of chords and the pitches of their lowest notes."""
    return tuple(chord[0].start for chord in struck), tuple(chord[0].pitch for chord in struck)


def take_of(phrase: Phrase, wave: Wave) -> Take:
    pitches = tuple(note.pitch or 0 for note in phrase.fragment.notes)
    return Take(wave / np.abs(wave).max() * 0.7, phrase.seconds, pitches)
