"""How well clues are heard: precision and recall of each kind, on the guide and on sampled guitars.

    python -m tests.benchmarks.hearing [phrases]

The guide's phrases hold all kinds. The sampled ones, which are not ours, hold slurs (a note entered without
its attack) and open strings that ring on.
"""

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from pipeline.errors import Faulty
from pipeline.music.note import Harmonic, Note
from pipeline.sound.align import align
from pipeline.sound.hearing import hear
from pipeline.sound.signal import Signal
from tests.benchmarks import sampled
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
    plain = [note.but(let_ring=False) for note in plain]
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


def by_guide(count: int, first: int) -> Iterator[tuple[Signal, Played]]:
    """Decorated phrases on the guide, at 5 to 11 notes a second."""
    for number, phrase in enumerate(phrases(count, first, 0.5, 5.0, 11.0)):
        random = np.random.default_rng(first + number)
        case = decorated(opened(phrase) if number % 2 else phrase, random)
        wave = guided(case.played, False, random)
        yield Signal(wave.astype(np.float32)[:, None], RATE), case


def by_samples(count: int, first: int) -> Iterator[tuple[Signal, Played]]:
    """Slurred phrases on sampled guitars."""
    for number, phrase in enumerate(phrases(count, first, 0.5)):
        random, fonts = np.random.default_rng(first + number), sampled.available()
        bank = sampled.bank(fonts[number % len(fonts)], sampled.PROGRAMS[number // len(fonts) % 6])
        phrase = opened(phrase) if number % 2 else phrase
        notes = phrase.fragment.notes
        rings = {n for n, note in enumerate(notes) if note.fret == 0 and leaves(list(notes), n)}
        wave = sampled.perform(phrase, bank, [0.3 if n in rings else 0.0 for n in range(len(notes))], random)
        truth = {(n, "slurred") for n, note in enumerate(notes) if note.attack != "pick"}
        truth |= {(n, "open") for n in rings}
        plain = phrase.fragment.with_notes(note.but(attack="pick") for note in phrase.fragment.notes)
        yield (
            Signal(wave.astype(np.float32)[:, None], RATE),
            Played(phrase, replace(phrase, fragment=plain), truth),
        )


def tally(cases: Iterator[tuple[Signal, Played]], least: float = 0.5) -> dict[str, Counter[str]]:
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


def main() -> None:
    """Both sets."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    print("own guide\n" + "\n".join(lines(tally(by_guide(count, 0)))))
    if sampled.available():
        print("sampled guitars\n" + "\n".join(lines(tally(by_samples(count, 0)))))


if __name__ == "__main__":
    main()
