"""The signs that a lesson's passages bear, each drawn once with its name and what the hands do."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

from pipeline.drawing.picture import Box, Group, Mark, Picture, translate
from pipeline.errors import Place
from pipeline.files.pages import Figure
from pipeline.lesson.printed import paper_stage
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note
from pipeline.music.tabtext import read_tab
from pipeline.views.pagerows import page_rows
from pipeline.views.tab import Tab, lay

STRINGS = Guitar((64, 59, 55, 50))
WIDTHS, ROOM = {5: 340, 4: 435}, 760
"""Pixels across, by how many stand side by side: a sign is as large in each."""
METER = 96
"""Pixels that a row's start and its meter take, which say nothing of a sign: cut off."""
HEIGHT, FOOT = 225.0, 32.0
"""Of every example, so that their strings stand side by side; and the empty pixels cut off under them."""


@dataclass(frozen=True)
class Sign:
    """A sign: whether a note bears it, its name, what it asks for, and an example as tab text."""

    borne: Callable[[Note], bool]
    name: str
    meaning: str
    example: str
    side: str = ""
    """A row beside the strings that the example needs."""


def _attack(kind: str) -> Callable[[Note], bool]:
    return lambda note: note.attack == kind and not note.grace


def _harmonic(kind: str) -> Callable[[Note], bool]:
    return lambda note: note.harmonic is not None and note.harmonic.kind == kind


def _bent(first: bool, back: bool) -> Callable[[Note], bool]:
    def borne(note: Note) -> bool:
        levels = [point.semitones for point in note.bend]
        rises = bool(levels) and (levels[0] > 0) == first
        return rises and any(after < before for before, after in pairwise(levels)) == back

    return borne


SIGNS = (
    Sign(lambda n: n.stroke == "down", "Downstroke", "the pick goes down", "-7-----", "strokes d"),
    Sign(lambda n: n.stroke == "up", "Upstroke", "the pick goes up", "-7-----", "strokes u"),
    Sign(_attack("hammer"), "Hammer-on", "a finger strikes the string; no stroke", "-5---h7--"),
    Sign(_attack("pull"), "Pull-off", "a finger leaves sideways and sounds the note", "-7---p5--"),
    Sign(_attack("tap"), "Tap", "the picking hand strikes the string", "-5---t12-"),
    Sign(lambda n: n.attack == "slide", "Slide", "the finger moves along; no new stroke", "-5---/9--"),
    Sign(lambda n: n.shift_slide, "Slide and pick", "the finger moves along, then a stroke", "-5---//9-"),
    Sign(lambda n: n.slide_in is not None, "Slide in", "from nowhere into the note", "-5---[/7-"),
    Sign(lambda n: n.slide_out is not None, "Slide out", "off the note to nowhere", "-7/]-----"),
    Sign(_bent(False, False), "Bend", "push the string until it sounds this much higher", "-7b9-----"),
    Sign(_bent(False, True), "Bend and release", "push the string, then let it back", "-7b9r7---"),
    Sign(_bent(True, False), "Pre-bend", "bent before it is struck", "-7B9-----"),
    Sign(_bent(True, True), "Pre-bend and release", "bent before the stroke, then let back", "-7B9r7---"),
    Sign(lambda n: n.vibrato == "narrow", "Vibrato", "the pitch swings", "-7~------"),
    Sign(lambda n: n.vibrato == "wide", "Wide vibrato", "the pitch swings widely", "-7~~-----"),
    Sign(lambda n: n.tremolo, "Tremolo picking", "as many strokes as fit", "-7*------"),
    Sign(lambda n: n.accent, "Accent", "louder than its neighbours", "-7!------"),
    Sign(lambda n: n.staccato, "Staccato", "cut short", "-7'------"),
    Sign(lambda n: n.palm_mute, "Palm mute", "the picking hand's edge damps at the bridge", "-7_--7_--"),
    Sign(lambda n: n.let_ring, "Let ring", "nothing damps it", "-7&--7&--"),
    Sign(lambda n: n.dead, "Dead note", "damped: a click without pitch", "-x-------"),
    Sign(lambda n: n.ghost, "Ghost note", "hardly heard", "-(7)-----"),
    Sign(_attack("tie"), "Tie", "the note goes on; nothing is struck", "-7--=7---"),
    Sign(lambda n: n.grace, "Grace note", "as short as can be, before its note", "-g5h7----"),
    Sign(_harmonic("natural"), "Natural harmonic", "touch over the fret, do not press", "-<12>----"),
    Sign(_harmonic("artificial"), "Artificial harmonic", "stop one fret, touch the other", "-5<17>---"),
    Sign(_harmonic("pinch"), "Pinch harmonic", "the picking thumb touches, too", "-7<p:3>--"),
)


def signs_of(fragments: Iterable[Fragment]) -> list[Sign]:
    """The signs that some passages bear, in the order of the table."""
    notes = [note for fragment in fragments for note in fragment.notes]
    return [sign for sign in SIGNS if any(sign.borne(note) for note in notes)]


def sign_figure(sign: Sign, across: int) -> Figure:
    """A small strip with the sign's name and meaning under it, one of so many side by side."""
    picture = sign_picture(sign, WIDTHS[across])
    return Figure(picture, f"The sign of a {sign.name.lower()}", f"{sign.name}: {sign.meaning}")


@lru_cache(maxsize=64)
def sign_picture(sign: Sign, width: int = WIDTHS[5]) -> Picture:
    """The sign's example as the tab of the lesson draws it."""
    view = Tab(cursor=False, panel=False, tuning=False, numbers=False, rhythm=False, fingers=False, rows=1)
    (row, *_) = page_rows(lay(view, paper_stage(example(sign), width + METER, ROOM)))
    marks = tuple(_without_meter(mark) for mark in row.picture.marks)
    moved = translate(marks, -METER, HEIGHT + FOOT - row.picture.height)
    return Picture(float(width), HEIGHT, (Group((moved,), clip=Box(0.0, 0.0, width, HEIGHT)),))


def _without_meter(mark: Mark) -> Mark:
    """The mark without the meter in it, which would be cut off for eyes but still be found as text."""
    if not isinstance(mark, Group):
        return mark
    kept = (_without_meter(inner) for inner in mark.marks if not inner.name.startswith("meter"))
    return replace(mark, marks=tuple(kept))


def example(sign: Sign) -> Fragment:
    """A bar that bears the sign."""
    return read_tab("sign", example_text(sign), STRINGS, lambda row, column: Place("sign", row, column))


def example_text(sign: Sign) -> str:
    """The example as a whole system, on the second string."""
    width = len(sign.example)
    kind, _, value = sign.side.partition(" ")
    side = [f"{kind:10}{value}"] if kind else []
    empty = "-" * width
    rows = {"E4": empty, "B3": sign.example, "G3": empty, "D3": empty}
    return "\n".join([*side, *(f"{name:8}|{dashes}|" for name, dashes in rows.items())])
