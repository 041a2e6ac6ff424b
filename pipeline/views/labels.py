"""What is written on a string for a note, and the few words that stand over and under the strings."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from pipeline.drawing.typeface import text_width
from pipeline.music.fragment import Fragment
from pipeline.music.note import Note
from pipeline.music.pitch import pitch_class_name

FACE = "bold"


@dataclass(frozen=True)
class Label:
    """What stands on a string for a note: parts with their brackets, or a cross."""

    parts: tuple[tuple[str, str], ...]
    dead: bool = False

    def width(self, size: float) -> float:
        if self.dead:
            return size * 0.5
        return sum(part_width(text, bracket, size) for text, bracket in self.parts)

    def shape(self, size: float) -> tuple[float, float]:
        """Width and height of the shape behind it: as tall as the digits want, never narrower than tall."""
        height = size * 0.96
        return max(height, self.width(size) + size * 0.34), height


def part_width(text: str, bracket: str, size: float) -> float:
    """The width of one part with its brackets."""
    return text_width(text, FACE, size) + (size * 0.44 if bracket else 0.0)


def fret_text(fret: Fraction | int) -> str:
    """A fret as written: 12, or 3.2 where a node lies between frets."""
    return str(int(fret)) if Fraction(fret).denominator == 1 else f"{float(fret):.1f}"


def label_of(note: Note) -> Label:
    """The label of a placed note."""
    fret = str(note.fret)
    if note.dead:
        return Label((), dead=True)
    harmonic = note.harmonic
    if harmonic is not None and harmonic.kind == "natural":
        touched = harmonic.touch if harmonic.touch is not None else Fraction(note.fret or 0)
        return Label(((fret_text(touched), "angle"),))
    if harmonic is not None and harmonic.kind == "artificial" and harmonic.touch is not None:
        return Label(((fret, ""), (fret_text(harmonic.touch), "angle")))
    return Label(((fret, "round" if note.ghost or note.attack == "tie" else ""),))


LETTERS = {"hammer": "H", "pull": "P", "tap": "T"}


HARMONIC_WORDS = {"natural": "NH", "artificial": "AH", "pinch": "PH"}


MUTE_WORD, RING_WORD = "PM", "ring"


def finger_words(notes: Sequence[Note]) -> str:
    """The fingers of notes that sound together, each once, from the highest string; T is the thumb."""
    fingers = dict.fromkeys(n.finger for n in notes if n.finger is not None)
    return "".join("T" if finger == 0 else str(finger) for finger in fingers)


def string_name(fragment: Fragment, string: int) -> str:
    """An open string's letter, with typeset accidentals."""
    name = pitch_class_name(fragment.guitar.open_pitch(string), fragment.flats)
    return name[0] + name[1:].replace("#", "♯").replace("b", "♭")
