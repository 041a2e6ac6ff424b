"""How well clues are heard: precision and recall of each kind, on the guide and on sampled guitars.

    python -m tests.benchmarks.hearing [phrases] [first seed]

Four sets, each at 6 to 16 notes a second: the guide, clean and through an amplifier, which rewards its maker;
sampled guitars whose slurs are notes entered without their attack, with open strings that ring on; sampled
guitars with all kinds, played by pitch wheel (`sampled_gestures`). The weights of `hear` were fitted on seeds
from 1000 (`hearing_fit`), so figures belong to seeds below.
"""

import sys
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from pipeline.errors import Faulty
from pipeline.music.note import Harmonic, Note
from pipeline.sound.align import align
from pipeline.sound.amp import amplified
from pipeline.sound.hearing import hear
from pipeline.sound.signal import Signal
from tests.benchmarks import sampled, sampled_gestures
from tests.benchmarks.guided import RATE, guided
from tests.benchmarks.phrases import Phrase, phrases, whole_bend

Truth = set[tuple[int, str]]
KINDS = ("slurred", "slide", "slip", "bend", "open", "pinched")


@dataclass(frozen=True)
class Played:
    """A phrase as it is played, as it is written (pitches and times only), and what there is to hear."""

    played: Phrase
    written: Phrase
    truth: Truth


Case = tuple[Signal, Played]


def decorated(phrase: Phrase, random: np.random.Generator) -> Played:
    """The phrase with bends, slides, slips, pinch harmonics and open strings put in."""
    notes, truth = list(phrase.fragment.notes), Truth()
    for number, note in enumerate(notes):
        changed, kinds = decorate(notes, number, note, random)
        if "open" in kinds and not leaves(notes, number):
            kinds = ()
        notes[number] = changed
        truth |= {(number, kind) for kind in kinds}
    played = replace(phrase, fragment=phrase.fragment.with_notes(notes))
    plain = [note.but(attack="pick", bend=(), harmonic=None, slide_in=None) for note in notes]
    plain = [note.but(let_ring=False, vibrato="none") for note in plain]
    return Played(played, replace(phrase, fragment=phrase.fragment.with_notes(plain)), truth)


def decorate(
    notes: list[Note], number: int, note: Note, random: np.random.Generator
) -> tuple[Note, tuple[str, ...]]:
    """The note, changed or not, and the kinds of clue that it now gives."""
    last = notes[number - 1] if number else None
    dice = random.random()
    same = last is not None and last.string == note.string
    if note.attack in ("hammer", "pull"):
        if dice < 0.25 and last and abs((note.pitch or 0) - (last.pitch or 0)) >= 2:
            return note.but(attack="slide"), ("slide", "slurred")
        return note, ("slurred",)
    if same and last and last.fret == note.fret and last.attack == "pick" and dice < 0.3:
        return note.but(slide_in="below"), ("slip",)
    if note.fret == 0 and note.string is not None:
        return note.but(let_ring=True), ("open",)
    if note.duration > Fraction(1, 4) and dice < 0.5:
        return note.but(bend=whole_bend(2 if dice < 0.25 else 1)), ("bend",)
    if note.duration > Fraction(1, 4) and dice < 0.75:
        return note.but(vibrato="wide" if dice < 0.625 else "narrow"), ()
    if dice > 0.93:
        return note.but(harmonic=Harmonic("pinch", int(random.integers(3, 7)))), ("pinched",)
    return note, ()


def leaves(notes: list[Note], number: int) -> bool:
    """Whether the next note lies on another string, so that an open one can be heard to ring on."""
    return number + 1 < len(notes) and notes[number + 1].string != notes[number].string


def opened(phrase: Phrase) -> Phrase:
    """The phrase moved down the neck until its lowest fret is open."""
    low = min(note.fret or 0 for note in phrase.fragment.notes)
    notes = [n.but(fret=(n.fret or 0) - low, pitch=(n.pitch or 0) - low) for n in phrase.fragment.notes]
    return replace(phrase, fragment=phrase.fragment.with_notes(notes))


def decorated_phrases(count: int, first: int) -> Iterator[tuple[int, Played, np.random.Generator]]:
    """Seeds, decorated phrases and what is left of their chance; every second phrase has open strings."""
    for number, phrase in enumerate(phrases(count, first, 0.5)):
        random = np.random.default_rng(first + number)
        yield first + number, decorated(opened(phrase) if number % 2 else phrase, random), random


def by_guide(count: int, first: int) -> Iterator[Case]:
    """Decorated phrases on the guide."""
    for _, case, random in decorated_phrases(count, first):
        yield signal_of(guided(case.played, False, random)), case


def by_amplifier(count: int, first: int) -> Iterator[Case]:
    """The same through an amplifier, from nearly clean to driven hard."""
    for seed, case, random in decorated_phrases(count, first):
        signal = signal_of(guided(case.played, False, random))
        yield amplified(signal, drive=random.uniform(3.0, 20.0), seed=seed), case


def by_gestures(count: int, first: int) -> Iterator[Case]:
    """The same on sampled guitars, played by pitch wheel. Nothing is slurred from a pinch harmonic there, for
    one key press cannot sound both."""
    for number, (_, case, random) in enumerate(decorated_phrases(count, first)):
        case = unpinched(case)
        yield signal_of(sampled_gestures.perform(case.played, *bank_of(number), random)), case


def bank_of(number: int) -> tuple[Path, int]:
    """Every guitar of every bank in turn."""
    fonts = sampled.available()
    return fonts[number % len(fonts)], sampled.PROGRAMS[number // len(fonts) % 6]


def unpinched(case: Played) -> Played:
    """A case whose pinch harmonics that lead to a slurred note are plain."""
    notes = list(case.played.fragment.notes)
    before_slurs = {n for n, note in enumerate(notes[1:]) if note.attack in sampled_gestures.SLURRED}
    plain = [note.but(harmonic=None) if n in before_slurs else note for n, note in enumerate(notes)]
    truth = {(n, kind) for n, kind in case.truth if kind != "pinched" or n not in before_slurs}
    return Played(replace(case.played, fragment=case.played.fragment.with_notes(plain)), case.written, truth)


def by_samples(count: int, first: int) -> Iterator[Case]:
    """Slurred phrases on sampled guitars."""
    for number, phrase in enumerate(phrases(count, first, 0.5)):
        random, bank = np.random.default_rng(first + number), sampled.bank(*bank_of(number))
        phrase = opened(phrase) if number % 2 else phrase
        notes = phrase.fragment.notes
        rings = {n for n, note in enumerate(notes) if note.fret == 0 and leaves(list(notes), n)}
        wave = sampled.perform(phrase, bank, [0.3 if n in rings else 0.0 for n in range(len(notes))], random)
        truth = {(n, "slurred") for n, note in enumerate(notes) if note.attack != "pick"}
        truth |= {(n, "open") for n in rings}
        plain = phrase.fragment.with_notes(note.but(attack="pick") for note in phrase.fragment.notes)
        yield signal_of(wave), Played(phrase, replace(phrase, fragment=plain), truth)


def signal_of(wave: np.ndarray) -> Signal:
    """A mono signal of a wave (n,)."""
    return Signal(wave.astype(np.float32)[:, None], RATE)


def tally(cases: Iterator[Case], least: float = 0.5) -> dict[str, Counter[str]]:
    """Hits, false alarms and misses of each kind, among clues of at least a strength."""
    out = {kind: Counter[str]() for kind in KINDS}
    for signal, case in cases:
        fragment = case.written.fragment
        try:
            clues = hear(signal, fragment, align(signal, fragment))
        except Faulty as fault:
            print(f"    refused: {fault}")
            continue
        found = {(clue.note, clue.kind) for clue in clues if clue.strength >= least}
        for kind in KINDS:
            there, said = ({n for n, k in pairs if k == kind} for pairs in (case.truth, found))
            out[kind] += Counter(hit=len(there & said), false=len(said - there), missed=len(there - said))
    return out


def lines(counts: dict[str, Counter[str]]) -> Iterator[str]:
    """A line a kind."""
    for kind, count in counts.items():
        said, there = count["hit"] + count["false"], count["hit"] + count["missed"]
        if said or there:
            precision, recall = count["hit"] / max(1, said), count["hit"] / max(1, there)
            yield f"{kind:10s} precision {precision:6.1%}  recall {recall:6.1%}  of {there}, said {said}"


SETS: dict[str, Callable[[int, int], Iterator[Case]]] = {
    "own strings": by_guide,
    "own strings, amplified": by_amplifier,
    "sampled guitars": by_samples,
    "sampled guitars, by wheel": by_gestures,
}


def sets_here() -> dict[str, Callable[[int, int], Iterator[Case]]]:
    """The sets that can be played on this machine."""
    return {name: play for name, play in SETS.items() if name.startswith("own") or sampled.available()}


def main() -> None:
    """All sets."""
    count, first = (int(given) for given in (*sys.argv[1:], *("30", "0")[len(sys.argv) - 1 :]))
    for name, play in sets_here().items():
        print(f"{name}\n" + "\n".join(lines(tally(play(count, first)))), flush=True)


if __name__ == "__main__":
    main()
