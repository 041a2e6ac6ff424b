"""How well `align` finds notes: on sampled guitars that are not ours, and on our own guide.

    python -m tests.benchmarks.align [phrases a condition]

Phrases of 48 notes at 6 to 16 notes a second; the fragment's tempo is wrong by up to 15 %, or by 30 % where
the condition says so. Error is found minus true, in ms. The shares within 20 and 50 ms and the karaoke
score are mir_eval's (mir_eval.alignment, Raffel et al. 2014; Lizé Masclef et al. 2021). Figures to beat, of a
prototype: clean 1.8 ms, 92 % within 20 ms, 97 % within 50 ms; ringing or slurred 71 to 83 % within 20 ms;
under a band 78 %. `chain` is what aligning and stretching to 25 % together leave between the note that is
heard and the note that is shown, in ms of the excerpt (a frame of 25 a second lasts 40).
"""

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from time import perf_counter

import mir_eval
import numpy as np
import numpy.typing as npt

from pipeline.errors import Faulty
from pipeline.sound.align import Alignment, align
from pipeline.sound.align_marks import anchors_of
from pipeline.sound.signal import Signal
from pipeline.sound.slowmap import stretch_map
from pipeline.timing import Span
from tests.benchmarks import sampled
from tests.benchmarks.guided import guided
from tests.benchmarks.phrases import Phrase, misread, phrases, tempo_wrong

RATE = sampled.RATE
Wave = npt.NDArray[np.float64]
CONDITIONS = ("clean", "ringing", "slurred", "noisy", "band", "tempo 30 %", "wrong note", "missing note")
NOISE_DB = -12.0
SPEED = Fraction(1, 4)


@dataclass(frozen=True)
class Case:
    """A recording, the phrase whose fragment is looked for in it, and the guitar."""

    wave: Wave
    phrase: Phrase
    guitar: str


@dataclass(frozen=True)
class Outcome:
    """What one case gave: true and found seconds, confidences, chain errors in seconds of the excerpt."""

    true: Wave
    found: Wave
    sure: Wave
    chain: Wave
    guitar: str
    spent: float


Player = Callable[[Phrase, str, int, np.random.Generator], tuple[Wave, str]]


def by_samples(phrase: Phrase, condition: str, number: int, random: np.random.Generator) -> tuple[Wave, str]:
    """The phrase on the next guitar of the next soundfont."""
    fonts = sampled.available()
    font, program = fonts[number % len(fonts)], sampled.PROGRAMS[number // len(fonts) % len(sampled.PROGRAMS)]
    ring = 0.25 if condition == "ringing" else 0.0
    return sampled.perform(phrase, sampled.bank(font, program), ring, random), f"{font.stem} {program}"


def by_guide(phrase: Phrase, condition: str, number: int, random: np.random.Generator) -> tuple[Wave, str]:
    """The phrase on our own guide."""
    return guided(phrase, condition == "ringing", random), "guide"


def disturbed(wave: Wave, phrase: Phrase, condition: str, random: np.random.Generator) -> Wave:
    """Noise with mains hum at `NOISE_DB`, or a band as loud as the guitar, where the condition says so."""
    loud = float(np.sqrt(np.mean(wave**2)))
    if condition == "noisy":
        hum = np.sin(2 * np.pi * 50 * np.arange(len(wave)) / RATE)
        return np.asarray(wave + loud * (random.normal(0, 10 ** (NOISE_DB / 20), len(wave)) + 0.2 * hum))
    if condition == "band" and sampled.available():
        band = sampled.band(phrase, sampled.available()[0], random)
        return np.asarray(wave + band * loud / np.sqrt(np.mean(band**2)))
    return wave


def cases(condition: str, player: Player, count: int, first: int = 0) -> Iterator[Case]:
    """The cases of a condition, from seeds alone."""
    for number, phrase in enumerate(phrases(count, first, 0.6 if condition == "slurred" else 0.0)):
        random = np.random.default_rng(number)
        wave, guitar = player(phrase, condition, number, random)
        wave = disturbed(wave, phrase, condition, random)
        by = (0.7, 1.3)[number % 2] if condition == "tempo 30 %" else float(random.uniform(0.85, 1.15))
        if condition in ("wrong note", "missing note"):
            phrase = misread(phrase, random, condition == "missing note")[0]
        yield Case(wave, tempo_wrong(phrase, by), guitar)


def measured(case: Case) -> Outcome:
    """One case aligned; a refusal counts as every note missed by a second."""
    true, began = np.array(case.phrase.seconds), perf_counter()
    signal = Signal(case.wave.astype(np.float32)[:, None], RATE)
    try:
        alignment = align(signal, case.phrase.fragment)
    except Faulty as fault:
        print(f"    refused: {fault}")
        return Outcome(
            true, true + 1.0, np.zeros(len(true)), true * 0 + 4.0, case.guitar, perf_counter() - began
        )
    spent = perf_counter() - began
    found = np.array([float(moment) for moment in alignment.moments])
    return Outcome(
        true, found, np.array(alignment.confidence), chain_error(case, alignment), case.guitar, spent
    )


def chain_error(case: Case, alignment: Alignment) -> Wave:
    """Where the picture shows each note, less where the stretched sound has it, in seconds of the excerpt."""
    anchors, loose = anchors_of(alignment, case.phrase.fragment)
    span = Span("clip", Fraction(0), Fraction(len(case.wave), RATE))
    to_excerpt = stretch_map(span, SPEED, anchors, loose, RATE)
    pairs = zip(alignment.moments, case.phrase.seconds, strict=True)
    return np.array([float(to_excerpt(found) - to_excerpt(Fraction(true))) for found, true in pairs])


def row(name: str, outcomes: list[Outcome]) -> str:
    """One line of the report."""
    errors = np.concatenate([o.found - o.true for o in outcomes])
    chain = np.abs(np.concatenate([o.chain for o in outcomes]))
    shares = [share_within(outcomes, window) for window in (0.02, 0.05)]
    late = 1e3 * np.percentile(chain, 95)
    karaoke = np.mean([mir_eval.alignment.karaoke_perceptual_metric(o.true, o.found) for o in outcomes])
    return (
        f"{name:16s} {1e3 * np.median(np.abs(errors)):7.1f} {1e3 * np.median(errors):+6.1f} {shares[0]:8.1%} "
        f"{shares[1]:8.1%} {karaoke:8.3f} {1e3 * np.median(chain):8.1f} {late:8.1f} "
        f"{np.mean([o.spent for o in outcomes]):6.2f}"
    )


def share_within(outcomes: list[Outcome], window: float) -> float:
    """mir_eval's share of notes within a window of seconds, over all cases (each has about as many notes)."""
    return float(np.mean([mir_eval.alignment.percentage_correct(o.true, o.found, window) for o in outcomes]))


def reliability(outcomes: list[Outcome]) -> Iterator[str]:
    """Whether confidence means what it says: the share within 20 ms of the notes of each band."""
    sure = np.concatenate([o.sure for o in outcomes])
    hit = np.concatenate([np.abs(o.found - o.true) <= 0.02 for o in outcomes])
    for low, high in ((0.0, 0.25), (0.25, 0.5), (0.5, 0.75), (0.75, 0.9), (0.9, 1.01)):
        chosen = (sure >= low) & (sure < high)
        if chosen.any():
            share = hit[chosen].mean()
            yield f"    confidence {low:.2f} to {min(high, 1):.2f}: {share:6.1%} of {chosen.sum()}"


def swapped(player: Player, count: int) -> str:
    """How many of the wrong fragments are refused: another phrase's, and the right one a semitone up."""
    rows = list(cases("clean", player, count))
    refused = tried = 0
    for number, case in enumerate(rows):
        fragment = case.phrase.fragment
        up = fragment.with_notes(note.but(pitch=(note.pitch or 0) + 1) for note in fragment.notes)
        for wrong in (rows[(number + 2) % len(rows)].phrase.fragment, up):
            tried += 1
            try:
                align(Signal(case.wave.astype(np.float32)[:, None], RATE), wrong)
            except Faulty:
                refused += 1
    return f"wrong fragments refused: {refused} of {tried}"


def report(title: str, player: Player, count: int) -> None:
    """The table of one set."""
    print(f"\n{title}\n{'':16s}  median   bias  <=20 ms  <=50 ms  karaoke   chain: median, 95 %  s each")
    everything: list[Outcome] = []
    for condition in CONDITIONS:
        outcomes = [measured(case) for case in cases(condition, player, count)]
        print(row(condition, outcomes), flush=True)
        everything += outcomes
    for guitar in sorted({o.guitar for o in everything}):
        print(row("  " + guitar.replace("_GM", ""), [o for o in everything if o.guitar == guitar]))
    print("\n".join(reliability(everything)))
    print(swapped(player, count))


def main() -> None:
    """Both sets; the sampled one needs fluidsynth and a soundfont."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    if sampled.available():
        report(f"sampled guitars ({', '.join(Path(f).stem for f in sampled.available())})", by_samples, count)
    else:
        print("sampled guitars: fluidsynth or its soundfonts are not here")
    report("own guide", by_guide, count)


if __name__ == "__main__":
    main()
