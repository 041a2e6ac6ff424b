"""How well recordings are slowed: ours with and without onsets, and other permissive routes where installed.

    python -m tests.benchmarks.stretch [--phrases N] [--speeds 50 25] [--seed N]

Phrases of 6 to 16 notes a second and strummed chords with known onsets, played by the project's own strings
through its amplifier and, where fluidsynth is here, by sampled guitars that are not ours. Printed a route,
medians over all notes:

    onset   how many ms late what is most like a clear attack comes, and 95 % of its size
    copied  the per cent of clear attacks that are there bit for bit, and how many ms off 95 % of those are
    rise    how much longer that attack takes
    cents   the fundamental of the body (of the lowest note of a chord) against the source's
    tuned   the same of the pitch that explains all its partials
    level   the scatter of its level against the source's, in dB
    LSD     the distance of sixth-octave spectra at the mapped moment, in dB
    mean    the distance of the mean spectra of the whole body, in dB
    speed   times real time on one core

A route without onsets is given the constant delay that suits it best. The last tables hold ours against an
ideal (see `ideal`), and that against its source: what a measure says of a stretch without fault.
`--seed` moves all seeds, so that what is told is not what was tuned on.
Others: libtsm (MIT), python-stretch (MIT; Signalsmith), librosa (ISC); `pip install` them to see their lines.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from importlib.util import find_spec
from itertools import pairwise

import numpy as np

from pipeline.music.pitch import frequency
from tests.benchmarks import ideal, sampled
from tests.benchmarks.phrases import phrases
from tests.benchmarks.slow_measures import (
    RATE,
    Wave,
    attack,
    bands,
    copied,
    envelope,
    lateness,
    mean_bands,
    pitch_of,
    tuned,
)
from tests.benchmarks.slow_routes import ROUTES, Slowed, ours
from tests.benchmarks.slow_takes import (
    Take,
    chord_takes,
    chords,
    guitar,
    own_takes,
    sampled_takes,
    starts_of,
)

CLEAR = 0.003
"""A note whose steepest rise lies within so many seconds of its onset has a clear attack."""
WIDTH = 1024
MODELLED = 16
"""Notes of a phrase that are taken apart into partials, which takes a while."""


@dataclass
class Score:
    """What is gathered over all notes of all takes."""

    late: list[float] = field(default_factory=list)
    copied: list[float] = field(default_factory=list)
    """Milliseconds, not a number where an attack is not there bit for bit."""
    rise: list[float] = field(default_factory=list)
    cents: list[float] = field(default_factory=list)
    tuned: list[float] = field(default_factory=list)
    level: list[float] = field(default_factory=list)
    distance: list[float] = field(default_factory=list)
    mean: list[float] = field(default_factory=list)
    seconds: float = 0.0
    heard: float = 0.0


def judge(take: Take, slowed: Slowed, speed: Fraction, score: Score) -> None:
    """Compare each note of the output with the same note of the source."""
    out, moments = slowed
    slower = float(1 / speed)
    source_size, out_size = envelope(take.wave), envelope(out)
    for onset, after in pairwise(take.onsets):
        reach = round(min(0.02, (after - onset) * 0.4) * RATE)
        true, own_rise = attack(source_size, round(onset * RATE), reach)
        if abs(true - onset * RATE) < CLEAR * RATE:
            _, rise = attack(out_size, round(moments(onset) * RATE), round(reach * slower))
            score.rise.append(rise / own_rise)
            place = take.wave, onset, out, moments(onset), reach * slower
            score.late.append(lateness(*place) * 1000)
            exact = copied(*place)
            score.copied.append(np.nan if exact is None else exact * 1000)
    judge_bodies(take, (take.wave, lambda second: second), slowed, score)


def judge_bodies(take: Take, like: Slowed, slowed: Slowed, score: Score) -> None:
    """Compare the body of each note of the output with the same body of what it should be like."""
    for (onset, after), pitch in zip(pairwise(take.onsets), take.pitches, strict=False):
        note, hertz = after - onset, frequency(pitch)
        pair = [piece(each, onset + 0.3 * note, onset + 0.9 * note) for each in (like, slowed)]
        score.cents.append(cents(*(pitch_of(wave, hertz) for wave in pair)))
        score.tuned.append(cents(*(tuned(wave, hertz) for wave in pair)))
        wholes = [piece(each, onset + max(0.3 * note, 0.03), after - 0.006) for each in (like, slowed)]
        means = [mean_bands(wave, 2 * WIDTH if note > 0.09 else WIDTH) for wave in wholes]
        score.mean.append(apart(*means))
        _judge_moments(like, slowed, onset + np.linspace(0.45, 0.85, 9) * note, score)


def _judge_moments(like: Slowed, slowed: Slowed, seconds: Wave, score: Score) -> None:
    levels, distances = [], []
    for second in seconds:
        pairs = ((wave, round(moments(second) * RATE)) for wave, moments in (like, slowed))
        a, b = (wave[middle - WIDTH : middle + WIDTH] for wave, middle in pairs)
        levels.append(20 * np.log10((np.std(b) + 1e-9) / (np.std(a) + 1e-9)))
        distances.append(apart(bands(a), bands(b)))
    score.level.append(float(np.std(levels)))
    score.distance.append(float(np.median(distances)))


def piece(slowed: Slowed, first: float, last: float) -> Wave:
    wave, moments = slowed
    return wave[round(moments(first) * RATE) : round(moments(last) * RATE)]


def cents(a: float, b: float) -> float:
    return 1200 * float(np.log2(max(b, 1e-9) / max(a, 1e-9)))


def apart(a: Wave, b: Wave) -> float:
    return float(np.sqrt(np.mean((a - b) ** 2)))


HEADS = ("onset", "95 %", "copied", "95 %", "rise", "cents", "tuned", "level", "LSD", "mean", "speed")


def report(name: str, takes: list[Take], speed: Fraction) -> None:
    head(name, speed)
    for route, (play, module) in ROUTES.items():
        if find_spec(module) is None:
            continue
        score = Score()
        play(takes[0], speed)
        for take in takes:
            began = time.process_time()
            out, moments = play(take, speed)
            score.seconds += time.process_time() - began
            score.heard += len(take.wave) / RATE
            wanted = round(len(take.wave) / float(speed)) + RATE
            judge(take, (np.pad(out, (0, max(0, wanted - len(out)))), moments), speed, score)
        row(route, score)


def report_ideal(name: str, played: list[list[list[ideal.Played]]], speed: Fraction) -> None:
    """Ours, the source and the ideal of guitars that are taken apart into partials."""
    head(f"{name} in partials", speed)
    scores = {name: Score() for name in ("ideal against source", "ours against source", "ours against ideal")}
    for number, struck in enumerate(played):
        notes = [note for chord in struck for note in chord]
        count = round((notes[-1].start + 1.0) * RATE)
        wave = ideal.modelled(notes, *guitar(number), np.arange(count) / RATE)
        gain = 0.7 / np.abs(wave).max()
        take = Take(wave * gain, *starts_of(struck))
        out, moments = ours(take, speed)
        seconds = np.interp(np.arange(len(out)) / RATE, *curve_of(moments, count))
        best = ideal.modelled(notes, *guitar(number), seconds) * gain, moments
        straight_on = take.wave, float
        judge_bodies(take, straight_on, best, scores["ideal against source"])
        judge_bodies(take, straight_on, (out, moments), scores["ours against source"])
        judge_bodies(take, best, (out, moments), scores["ours against ideal"])
    for label, score in scores.items():
        row(label, score)


def curve_of(moments: Callable[[float], float], count: int) -> tuple[Wave, Wave]:
    """Seconds of the output and of the source, a pair every millisecond and at the end."""
    source = np.append(np.arange(0, count, RATE // 1000), count) / RATE
    return np.array([moments(float(second)) for second in source]), source


def head(name: str, speed: Fraction) -> None:
    print(f"\n{name}, {float(speed):.0%}")
    print(f"{'route':<24}" + "".join(f"{head:>8}" for head in HEADS))


def row(label: str, score: Score) -> None:
    print(f"{label:<24}" + "".join(f"{value:>8.2f}" for value in summary(score)), flush=True)


def summary(score: Score) -> tuple[float, ...]:
    late = np.array(score.late or [np.nan])
    exact = np.array(score.copied)
    there = np.abs(exact[~np.isnan(exact)])
    bodies = (score.cents, score.tuned, score.level, score.distance, score.mean)
    return (
        float(np.median(late)),
        float(np.percentile(np.abs(late), 95)),
        100 * len(there) / len(exact) if len(exact) else np.nan,
        float(np.percentile(there, 95)) if len(there) else np.nan,
        float(np.median(score.rise or [np.nan])),
        *(float(np.median(np.abs(values))) for values in bodies),
        score.heard / score.seconds if score.seconds else np.nan,
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--phrases", type=int, default=3)
    parser.add_argument("--speeds", type=int, nargs="+", default=[50, 25])
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    count, seed = options.phrases, options.seed
    speeds = [Fraction(percent, 100) for percent in options.speeds]
    kinds = {"own strings": own_takes, "sampled guitars": sampled_takes, "sampled chords": chord_takes}
    for name, takes in ((name, list(make(count, seed))) for name, make in kinds.items()):
        for speed in speeds if takes else ():
            report(name, takes, speed)
    lines = [
        [[note] for note in ideal.picked(phrase, np.random.default_rng(number))[:MODELLED]]
        for number, phrase in enumerate(phrases(count if sampled.available() else 0, 900 + seed))
    ]
    for name, played in {"lines": lines, "chords": list(chords(count, seed + 100))}.items():
        for speed in speeds if played else ():
            report_ideal(name, played, speed)


if __name__ == "__main__":
    main()
