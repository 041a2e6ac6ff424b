"""Meters: the counts of a bar and their unit, and the groups they fall into where a meter names them."""

import re
from dataclasses import dataclass
from fractions import Fraction

UNITS = (1, 2, 4, 8, 16, 32)
MOST_COUNTS = 32
PATTERN = r"\(\d{1,2}(?:\+\d{1,2})+\)/\d{1,2}|\d{1,2}(?:\+\d{1,2})*/\d{1,2}"
_METER = re.compile(PATTERN, re.ASCII)


@dataclass(frozen=True)
class Meter:
    """`beats` counts of the note value `unit`; `groups` (2, 2, 3 in a bar of seven) where they are named."""

    beats: int = 4
    unit: int = 4
    groups: tuple[int, ...] = ()

    @property
    def count(self) -> Fraction:
        """The length of a count in quarter notes."""
        return Fraction(4, self.unit)

    @property
    def length(self) -> Fraction:
        """The length of a bar in quarter notes."""
        return self.beats * self.count

    @property
    def over(self) -> str:
        """What is written over the unit: `7`, or `2+2+3`."""
        return "+".join(map(str, self.groups)) if self.groups else str(self.beats)

    def __str__(self) -> str:
        return f"({self.over})/{self.unit}" if self.groups else f"{self.over}/{self.unit}"


COMMON = Meter()
"""4/4, the meter where nothing is said."""


def read_meter(text: str) -> Meter:
    """Read `7/8`, `2+2+3/8` or `(2+2+3)/8`. Raises ValueError for anything else."""
    match = _METER.fullmatch(text)
    counts, _, unit = text.replace("(", "").replace(")", "").partition("/")
    groups = tuple(int(count) for count in counts.split("+")) if match else ()
    if 0 in groups or not 1 <= sum(groups) <= MOST_COUNTS or int(unit) not in UNITS:
        raise ValueError(f"{text[:20]!r} is no meter")
    return Meter(sum(groups), int(unit), groups if len(groups) > 1 else ())
