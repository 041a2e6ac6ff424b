"""Scales from intervals: steps, modes by rotation, and the class of a set of pitches.

A pitch class is a MIDI note modulo 12. Parents are given by their steps in semitones and modes are
rotations of them, so nothing here is a table of fingerings or of note names. The class of a set is its
prime form (A. Forte, The Structure of Atonal Music, 1973): the same for every transposition and inversion.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate

from pipeline.music.pitch import pitch_class_name

_PARENTS: dict[tuple[int, ...], tuple[str, ...]] = {
    (2, 2, 1, 2, 2, 2, 1): (
        "ionian",
        "dorian",
        "phrygian",
        "lydian",
        "mixolydian",
        "aeolian",
        "locrian",
    ),
    (2, 1, 2, 2, 1, 3, 1): ("harmonic minor", "", "", "", "phrygian dominant", "", ""),
    (2, 1, 2, 2, 2, 2, 1): ("melodic minor", "", "", "lydian dominant", "", "", "altered"),
    (3, 2, 2, 3, 2): ("minor pentatonic", "major pentatonic", "", "", ""),
    (3, 2, 1, 1, 3, 2): ("blues", "", "", "", "", ""),
    (2, 2, 2, 2, 2, 2): ("whole tone", "", "", "", "", ""),
    (2, 1, 2, 1, 2, 1, 2, 1): ("whole-half octatonic", "half-whole octatonic", "", "", "", "", "", ""),
}


@dataclass(frozen=True)
class Scale:
    """A scale by its steps in semitones, from the tonic up to the octave."""

    name: str
    steps: tuple[int, ...]

    @property
    def intervals(self) -> tuple[int, ...]:
        """Semitones of each degree above the tonic, 0 first."""
        return (0, *accumulate(self.steps[:-1]))

    def mode(self, degree: int, name: str = "") -> "Scale":
        """The same notes counted from another degree (1 is the scale itself)."""
        turn = degree - 1
        return Scale(name or f"{self.name} from {degree}", self.steps[turn:] + self.steps[:turn])

    def classes(self, tonic: int) -> tuple[int, ...]:
        """Pitch classes of the scale on a tonic (a MIDI note or a pitch class), tonic first."""
        return tuple((tonic + interval) % 12 for interval in self.intervals)

    def degree(self, tonic: int, note: int) -> int | None:
        """The degree (from 1) that a MIDI note is, None where the scale has it not."""
        classes = self.classes(tonic)
        return classes.index(note % 12) + 1 if note % 12 in classes else None

    def notes(self, tonic: int, low: int, high: int) -> tuple[int, ...]:
        """MIDI notes of the scale from `low` to `high`, both included."""
        classes = set(self.classes(tonic))
        return tuple(note for note in range(low, high + 1) if note % 12 in classes)


def _named() -> dict[str, Scale]:
    found = {}
    for steps, names in _PARENTS.items():
        parent = Scale(names[0], steps)
        for degree, name in enumerate(names, 1):
            if name:
                found[name] = parent.mode(degree, name)
    return found


SCALES: dict[str, Scale] = _named()
"""Every scale that has a name here."""


def set_class(classes: Iterable[int]) -> tuple[int, ...]:
    """The prime form of a set of pitch classes: one for all its transpositions and inversions."""
    members = {pitch % 12 for pitch in classes}
    return min(_packed(members), _packed({-pitch % 12 for pitch in members}))


def transposed_class(classes: Iterable[int]) -> tuple[int, ...]:
    """The same for transpositions only: it tells a set from its inversion."""
    return _packed({pitch % 12 for pitch in classes})


def _packed(members: set[int]) -> tuple[int, ...]:
    """The rotation of a set that is packed most closely to the left, moved to 0.

    It is the one with the least span, then with the least last-but-one interval, and so on downwards
    (Rahn's rule; set classes are the same as by Forte's).
    """
    ordered = sorted(members)
    turns = (ordered[i:] + ordered[:i] for i in range(len(ordered)))
    moved = (tuple((pitch - turn[0]) % 12 for pitch in turn) for turn in turns)
    return min(moved, key=lambda form: form[::-1], default=())


def complement(classes: Iterable[int]) -> tuple[int, ...]:
    """The pitch classes that a set leaves out."""
    members = {pitch % 12 for pitch in classes}
    return tuple(pitch for pitch in range(12) if pitch not in members)


def scales_holding(notes: Iterable[int]) -> tuple[tuple[str, str], ...]:
    """Every named scale, on any tonic, that has all the notes: (tonic, scale), fewest tones first."""
    classes = {note % 12 for note in notes}
    found = [
        (len(scale.steps), tonic, name)
        for name, scale in SCALES.items()
        for tonic in range(12)
        if classes <= set(scale.classes(tonic))
    ]
    return tuple((pitch_class_name(tonic), name) for _, tonic, name in sorted(found))
