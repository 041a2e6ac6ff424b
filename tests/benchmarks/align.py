"""How well `align` finds notes: on sampled guitars that are not ours, and on our own guide.

    python -m tests.benchmarks.align [phrases a condition] [first seed]

Phrases of 48 notes at 6 to 16 notes a second; the fragment's tempo is wrong by up to 15 %, or by 30 % where
the condition says so. Seeds from 1000 on were never tuned on; those from 0 to 211 were, on the same guitars.
Error is found minus true, in ms. The shares within 20 and 50 ms and the karaoke score are mir_eval's
(mir_eval.alignment, Raffel et al. 2014; Lizé Masclef et al. 2021). Figures to beat, of a prototype: clean 1.8
ms, 92 % within 20 ms, 97 % within 50 ms; ringing or slurred 71 to 83 % within 20 ms; under a band 78 %.
`risen` is the share within 20 ms of the moment at which the key of that bank, rendered alone, has come to
half its height, beside the stricter truth of a tenth: attacks swell for up to 40 ms. `chain` is what aligning
and stretching to 25 % together leave between the note that is heard and the note that is shown, in ms of the
excerpt (a frame of 25 a second lasts 40).
"""

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from time import perf_counter

import mir_eval
import numpy as np
import numpy.typing as npt

from pipeline.errors import Faulty
from pipeline.music.fragment import Fragment
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
    risen: tuple[float, ...]


@dataclass(frozen=True)
class Outcome:
    """What one case gave: true and found seconds, confidences, chain errors in seconds of the excerpt.

    `risen` are the later true seconds, at which each note has come to half its height.
    """

    true: Wave
    risen: Wave
    found: Wave
    sure: Wave
    chain: Wave
    guitar: str
    spent: float


Player = Callable[[Phrase, str, int, np.random.Generator], Case]


def by_samples(phrase: Phrase, condition: str, number: int, random: np.random.Generator) -> Case:
    """The phrase on the next guitar of the next soundfont."""
    fonts = sampled.available()
    font, program = fonts[number % len(fonts)], sampled.PROGRAMS[number // len(fonts) % len(sampled.PROGRAMS)]
    notes, ring = sampled.bank(font, program), 0.25 if condition == "ringing" else 0.0
    wave = sampled.perform(phrase, notes, ring, random)
    return Case(wave, phrase, f"{font.stem} {program}", sampled.risen(phrase, notes))


def by_guide(phrase: Phrase, condition: str, number: int, random: np.random.Generator) -> Case:
    """The phrase on our own guide, whose attacks are sudden."""
    return Case(guided(phrase, condition == "ringing", random), phrase, "guide", phrase.seconds)


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
        case = player(phrase, condition, number, random)
        wave = disturbed(case.wave, phrase, condition, random)
        by = (0.7, 1.3)[number % 2] if condition == "tempo 30 %" else float(random.uniform(0.85, 1.15))
        if condition in ("wrong note", "missing note"):
            case = misread_case(case, random, condition == "missing note")
        yield replace(case, wave=wave, phrase=tempo_wrong(case.phrase, by))


def misread_case(case: Case, random: np.random.Generator, missing: bool) -> Case:
    """The same recording with a tab that has one note wrong or missing."""
    phrase, kept = misread(case.phrase, random, missing)
    return replace(case, phrase=phrase, risen=tuple(case.risen[i] for i in kept))


def measured(case: Case) -> Outcome:
    """One case aligned; a refusal counts as every note missed by a second."""
    true, risen, began = np.array(case.phrase.seconds), np.array(case.risen), perf_counter()
    signal = Signal(case.wave.astype(np.float32)[:, None], RATE)
    try:
        alignment = align(signal, case.phrase.fragment)
    except Faulty as fault:
        print(f"    refused: {fault}")
        lost = np.zeros(len(true))
        return Outcome(true, risen, true + 1.0, lost, lost + 4.0, case.guitar, perf_counter() - began)
    spent = perf_counter() - began
    found, sure = np.array([float(moment) for moment in alignment.moments]), np.array(alignment.confidence)
    return Outcome(true, risen, found, sure, chain_error(case, alignment), case.guitar, spent)


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
    risen = np.mean([mir_eval.alignment.percentage_correct(o.risen, o.found, 0.02) for o in outcomes])
    karaoke = np.mean([mir_eval.alignment.karaoke_perceptual_metric(o.true, o.found) for o in outcomes])
    return (
        f"{name:16s} {1e3 * np.median(np.abs(errors)):7.1f} {1e3 * np.median(errors):+6.1f} {shares[0]:8.1%} "
        f"{shares[1]:8.1%} {risen:8.1%} {karaoke:8.3f} {1e3 * np.median(chain):8.1f} {late:8.1f} "
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


def moved(fragment: Fragment, semitones: int) -> Fragment:
    """The fragment at another pitch."""
    return fragment.with_notes(note.but(pitch=(note.pitch or 0) + semitones) for note in fragment.notes)


def mirrored(fragment: Fragment) -> Fragment:
    """The fragment's pitches in reverse order: nearly right where it goes up and down or keeps a note."""
    pitches = [note.pitch for note in reversed(fragment.notes)]
    return fragment.with_notes(n.but(pitch=pitch) for n, pitch in zip(fragment.notes, pitches, strict=True))


def refused(case: Case, fragment: Fragment) -> bool:
    """Whether the aligner says that the fragment is not in the clip."""
    try:
        align(Signal(case.wave.astype(np.float32)[:, None], RATE), fragment)
    except Faulty:
        return True
    return False


def swapped(player: Player, count: int, first: int, condition: str) -> str:
    """How many wrong fragments are refused: another phrase, the right one a semitone up and down; and how
    many of those with its notes in reverse order."""
    rows = list(cases(condition, player, count, first))
    told, back = list[bool](), list[bool]()
    for number, case in enumerate(rows):
        right, other = case.phrase.fragment, rows[(number + 2) % len(rows)].phrase.fragment
        told += [refused(case, wrong) for wrong in (other, moved(right, 1), moved(right, -1))]
        back.append(refused(case, mirrored(right)))
    reverse = f"notes in reverse: {sum(back)} of {len(back)}"
    return f"wrong fragments refused, {condition}: {sum(told)} of {len(told)}; {reverse}"


def report(title: str, player: Player, count: int, first: int) -> None:
    """The table of one set."""
    columns = "  median   bias  <=20 ms  <=50 ms    risen  karaoke   chain: median, 95 %  s each"
    print(f"\n{title}\n{'':16s}{columns}")
    everything: list[Outcome] = []
    for condition in CONDITIONS:
        outcomes = [measured(case) for case in cases(condition, player, count, first)]
        print(row(condition, outcomes), flush=True)
        everything += outcomes
    for guitar in sorted({o.guitar for o in everything}):
        print(row("  " + guitar.replace("_GM", ""), [o for o in everything if o.guitar == guitar]))
    print("\n".join(reliability(everything)))
    print(f"right fragments refused: {sum(not o.sure.any() for o in everything)} of {len(everything)}")
    for condition in ("clean", "ringing", "band"):
        print(swapped(player, count, first, condition), flush=True)


def main() -> None:
    """Both sets; the sampled one needs fluidsynth and a soundfont."""
    count, first = (int(given) for given in (*sys.argv[1:], *("12", "1000")[len(sys.argv) - 1 :]))
    if sampled.available():
        fonts = ", ".join(Path(f).stem for f in sampled.available())
        report(f"sampled guitars ({fonts}), seeds from {first}", by_samples, count, first)
    else:
        print("sampled guitars: fluidsynth or its soundfonts are not here")
    report(f"own guide, seeds from {first}", by_guide, count, first)


if __name__ == "__main__":
    main()
