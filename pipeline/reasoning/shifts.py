"""When the hand moves in a reading: from which position to which, how far and in what time."""

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.music.fragment import Fragment
from pipeline.reasoning.moments import Times, moment_times
from pipeline.reasoning.reading import Placement


@dataclass(frozen=True)
class Shift:
    """The hand goes from position `before` to `after` and arrives with note `note` (from 0)."""

    note: int
    before: int
    after: int
    mm: float
    ms: int
    """Milliseconds from the onset of the note before."""

    @property
    def words(self) -> str:
        way = "up" if self.after > self.before else "down"
        return f"{way} from position {self.before} to {self.after} ({self.mm:.0f} mm in {self.ms} ms)"


def shifts(fragment: Fragment, places: Sequence[Placement], times: Times | None = None) -> tuple[Shift, ...]:
    """Every shift of a reading. Open strings carry no position: a shift under them arrives with the next
    fretted note."""
    moments, found = moment_times(fragment, times), list[Shift]()
    before: int | None = None
    for moment, group in enumerate(fragment.chords):
        held = [places[i] for i in group if places[i].finger is not None]
        if not held:
            continue
        after = held[0].position
        if before is not None and after != before:
            mm = abs(fragment.guitar.fret_mm(after) - fragment.guitar.fret_mm(before))
            ms = round((moments[moment] - moments[moment - 1]) * 1000)
            found.append(Shift(group[0], before, after, mm, ms))
        before = after
    return tuple(found)
