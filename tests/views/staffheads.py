"""Ways to look at a staff that was drawn: where its heads stand, and where they ought to."""

from collections.abc import Iterator
from fractions import Fraction

from pipeline.drawing.outline import outline_box
from pipeline.drawing.picture import Box, Path
from pipeline.music.fragment import Fragment
from pipeline.music.note import Note
from pipeline.music.pitch import pitch_name
from pipeline.views.paging import standing
from pipeline.views.rows import Laid
from pipeline.views.staffshapes import StaffShapes

LETTERS = "CDEFGAB"
TREBLE, BASS = 2 + 7 * 3, 4 + 7 * 1
"""The lowest lines of clefs that stand an octave over what sounds, in steps from C0: E3 and G1."""


def boxes(laid: Laid, row: int, piece: int, kind: str) -> list[Box]:
    """The boxes of the staff's shapes of a kind over one piece of a row."""
    marks = standing(laid, row, piece).marks
    drawn = (mark for mark in marks if isinstance(mark, Path) and mark.name == f"staff {kind}")
    return [box for mark in drawn if (box := outline_box(mark.outline)) is not None]


def step_of(pitch: int, flats: bool) -> int:
    """Steps of the scale from C0, by the pitch's spelling."""
    name = pitch_name(pitch, flats)
    return LETTERS.index(name[0]) + 7 * int(name.lstrip("ABCDEFG#b"))


def shown_pitch(fragment: Fragment, note: Note) -> int | None:
    """What a head says: the stopped pitch, a natural harmonic's touched one, a dead note's open string."""
    if note.pitch is None:
        return fragment.guitar.open_pitch(note.string) if note.string else None
    harmonic = note.harmonic
    if harmonic is not None and harmonic.kind == "natural" and harmonic.touch is not None:
        return note.pitch + round(harmonic.touch) - (note.fret or 0)
    return note.pitch


def wanted(laid: Laid, over: StaffShapes, row: int, piece: int) -> Iterator[tuple[int, float, float]]:
    """Every note of a piece, and where the middle of its head belongs."""
    fragment, system = over.fragment, laid.systems[row]
    low = BASS if fragment.guitar.open_pitch(1) < 52 else TREBLE
    part = system.placed[piece].piece
    for index, note in enumerate(fragment.notes):
        pitch = shown_pitch(fragment, note)
        if part.start <= note.onset < part.end and pitch is not None and index in system.xs:
            yield (
                index,
                system.xs[index],
                over.top_line + (8 - step_of(pitch, fragment.flats) + low) / 2 * over.space,
            )


def beats_of(laid: Laid) -> list[tuple[int, int, Fraction, Fraction]]:
    """Every piece of every row, and the beats it holds."""
    return [
        (row, number, placed.piece.start, placed.piece.end)
        for row, system in enumerate(laid.systems)
        for number, placed in enumerate(system.placed)
    ]
