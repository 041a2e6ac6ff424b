"""The state of a tab text while it is read."""

from dataclasses import dataclass, field
from fractions import Fraction

from pipeline.music.fragment import Measure, Repeat
from pipeline.music.guitar import Guitar
from pipeline.music.meter import Meter
from pipeline.music.tabnote import Group, Sign
from pipeline.music.tabrows import Proof


@dataclass
class Sheet:
    """The text as it is being read."""

    guitar: Guitar
    proof: Proof
    meter: Meter
    groups: list[Group] = field(default_factory=list)
    slots: list[tuple[int, int, Fraction]] = field(default_factory=list)  # system, column, time
    rests: set[Fraction] = field(default_factory=set)
    measures: list[Measure] = field(default_factory=list)
    repeats: list[Repeat] = field(default_factory=list)
    latest: dict[int, Sign] = field(default_factory=dict)  # by string
    opened: int | None = None  # the measure after the last sign that starts a repeat
    opened_at: tuple[int, int] = (0, 0)
    waiting: dict[int, dict[str, object]] = field(default_factory=dict)  # signs before a note, by string
    begun: dict[int, tuple[int, int]] = field(default_factory=dict)  # system, column of the first of them
    slopes: dict[int, str] = field(default_factory=dict)

    @property
    def end(self) -> Fraction:
        return self.measures[-1].end if self.measures else Fraction(0)
