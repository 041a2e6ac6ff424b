"""A passage as printed figures: its tab row by row, and the neck for every position of the hand.

The views that film uses draw them, in the look for paper, on a stage on which nothing sounds.
"""

from collections.abc import Iterator
from fractions import Fraction

from pipeline.drawing.bounds import picture_ink
from pipeline.drawing.look import load_look
from pipeline.drawing.picture import Group, Picture
from pipeline.files.pages import Figure
from pipeline.lesson.page_breaks import tied
from pipeline.music.fragment import Fragment
from pipeline.music.note import Note
from pipeline.timing import Span
from pipeline.views.hand import Stay, stage_stays
from pipeline.views.neck import Neck
from pipeline.views.notemarks import Inside
from pipeline.views.pagerows import page_rows
from pipeline.views.staff import Staff
from pipeline.views.staff import lay as lay_staff
from pipeline.views.stage import Stage
from pipeline.views.tab import Tab, lay

LOOK = "proof"
WIDTH, FRAME = 1800, 760
"""Pixels across the page, and the frame height that type sizes are shares of: small type is 7 points."""
ROOM = 20 * FRAME
"""Height for as many rows as there are."""
MARGIN = 12.0
"""Pixels over and under a row of music."""
TOGETHER = 2
"""So many rows of a passage always stand on one page."""
NECK_WIDTH, NECK_HEIGHT = 580, 300


def tab_figures(fragment: Fragment, beats: Span, staff: bool) -> Iterator[Figure]:
    """The tab of the bars that hold some beats, under a staff where asked for, a figure a row.

    A row stays whole, and pages break between rows, before the last two if need be.
    """
    stage = paper_stage(fragment, WIDTH, ROOM)
    laid = lay_staff(Staff(cursor=False, panel=False), stage) if staff else None
    laid_rows = page_rows(laid or lay(Tab(cursor=False, panel=False), stage))
    rows = [row for row in laid_rows if row.start < beats.end and beats.start < row.end]
    for row, together in zip(rows, tied(len(rows), TOGETHER), strict=True):
        words = tab_in_words(fragment, Span("beat", row.start, row.end))
        yield Figure(_trimmed(row.picture), words, tied=together)


def _trimmed(picture: Picture) -> Picture:
    """A row as tall as what is drawn in it, so that the rows of a page stand equally far apart."""
    ink = picture_ink(picture)
    if ink is None:
        return picture
    top = ink.y - MARGIN
    height = ink.bottom + MARGIN - top
    return Picture(picture.width, height, (Group(picture.marks, (1.0, 0.0, 0.0, 1.0, 0.0, -top)),))


def tab_in_words(fragment: Fragment, beats: Span) -> str:
    """The same for ears: every note with its string and fret, for readers that cannot see the picture."""
    notes = [note for note in fragment.notes if note.onset in beats]
    spoken = (_place_in_words(note) for note in notes if note.string is not None)
    return f"Tab of {len(notes)} notes: " + ", ".join(spoken)


def _place_in_words(note: Note) -> str:
    return f"string {note.string} {'dead' if note.fret is None else f'fret {note.fret}'}"


def stays_on_paper(fragment: Fragment) -> tuple[Stay, ...]:
    """The stays of the hand in a passage, as its fingers and hand row tell them."""
    return stage_stays(paper_stage(fragment, NECK_WIDTH, NECK_HEIGHT))


def position_figures(fragment: Fragment) -> Iterator[Figure]:
    """A neck for every stay of the hand, with its notes and fingers; notes before the first belong to it.

    Where nothing tells a position, one neck with the places of all notes.
    """
    stays = stays_on_paper(fragment)
    starts = [Fraction(0), *(stay.beat for stay in stays[1:])]
    for stay, start, end in zip(stays, starts, [*starts[1:], None], strict=False):
        notes = tuple(
            note for note in fragment.notes if start <= note.onset and (end is None or note.onset < end)
        )
        words = _neck_in_words(f"in position {stay.position}", notes)
        yield Figure(_neck(fragment, notes, "finger"), words, _caption(fragment, stay, notes))
    if not stays and any(note.fret is not None for note in fragment.notes):
        words = _neck_in_words("with all notes", fragment.notes)
        yield Figure(_neck(fragment, fragment.notes, "fret"), words, _places(fragment.notes))


def _places(notes: tuple[Note, ...]) -> str:
    """What can be said of the hand where no position is known."""
    frets = sorted({fret for note in notes if (fret := _finger_at(note))})
    if not frets:
        return "Open strings alone: the hand need not stand anywhere"
    first, last = (f"{float(fret):g}" for fret in (frets[0], frets[-1]))
    reach = f"Frets {first} to {last}" if len(frets) > 1 else f"Fret {first}"
    return f"{reach}. No fingers are written, so no position of the hand is told"


def _finger_at(note: Note) -> Fraction:
    """The fret at which a finger stops the string, or touches an open one for a harmonic; 0 for neither."""
    natural = note.harmonic is not None and note.harmonic.kind == "natural"
    touched = note.harmonic.touch if note.harmonic is not None and natural else None
    return Fraction(touched or note.fret or 0)


def _neck(fragment: Fragment, notes: tuple[Note, ...], inside: Inside) -> Picture:
    view = Neck(inside=inside, panel=False, next=False, phrase=True)
    stage = paper_stage(fragment.with_notes(notes), NECK_WIDTH, NECK_HEIGHT)
    return view.picture(stage, Fraction(0))


def _neck_in_words(where: str, notes: tuple[Note, ...]) -> str:
    places = dict.fromkeys(_place_in_words(note) for note in notes)
    return f"The neck {where}: " + ", ".join(places)


def _caption(fragment: Fragment, stay: Stay, notes: tuple[Note, ...]) -> str:
    bar = fragment.measure_at(notes[0].onset)
    count = (notes[0].onset - fragment.measures[bar].start) // fragment.measures[bar].count + 1
    return f"Position {stay.position}, from bar {bar + 1}, beat {count}"


def paper_stage(fragment: Fragment, width: int, height: int) -> Stage:
    """A stage of so many pixels in the look for paper, type as large as everywhere on the page."""
    return Stage(width, height, load_look(LOOK), Fraction(1), fragment, frame_height=FRAME)
