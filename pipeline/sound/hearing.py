"""Clues that can be heard in an aligned clip, each with its strength, offered and never imposed.

What a kind means stands in `pipeline.music.clues`. The measures and the strengths they give were set on
seeded phrases (tests/benchmarks/hearing.py, which reports precision and recall on others); on a recording
of a band, or under heavy distortion, they are hints. None reaches 1: a heard clue never forbids a reading.
"""

from collections.abc import Iterator

from pipeline.music.fragment import ClueMark, Fragment
from pipeline.music.note import Note
from pipeline.sound.align import Alignment
from pipeline.sound.hearing_evidence import EVIDENCE, Heard
from pipeline.sound.hearing_partials import Spoken
from pipeline.sound.hearing_traits import Traits, traits_of
from pipeline.sound.hearing_weights import WEIGHTS
from pipeline.sound.onsets import mono
from pipeline.sound.signal import Signal

HIGHEST = 0.9
"""The most that a clue by ear may weigh."""
LEAST = 0.3
"""Clues weaker than this are not offered."""
SURE_OF_START = 0.5
"""Confidence of the alignment under which nothing is said of a note."""
CLEAR_ATTACK = 0.8
MORE_LIKELY = 0.5
"""The strength from which a clue is more likely true than not, by the fit."""


def hear(signal: Signal, fragment: Fragment, alignment: Alignment) -> tuple[ClueMark, ...]:
    """The clues heard in a clip of which every note's moment is known, by note and kind.

    Chords, grace, tied and dead notes are passed over, and so are notes whose start is doubtful.
    """
    clues = [clue for heard in heard_notes(signal, fragment, alignment) for clue in clues_of(heard)]
    return tuple(sorted(clues, key=lambda clue: (clue.note, clue.kind)))


def heard_notes(signal: Signal, fragment: Fragment, alignment: Alignment) -> list[Heard]:
    """Every note that stands alone, with its traits."""
    numbers = [chord[0] for chord in fragment.chords if len(chord) == 1]
    numbers = in_order([n for n in numbers if stands_alone(fragment.notes[n])], alignment)
    if not numbers:
        return []
    notes = [fragment.notes[n] for n in numbers]
    traits = traits_of(mono(signal.samples), signal.rate, [spoken(n, fragment, alignment) for n in numbers])
    moved = [False, *(trait.reaches > 0 or pinched(trait) for trait in traits[:-1])]
    strings = {fragment.guitar.open_pitch(s + 1) for s in range(fragment.guitar.string_count)}
    opens = [note.pitch in strings for note in notes]
    pairs = zip(numbers, notes, [None, *notes[:-1]], traits, moved, opens, strict=True)
    return [Heard(*pair) for pair in pairs if placed(alignment, pair[0])]


def in_order(numbers: list[int], alignment: Alignment) -> list[int]:
    """The notes that start after the one before them."""
    moments = [alignment.moments[n] for n in numbers]
    return [n for i, n in enumerate(numbers) if i == 0 or moments[i] > moments[i - 1]]


def spoken(number: int, fragment: Fragment, alignment: Alignment) -> Spoken:
    """A note in the clip: it ends where anything else starts, and the last one by its length."""
    note, start = fragment.notes[number], float(alignment.moments[number])
    later = [float(moment) for moment in alignment.moments if moment > alignment.moments[number]]
    due = start + float(note.duration) * pace(fragment, alignment)
    return Spoken(start, min(later, default=due), float(note.sounding or 0.0), due)


def pace(fragment: Fragment, alignment: Alignment) -> float:
    """Seconds a beat, as it is played."""
    return 60.0 / float(fragment.tempo) * alignment.slower


def placed(alignment: Alignment, number: int) -> bool:
    """Whether a note's start is known: its confidence says so, or a clear attack, or both its neighbours do.

    A bend or a pinch harmonic is not heard at the height that is written, so its confidence is low.
    """
    sure = [confidence >= SURE_OF_START for confidence in alignment.confidence]
    between = all(sure[max(0, number - 1) : number] + sure[number + 1 : number + 2])
    return sure[number] or alignment.heights[number] >= CLEAR_ATTACK or (between and len(sure) > 2)


def stands_alone(note: Note) -> bool:
    """Whether a note has a height and a start of its own."""
    return note.pitch is not None and not note.dead and not note.grace and note.attack != "tie"


def clues_of(heard: Heard) -> Iterator[ClueMark]:
    """What is heard of one note.

    A pinch harmonic's height says nothing of bends and slides; a slide is told only where no stroke is.
    """
    strengths = {
        kind: strength_of(WEIGHTS[kind].chance(measured))
        for kind, measure in EVIDENCE.items()
        if (measured := measure(heard)) is not None
    }
    alone, struck = pinched(heard.traits), strengths.get("slurred", 0.0) < LEAST
    for kind, strength in strengths.items():
        ruled_out = (alone and kind != "pinched") or (struck and kind == "slide")
        if strength >= LEAST and not ruled_out:
            yield ClueMark(heard.number, kind, value_of(kind, heard.traits), strength)


def pinched(traits: Traits) -> bool:
    """Whether a note is more likely a pinch harmonic than not."""
    return strength_of(WEIGHTS["pinched"].chance((traits.bare,))) >= MORE_LIKELY


def value_of(kind: str, traits: Traits) -> str:
    """What is said with a clue: a pinch harmonic's partial, a bend's semitones."""
    values = {"pinched": str(traits.pinch), "bend": f"{traits.bent.semitones:g}"}
    return values.get(kind, "")


def strength_of(chance: float) -> float:
    """The strength of a clue that is true with this chance."""
    return round(HIGHEST * chance, 2)
