"""What the drawing of a strip works with: its sheet, its stage, and short ways to colours and lines."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache

from pipeline.drawing.outline import rounded
from pipeline.drawing.picture import Box, Colour, Mark, Outline, Path, Stroke
from pipeline.music.note import SLURRED
from pipeline.views.columns import Sheet
from pipeline.views.sounding import Line, line_of
from pipeline.views.stage import Stage


@dataclass(frozen=True, eq=False)
class Brush:
    """A sheet on a stage."""

    sheet: Sheet
    stage: Stage

    def colour(self, role: str) -> Colour:
        return self.stage.look.colour(role)

    def weight(self, role: str) -> float:
        return self.stage.line(role)

    def stroke(
        self, role: str, weight: float, dash: tuple[float, ...] = (), round_ends: bool = True
    ) -> Stroke:
        return Stroke(self.colour(role), weight, round_ends, dash)

    @cached_property
    def line(self) -> Line:
        return line_of(self.sheet.fragment)

    @cached_property
    def following(self) -> dict[int, int]:
        """For each note the next one on its string."""
        notes, last, found = self.sheet.fragment.notes, dict[int, int](), dict[int, int]()
        for index in self.line.order:
            string = notes[index].string
            if string is None:
                continue
            if string in last:
                found[last[string]] = index
            last[string] = index
        return found

    @cached_property
    def preceding(self) -> dict[int, int]:
        """For each note the one before it on its string."""
        return {after: before for before, after in self.following.items()}

    def slurred(self, index: int) -> bool:
        """Whether a bow leads to the note from the one before it on its string."""
        return self.sheet.fragment.notes[index].attack in SLURRED

    def slid_to(self, index: int) -> bool:
        note = self.sheet.fragment.notes[index]
        return note.attack == "slide" or note.shift_slide


@lru_cache(maxsize=64)
def panel(stage: Stage) -> Path:
    """The ground a view stands on: its whole room, round at the corners."""
    box = Box(0.0, 0.0, float(stage.width), float(stage.height))
    return Path(rounded(box, stage.size("corner")), stage.look.colour("panel"), name="panel")


def filled(outlines: Iterable[Outline], fill: Colour, name: str) -> list[Mark]:
    """Each outline as a filled path."""
    return [Path(outline, fill, name=name) for outline in outlines]
