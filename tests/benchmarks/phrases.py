"""Invented phrases with a known moment for every note: what the benchmarks and the tests of sound play.

Everything follows from a seed. A phrase is a fragment as a lesson would hold it, and the seconds at which
a player with human timing set each note sounding, which the fragment does not know.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Attack, BendPoint, Note

Place = tuple[int, int]
"""A string and a fret."""
SCALES = ((0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10), (0, 3, 5, 7, 10), (0, 2, 3, 5, 7, 8, 11))


@dataclass(frozen=True)
class Phrase:
    """A fragment, and the second of the recording at which each note truly starts."""

    fragment: Fragment
    seconds: tuple[float, ...]
    length: float
    """Seconds of the whole recording, silence included."""


def scale_places(random: np.random.Generator, guitar: Guitar) -> list[Place]:
    """Places of a scale across the neck from low to high, two or three notes a string."""
    steps = SCALES[random.integers(len(SCALES))]
    root, low = int(random.integers(12)), int(random.integers(1, 10))
    places: list[Place] = []
    for string in range(guitar.string_count, 0, -1):
        frets = [f for f in range(low, low + 5) if (guitar.pitch(string, f) - root) % 12 in steps]
        rising = [f for f in frets if not places or guitar.pitch(string, f) > guitar.pitch(*places[-1])]
        places += [(string, fret) for fret in rising]
    return places


def run(places: list[Place], count: int, random: np.random.Generator) -> list[Place]:
    """Up and down the scale from somewhere."""
    ladder = places + places[-2:0:-1]
    start = int(random.integers(len(ladder)))
    return [ladder[(start + i) % len(ladder)] for i in range(count)]


def fours(places: list[Place], count: int, random: np.random.Generator) -> list[Place]:
    """Groups of four, each starting one scale step further."""
    start = int(random.integers(max(1, len(places) - 8)))
    return [places[(start + i // 4 + i % 4) % len(places)] for i in range(count)]


def pedal(places: list[Place], count: int, random: np.random.Generator) -> list[Place]:
    """One note kept between steps of the scale."""
    home = places[int(random.integers(len(places) // 2, len(places)))]
    walk = run(places, count, random)
    return [home if i % 2 else walk[i // 2] for i in range(count)]


def repeated(places: list[Place], count: int, random: np.random.Generator) -> list[Place]:
    """Each note two to four times."""
    walk, out = run(places, count, random), list[Place]()
    for place in walk:
        out += [place] * int(random.integers(2, 5))
    return out[:count]


def leaps(places: list[Place], count: int, random: np.random.Generator) -> list[Place]:
    """Skips over strings and thirds, never the same place twice in a row."""
    at, out = int(random.integers(len(places))), list[Place]()
    for _ in range(count):
        at = (at + int(random.choice((-4, -3, -2, 2, 3, 5)))) % len(places)
        out.append(places[at])
    return out


PATTERNS: tuple[Callable[[list[Place], int, np.random.Generator], list[Place]], ...] = (
    run,
    fours,
    pedal,
    repeated,
    leaps,
)


def durations(count: int, random: np.random.Generator) -> list[Fraction]:
    """Lengths in beats: mostly sixteenths, with a longer note here and there."""
    longer = random.random(count) < 0.08
    return [Fraction(1, 2) if long else Fraction(1, 4) for long in longer]


def attacks(places: list[Place], slurs: float, random: np.random.Generator) -> list[Attack]:
    """Hammered and pulled notes, where the note before lies on the same string at another fret."""
    out: list[Attack] = ["pick"]
    for (string, fret), (above, to) in pairwise(places):
        can = string == above and fret != to and random.random() < slurs
        out.append(("hammer" if to > fret else "pull") if can else "pick")
    return out


def make_phrase(seed: int, rate: float, count: int = 48, slurs: float = 0.0, silence: float = 0.6) -> Phrase:
    """A phrase of `count` notes at about `rate` notes a second, `slurs` of the slurrable notes slurred."""
    random = np.random.default_rng(seed)
    guitar = Guitar()
    places = PATTERNS[seed % len(PATTERNS)](scale_places(random, guitar), count, random)
    lengths, sets = durations(count, random), attacks(places, slurs, random)
    notes, onset = list[Note](), Fraction(0)
    for (string, fret), length, attack in zip(places, lengths, sets, strict=True):
        notes.append(Note(onset, length, guitar.pitch(string, fret), string, fret, attack=attack))
        onset += length
    bars = tuple(Measure(Fraction(4 * n), Fraction(4)) for n in range(-(-onset // 4)))
    fragment = Fragment(f"phrase {seed}", guitar, tuple(notes), bars, Fraction(round(rate * 15)))
    seconds = played(fragment, rate, random, silence)
    return Phrase(fragment, seconds, seconds[-1] + 1.2)


def played(fragment: Fragment, rate: float, random: np.random.Generator, silence: float) -> tuple[float, ...]:
    """Seconds of the onsets: a slowly wandering tempo, 5 ms of scatter, silence before."""
    steps = np.diff([float(note.onset) for note in fragment.notes]) * 4 / rate
    wander = np.cumsum(random.normal(0, 0.01, len(steps)))
    steps = steps * np.exp(np.clip(wander, -0.1, 0.1))
    moments = silence + np.concatenate(([0.0], np.cumsum(steps)))
    return tuple(float(m) for m in moments + np.clip(random.normal(0, 0.005, len(moments)), -0.012, 0.012))


def tempo_wrong(phrase: Phrase, by: float) -> Phrase:
    """The same phrase with the fragment's tempo `by` times the true one."""
    tempo = Fraction(round(float(phrase.fragment.tempo) * by))
    return replace(phrase, fragment=phrase.fragment.but(tempo=tempo))


def misread(phrase: Phrase, random: np.random.Generator, missing: bool) -> tuple[Phrase, list[int]]:
    """The tab with one note left out (the one after takes its time), or one note of a wrong pitch.

    Also returns the numbers of the notes that the tab still holds.
    """
    notes = list(phrase.fragment.notes)
    at = int(random.integers(4, len(notes) - 4))
    kept = [i for i in range(len(notes)) if not (missing and i == at)]
    if missing:
        notes[at - 1] = notes[at - 1].but(duration=notes[at - 1].duration + notes[at].duration)
        del notes[at]
    else:
        shift = int(random.choice((-2, -1, 1, 2)))
        notes[at] = notes[at].but(pitch=(notes[at].pitch or 0) + shift, string=None, fret=None)
    seconds = tuple(phrase.seconds[i] for i in kept)
    return replace(phrase, fragment=phrase.fragment.with_notes(notes), seconds=seconds), kept


def whole_bend(semitones: int) -> tuple[BendPoint, ...]:
    """Up from the fretted pitch in the first third, then held."""
    return (BendPoint(Fraction(0), Fraction(0)), BendPoint(Fraction(1, 3), Fraction(semitones)))


def phrases(
    count: int, first: int, slurs: float = 0.0, slowest: float = 6.0, fastest: float = 16.0
) -> Iterator[Phrase]:
    """Phrases of 6 to 16 notes a second, one seed after the other."""
    for number in range(count):
        rate = slowest + (fastest - slowest) * number / max(1, count - 1)
        yield make_phrase(first + number, rate, slurs=slurs)
