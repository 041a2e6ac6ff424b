"""The scale map: where a scale lies on the neck, one position of it brought out, the phrase lit on it."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from pipeline.drawing.outline import circle, rounded
from pipeline.drawing.picture import Box, Group, Mark, Outline, Path, Picture, Stroke, Text
from pipeline.drawing.typeface import cap_height, text_width
from pipeline.music.guitar import Guitar
from pipeline.music.pitch import parse_pitch, pitch_class_name
from pipeline.music.positions import Position, positions
from pipeline.music.scales import SCALES, Scale
from pipeline.views.board import WIDEST, Board, board_marks, halves, least_board, whole_window, window_for
from pipeline.views.brush import panel
from pipeline.views.notemarks import Spot, coming_marks, ringing_marks, sounding_marks
from pipeline.views.signs import centred
from pipeline.views.sounding import moment_at
from pipeline.views.stage import Stage

Tonic = Literal["C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb", "B"]
ScaleName = Literal[
    "major", "minor", "ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian",
    "harmonic minor", "phrygian dominant", "melodic minor", "lydian dominant", "altered", "minor pentatonic",
    "major pentatonic", "blues", "whole tone", "whole-half octatonic", "half-whole octatonic",
]  # fmt: skip
OCTAVE = 12
NARROW = 0.6
"""From this height in widths on, a whole neck is drawn as two halves that meet at the octave."""
ALSO_CALLED = {"major": "ionian", "minor": "aeolian"}

FLATTENED = (2, 3, 5, 6, 7)
"""Degrees that are called flat a semitone below; the others' neighbours are called sharp (common practice, no
source)."""


@dataclass(frozen=True)
class Scalemap:
    """A scale over the neck. The tonic stands on a square, other degrees on circles.

    tonic      the tonic, such as `F#`
    scale      the scale's name
    position   which position is brought out, from 1, the lowest on the neck first; 0 shows all alike
    a-string   notes a string of a position: 2 for pentatonic boxes, 3 for seven-note scales; 0 chooses
    labels     `degree`, `name` or `none`
    region     `whole` neck, or only what the `position` needs
    heading    the scale's name over the neck
    numbers    fret numbers
    panel      a ground of the look's colour under the view
    """

    tonic: Tonic = "A"
    scale: ScaleName = "minor pentatonic"
    position: int = 0
    a_string: Literal[0, 2, 3, 4] = 0
    labels: Literal["degree", "name", "none"] = "degree"
    region: Literal["whole", "position"] = "whole"
    heading: bool = True
    numbers: bool = True
    panel: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The map at scene second t."""
        marks: list[Mark] = [panel(stage)] if self.panel else []
        moment = moment_at(stage, t)
        notes = stage.fragment.notes if stage.fragment else ()
        lit = [i for i in moment.sounding if notes[i].string is not None]
        coming = [i for i in moment.coming if notes[i].string is not None]
        marks += [_neck(self, stage), *(_live(self, stage, i, "string") for i in lit), _map(self, stage)]
        marks += [_live(self, stage, i, "next") for i in coming]
        marks += [_live(self, stage, i, "sounding") for i in lit]
        return Picture(float(stage.width), float(stage.height), tuple(marks))

    def least_height(self, stage: Stage) -> float:
        """The heading, the tightest neck, and the fret numbers."""
        words = (1.5 if self.heading else 0.0) + (1.25 if self.numbers else 0.0)
        return 2 * stage.size("gap") + words * stage.small_type + least_board(guitar_of(stage), stage)

    @property
    def known(self) -> Scale:
        """The scale itself."""
        return SCALES[ALSO_CALLED.get(self.scale, self.scale)]

    @property
    def tonic_class(self) -> int:
        """The tonic's pitch class."""
        return parse_pitch(f"{self.tonic}4") % 12


def guitar_of(stage: Stage) -> Guitar:
    """The fragment's guitar, or a usual one."""
    return stage.fragment.guitar if stage.fragment else Guitar()


@lru_cache(maxsize=64)
def position_of(view: Scalemap, guitar: Guitar) -> Position | None:
    """The position that is brought out; the last one where the number is too high."""
    if view.position <= 0:
        return None
    a_string = view.a_string or (2 if len(view.known.steps) <= 5 else 3)
    found = positions(guitar, view.known, view.tonic_class, a_string)
    return found[min(view.position, len(found)) - 1] if found else None


@lru_cache(maxsize=32)
def boards_of(view: Scalemap, stage: Stage) -> tuple[Board, ...]:
    """The neck under the map, with room for open strings; in a narrow room its halves, one over the other."""
    guitar, small = guitar_of(stage), stage.small_type
    edge, side = stage.size("gap"), stage.size("space") * 0.8
    top = small * 1.5 if view.heading else 0.0
    foot = small * 1.25 if view.numbers else 0.0
    box = Box(side, edge + top, stage.width - 2 * side, stage.height - 2 * edge - top - foot)
    position = position_of(view, guitar)
    opens = stage.size("note-radius") * 2.4
    if view.region == "position" and position is not None:
        frets = {fret for _, fret in position.places}
        least = box.width / (box.height * 0.8 / guitar.nut_mm * WIDEST)
        window = window_for(guitar, frets, least)
        return (Board(guitar, window, box, opens if window.opens else 0.0),)
    if box.height < box.width * NARROW or guitar.highest_fret < OCTAVE + 4:
        return (Board(guitar, whole_window(guitar), box, opens),)
    tall = (box.height - foot) / 2 - small * 0.3
    lower, upper = halves(guitar, OCTAVE)
    under = Box(box.x, box.bottom - tall, box.width, tall)
    return Board(guitar, lower, box._replace(height=tall), opens), Board(guitar, upper, under, 0.0)


def board_with(view: Scalemap, stage: Stage, fret: int) -> Board | None:
    """The board on which a fret is in sight."""
    return next((board for board in boards_of(view, stage) if in_sight(board, fret)), None)


def in_sight(board: Board, fret: int) -> bool:
    """Whether a fret's own space is in sight, or the open strings before the nut."""
    return board.inside(fret) if fret else board.window.opens


def places_of(view: Scalemap, board: Board) -> list[tuple[int, int, int]]:
    """Every place of the scale in sight: string, fret, degree."""
    found = []
    for string in range(1, board.guitar.string_count + 1):
        for fret in range(board.guitar.highest_fret + 1):
            degree = view.known.degree(view.tonic_class, board.guitar.pitch(string, fret))
            if degree is not None and in_sight(board, fret):
                found.append((string, fret, degree))
    return found


@lru_cache(maxsize=32)
def _neck(view: Scalemap, stage: Stage) -> Group:
    boards = boards_of(view, stage)
    return Group(tuple(mark for one in boards for mark in board_marks(one, stage, view.numbers)), name="neck")


@lru_cache(maxsize=32)
def _map(view: Scalemap, stage: Stage) -> Group:
    boards = boards_of(view, stage)
    position = position_of(view, boards[0].guitar)
    marks: list[Mark] = []
    for board in boards:
        for string, fret, degree in places_of(view, board):
            inner = position is None or (string, fret) in position.places
            marks.extend(_place(view, stage, board, (string, fret, degree), inner))
    if view.heading:
        marks.extend(_heading(view, stage, boards[0], position))
    return Group(tuple(marks), name="scale map")


def _shape(x: float, y: float, radius: float, tonic: bool) -> Outline:
    if tonic:
        side = radius * 1.8
        return rounded(Box(x - side / 2, y - side / 2, side, side), radius * 0.32)
    return circle(x, y, radius)


def _place(
    view: Scalemap, stage: Stage, board: Board, place: tuple[int, int, int], inner: bool
) -> list[Mark]:
    """One place: solid on the tonic, a ring elsewhere; a small dot outside of the position."""
    string, fret, degree = place
    look, (x, y) = stage.look, board.spot(string, fret)
    radius, tonic = board.radius(stage.size("note-radius")) * 0.86, degree == 1
    name = f"place {string}/{fret}"
    if not inner:
        return [Path(_shape(x, y, radius * 0.4, tonic), look.colour("past"), name=name)]
    stroke = Stroke(look.colour("note"), stage.line("ring") * 0.7)
    body = Path(_shape(x, y, radius, tonic), look.colour("note" if tonic else "panel"), stroke, name)
    label = _label(view, board.guitar, place)
    size = max(stage.smallest_text, min(stage.size("dot-digit"), radius * 1.5))
    face = "semibold" if tonic else "regular"
    if not label or text_width(label, face, size) > radius * 2.05 or size * 0.66 > radius * 1.8:
        return [body]
    colour = look.colour("note-text" if tonic else "ink")
    return [body, centred(label, x, y, size, colour, face, f"mark {string}/{fret}")]


def live_label(view: Scalemap, guitar: Guitar, string: int, fret: int) -> str:
    """What a note of the phrase says; outside of a scale of seven a degree with its accidental."""
    pitch = guitar.pitch(string, fret)
    here, above, below = (view.known.degree(view.tonic_class, pitch + step) for step in (0, 1, -1))
    if here is not None or view.labels != "degree":
        return _label(view, guitar, (string, fret, here or 0))
    if len(view.known.steps) != 7:
        return ""
    return f"♭{above}" if above in FLATTENED else f"♯{below}" if below else ""


def _label(view: Scalemap, guitar: Guitar, place: tuple[int, int, int]) -> str:
    string, fret, degree = place
    if view.labels == "degree":
        return str(degree)
    if view.labels == "none":
        return ""
    return _pretty(pitch_class_name(guitar.pitch(string, fret), "b" in view.tonic))


def _pretty(name: str) -> str:
    return name.replace("#", "♯").replace("b", "♭")


def _heading(view: Scalemap, stage: Stage, board: Board, position: Position | None) -> list[Mark]:
    """The scale's name, and which position is brought out."""
    small, look = stage.small_type, stage.look
    size = min(max(small, stage.size("body")), small * 1.2)
    y = stage.size("gap") + small * 0.66 + cap_height("semibold", size) / 2
    words = f"{_pretty(view.tonic)} {view.scale}"
    marks: list[Mark] = [
        Text(board.box.x, y, words, size, look.colour("ink"), "semibold", "start", "scale name")
    ]
    if position is not None:
        low, high = position.lowest, position.highest
        marks.append(
            Text(
                board.box.right,
                y,
                f"frets {low} to {high}",
                size,
                look.colour("ink-soft"),
                "regular",
                "end",
                "position frets",
            )
        )
    return marks


@lru_cache(maxsize=1024)
def _live(view: Scalemap, stage: Stage, index: int, state: Literal["sounding", "next", "string"]) -> Group:
    """A note of the phrase on the map: its mark, with its degree where it has one, or its shining string."""
    assert stage.fragment is not None
    note, name = stage.fragment.notes[index], f"note {index} {state}"
    string, fret = note.string or 1, note.fret or 0
    board = board_with(view, stage, fret)
    if board is None:
        return Group((), name=name)
    spot = Spot(board, stage, "none", note, index, live_label(view, board.guitar, string, fret))
    drawn = {"next": coming_marks, "sounding": sounding_marks, "string": ringing_marks}[state]
    return Group(tuple(drawn(spot)), name=name)
