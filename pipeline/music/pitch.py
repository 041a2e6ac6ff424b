"""Pitch as MIDI note numbers: names, frequencies, cents.

A4 is note 69 at 440 Hz (ISO 16:1975); frequency is 440 * 2 ** ((note - 69) / 12), the MIDI tuning
convention. Note numbers may be fractional where a string is bent.
"""

import math
import re

A4_HZ = 440.0
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SHARP_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLAT_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_NAME = re.compile(r"([A-Ga-g])(##|bb|#|b|)(-?\d)")


def frequency(note: float) -> float:
    """Hertz of a MIDI note number."""
    return float(A4_HZ * 2.0 ** ((note - 69.0) / 12.0))


def note_of(hertz: float) -> float:
    """The fractional MIDI note number of a frequency in hertz."""
    return 69.0 + 12.0 * math.log2(hertz / A4_HZ)


def parse_pitch(name: str) -> int:
    """MIDI note number of a scientific pitch name such as `E2`, `C#4` or `Bb3` (C4 is 60).

    Raises ValueError where the name is none.
    """
    match = _NAME.fullmatch(name.strip())
    if match is None:
        raise ValueError(f"{name!r} is no pitch name")
    step, accidental, octave = match.groups()
    shift = accidental.count("#") - accidental.count("b")
    return _STEPS[step.upper()] + shift + 12 * (int(octave) + 1)


def pitch_name(note: int, flats: bool = False) -> str:
    """Scientific pitch name of a MIDI note number, spelled with sharps unless `flats`."""
    names = _FLAT_NAMES if flats else _SHARP_NAMES
    return f"{names[note % 12]}{note // 12 - 1}"


def pitch_class_name(note: int, flats: bool = False) -> str:
    """The pitch name without its octave."""
    return (_FLAT_NAMES if flats else _SHARP_NAMES)[note % 12]
