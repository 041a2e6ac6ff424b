"""The instrument: strings and tuning, frets, capo, scale length, handedness.

String 1 is the highest-pitched string, fret 0 the open string (MusicXML 4.0, `string-number` and `fret`).
Frets are counted from the capo, as players do, so a capo raises every open string by its fret
(MusicXML 4.0, `capo`). Lengths are millimetres.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import log2

from pipeline.music.pitch import parse_pitch

STANDARD = (64, 59, 55, 50, 45, 40)  # E4 B3 G3 D3 A2 E2, string 1 first (MEI `guitar.standard`)
FEWEST_STRINGS, MOST_STRINGS = 4, 9


@dataclass(frozen=True)
class Guitar:
    """One guitar as it is strung. `strings` holds open MIDI notes without the capo, string 1 first."""

    strings: tuple[int, ...] = STANDARD
    frets: int = 24
    scale_mm: float = 648.0
    capo: int = 0
    left_handed: bool = False
    nut_mm: float = 35.0  # distance of the outer strings at the nut (common practice, no source)
    bridge_mm: float = 52.0  # and at the bridge (common practice, no source)

    def __post_init__(self) -> None:
        if not FEWEST_STRINGS <= len(self.strings) <= MOST_STRINGS:
            raise ValueError(f"a guitar here has {FEWEST_STRINGS} to {MOST_STRINGS} strings")
        if not 0 <= self.capo < self.frets:
            raise ValueError("the capo must lie on the neck")

    @classmethod
    def tuned(cls, names: str, frets: int = 24) -> "Guitar":
        """A guitar from pitch names, lowest string first as players say them: `E2 A2 D3 G3 B3 E4`."""
        return cls(tuple(parse_pitch(name) for name in reversed(names.split())), frets)

    @property
    def string_count(self) -> int:
        return len(self.strings)

    @property
    def highest_fret(self) -> int:
        """The last fret, counted from the capo."""
        return self.frets - self.capo

    def open_pitch(self, string: int) -> int:
        """MIDI note of the open string, capo included. Raises ValueError for a string that is not there."""
        if not 1 <= string <= len(self.strings):
            raise ValueError(f"this guitar has no string {string}")
        return self.strings[string - 1] + self.capo

    def pitch(self, string: int, fret: int) -> int:
        """MIDI note of a string stopped at a fret. Raises ValueError beyond the neck."""
        if not 0 <= fret <= self.highest_fret:
            raise ValueError(f"fret {fret} is beyond the neck ({self.highest_fret} frets)")
        return self.open_pitch(string) + fret

    def places(self, note: int) -> Iterator[tuple[int, int]]:
        """Every (string, fret) that gives a MIDI note, string 1 first."""
        for string in range(1, len(self.strings) + 1):
            fret = note - self.open_pitch(string)
            if 0 <= fret <= self.highest_fret:
                yield string, fret

    def fret_mm(self, fret: float) -> float:
        """Distance nut to fret (counted from the capo): L * (1 - 2 ** (-n / 12))."""
        return float(self.scale_mm * (1.0 - 2.0 ** (-(fret + self.capo) / 12.0)))

    def fret_at(self, mm: float) -> float:
        """The fractional fret at a distance from the nut, the inverse of `fret_mm`."""
        return -12.0 * log2(1.0 - mm / self.scale_mm) - self.capo

    def string_mm(self, string: int, fret: float) -> float:
        """Distance of a string from string 1 across the neck at a fret: the strings fan out to the bridge."""
        share = self.fret_mm(fret) / self.scale_mm
        width = self.nut_mm + (self.bridge_mm - self.nut_mm) * share
        return width * (string - 1) / max(1, len(self.strings) - 1)
