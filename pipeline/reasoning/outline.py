"""The plan of a played passage: its scale, the scale positions it goes through, its cells and its shifts."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.music.fragment import Fragment
from pipeline.music.pitch import pitch_class_name
from pipeline.music.positions import Stay, positions, stays
from pipeline.music.scales import SCALES, Scale
from pipeline.reasoning.cells import Cell, cells
from pipeline.reasoning.moments import Times
from pipeline.reasoning.reading import Reading
from pipeline.reasoning.shifts import Shift, shifts

PENTATONIC_TONES = 6
"""Scales of up to this many tones lie two notes a string (boxes), larger ones three."""


@dataclass(frozen=True)
class Outline:
    """What a passage is made of. `stays` name the notes (from 0) that lie in one scale position each."""

    tonic: int
    scale: Scale | None
    notes_a_string: int
    stays: tuple[Stay, ...]
    cells: tuple[Cell, ...]
    shifts: tuple[Shift, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """One line each for the scale, the stays, the cells and the shifts, notes counted from 1."""
        scale = f"{pitch_class_name(self.tonic)} {self.scale.name}" if self.scale else "no named scale"
        kind = "boxes" if self.notes_a_string == 2 else "three notes a string"
        lines = [f"{scale}, {kind}"]
        for stay in self.stays:
            where = f"frets {stay.position.lowest} to {stay.position.highest}"
            lines.append(
                f"notes {stay.first + 1} to {stay.last + 1}: position {stay.position.degree}, {where}"
            )
        lines += [cell.words for cell in self.cells]
        return (*lines, *(f"note {shift.note + 1}: {shift.words}" for shift in self.shifts))

    def position_of(self, note: int) -> Stay | None:
        """The stay that a note belongs to."""
        return next((stay for stay in self.stays if stay.first <= note <= stay.last), None)


def outline(
    fragment: Fragment, reading: Reading, times: Times | None = None, key: tuple[int, Scale] | None = None
) -> Outline:
    """The plan of a reading. `key` is the tonic (pitch class) and scale; without it they are guessed."""
    placed = reading.on(fragment)
    pitches = [note.pitch for note in fragment.notes if note.pitch is not None]
    tonic, scale = key or guess_key(pitches)
    a_string = 2 if scale is not None and len(scale.steps) <= PENTATONIC_TONES else 3
    choices = positions(fragment.guitar, scale, tonic, a_string) if scale else ()
    whole = all(len(group) == 1 for group in fragment.chords) and len(pitches) == len(fragment.notes)
    found = cells(pitches, scale.classes(tonic) if scale else None) if whole else ()
    moves = shifts(fragment, reading.places, times)
    return Outline(tonic, scale, a_string, stays(placed, choices), found, moves)


def guess_key(pitches: Sequence[int]) -> tuple[int, Scale | None]:
    """Tonic and smallest named scale that hold all pitches; (last pitch, None) where no scale does.

    Of scales alike in size the tonic that begins, ends and recurs most wins, then the order of the names.
    """
    if not pitches:
        return 0, None
    used, counts = {pitch % 12 for pitch in pitches}, Counter(pitch % 12 for pitch in pitches)
    weight = {tonic: counts[tonic] for tonic in range(12)}
    weight[pitches[0] % 12] += len(pitches) // 4
    weight[pitches[-1] % 12] += len(pitches) // 2
    fitting = [
        (len(scale.steps), -weight[tonic], order, tonic, scale)
        for order, scale in enumerate(SCALES.values())
        for tonic in range(12)
        if used <= set(scale.classes(tonic))
    ]
    if not fitting:
        return pitches[-1] % 12, None
    _, _, _, tonic, scale = min(fitting, key=lambda found: found[:4])
    return tonic, scale
