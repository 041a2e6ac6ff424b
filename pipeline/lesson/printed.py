"""A passage as printed figures: its tab in groups of rows, and the neck for every position of the hand.

The views that film uses draw them, in the look for paper, on a stage on which nothing sounds yet.
"""

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from pipeline.drawing.look import load_look
from pipeline.drawing.picture import Picture
from pipeline.files.pages import Figure
from pipeline.music.fragment import Fragment
from pipeline.music.note import Note
from pipeline.timing import Span, TimeMap
from pipeline.views.hand import Stay, stage_stays
from pipeline.views.neck import Neck
from pipeline.views.stage import Pass, Stage
from pipeline.views.tab import Tab, lay

LOOK = "proof"
WIDTH, FRAME = 1800, 1080
"""Pixels across the page, and the frame height that type sizes are shares of: digits come out at 9 points."""
HALF_WIDTH, HALF_HEIGHT, HALF_FRAME = 900, 330, 1000
ROWS = 4
"""Rows of tab that stay together on a page."""
LATER = Fraction(10**6)
"""The second at which a printed passage begins to sound: long after the picture."""


def tab_figures(fragment: Fragment, beats: Span) -> Iterator[Figure]:
    """The tab of some beats, a figure for every few rows, so that pages break between them."""
    view = Tab(cursor=False, panel=False)
    whole = _stage(fragment, beats, WIDTH, 4 * FRAME, FRAME)
    laid = lay(view, whole)
    if laid is None:
        return
    starts = [system.start for system in laid.systems][::ROWS]
    for start, end in zip(starts, [*starts[1:], beats.end], strict=True):
        span = Span("beat", start, end)
        stage = _stage(fragment, span, WIDTH, 0, FRAME)
        stage = replace(stage, height=round(view.height(stage)))
        yield Figure(view.picture(stage, Fraction(0)), tab_in_words(fragment, span))


def tab_in_words(fragment: Fragment, beats: Span) -> str:
    """The same for ears: every note with its string and fret, for readers that cannot see the picture."""
    notes = [note for note in fragment.notes if note.onset in beats]
    spoken = (f"string {note.string} fret {note.fret}" for note in notes if note.string is not None)
    return f"Tab of {len(notes)} notes: " + ", ".join(spoken)


def position_figures(fragment: Fragment) -> Iterator[Figure]:
    """A neck for every stay of the hand, with its notes and fingers."""
    stage = _stage(fragment, Span("beat", Fraction(0), fragment.length), HALF_WIDTH, HALF_HEIGHT, HALF_FRAME)
    stays = stage_stays(stage)
    ends = [stay.beat for stay in stays[1:]] + [fragment.length]
    for stay, end in zip(stays, ends, strict=True):
        notes = tuple(note for note in fragment.notes if stay.beat <= note.onset < end)
        words = _neck_in_words(stay.position, notes)
        yield Figure(_neck(fragment, notes), words, _caption(fragment, stay, notes))


def _neck(fragment: Fragment, notes: tuple[Note, ...]) -> Picture:
    view = Neck(panel=False, next=False, phrase=True)
    part = fragment.with_notes(notes)
    stage = Stage(HALF_WIDTH, HALF_HEIGHT, load_look(LOOK), Fraction(1), part, frame_height=HALF_FRAME)
    return view.picture(stage, Fraction(0))


def _neck_in_words(position: int, notes: tuple[Note, ...]) -> str:
    places = dict.fromkeys(f"string {note.string} fret {note.fret}" for note in notes)
    return f"The neck in position {position}: " + ", ".join(places)


def _caption(fragment: Fragment, stay: Stay, notes: tuple[Note, ...]) -> str:
    bar = fragment.measure_at(notes[0].onset)
    count = (notes[0].onset - fragment.measures[bar].start) // fragment.measures[bar].count + 1
    return f"Position {stay.position}, from bar {bar + 1}, beat {count}"


def _stage(fragment: Fragment, beats: Span, width: int, height: int, frame: int) -> Stage:
    moments = TimeMap.linear("beat", "scene", beats.start, LATER, Fraction(1))
    passes = (Pass(beats, moments),)
    return Stage(width, height, load_look(LOOK), 2 * LATER, fragment, passes, frame_height=frame)
