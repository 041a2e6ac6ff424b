"""The readings view: two to four answers to where a phrase was played, on necks that move together."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from pipeline.drawing.outline import circle, line, polyline, rounded
from pipeline.drawing.picture import Box, Group, Mark, Path, Picture, Stroke, Text
from pipeline.drawing.typeface import cap_height
from pipeline.music.clues import KINDS
from pipeline.music.fragment import ClueMark, Fragment
from pipeline.reasoning.reading import Reading
from pipeline.views.board import Board, board_marks, least_board
from pipeline.views.brush import panel
from pipeline.views.hand import hand_at, stays_of
from pipeline.views.handmarks import hand_field
from pipeline.views.neck import fitted_board
from pipeline.views.notemarks import (
    Inside,
    Spot,
    coming_marks,
    place_of,
    quiet_marks,
    ringing_marks,
    sounding_marks,
)
from pipeline.views.rivalnames import FIRST, first_line, head_height, name_marks
from pipeline.views.sounding import line_of, moment_at, stage_line
from pipeline.views.stage import Stage
from pipeline.views.wrapping import wrapped

MOST = 4
TALLEST = 1.5
"""A neck's picture is at most so many times as tall as wide."""
MEANINGS = {kind.kind: kind.meaning for kind in KINDS}


@dataclass(frozen=True)
class Readings:
    """Rival readings of the scene's phrase on necks that move together; at most four are shown.

    arrange    `stacked`, `side` by side, or `auto`: whichever gives the larger necks
    inside     what stands in a note's mark: `finger`, `fret`, `name` or `none`
    differ     mark the places where the readings differ
    clues      show each clue as it comes, and which reading keeps it
    numbers    fret numbers
    panel      a ground of the look's colour under the view
    """

    arrange: Literal["auto", "stacked", "side"] = "auto"
    inside: Inside = "finger"
    differ: bool = True
    clues: bool = True
    numbers: bool = True
    panel: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The readings at scene second t."""
        marks: list[Mark] = [panel(stage)] if self.panel else []
        cells = cells_of(self, stage)
        clue = clue_at(stage, t) if self.clues else None
        for number in range(len(cells)):
            marks.extend(_cell(self, stage, number, t, clue))
        if clue is not None and cells:
            marks.append(_caption(self, stage, clue))
        return Picture(float(stage.width), float(stage.height), tuple(marks))

    def least_height(self, stage: Stage) -> float:
        """A name, the tightest neck and its fret numbers for each row of readings, and the clue."""
        if stage.fragment is None:
            return 0.0
        rows = max(1, len(stage.readings[:MOST])) if self.arrange == "stacked" else 1
        words = FIRST + (1.2 if self.numbers else 0.2)
        each = words * stage.small_type + least_board(stage.fragment.guitar, stage)
        between = (rows - 1) * stage.size("space") * 0.5
        return 2 * stage.size("gap") + rows * each + between + _caption_height(self, stage)


@dataclass(frozen=True, eq=False)
class Cell:
    """One reading where it stands."""

    reading: Reading
    fragment: Fragment
    box: Box
    head: Box
    board: Board
    differing: frozenset[int]


def _caption_lines(stage: Stage, clue: int) -> list[str]:
    assert stage.fragment is not None
    mark = stage.fragment.clues[clue]
    words = clue_words(mark)
    return wrapped(
        words, stage.width - stage.size("space") * 2.4 - stage.small_type * 1.2, "regular", stage.small_type
    )


def clue_words(mark: ClueMark) -> str:
    """What a clue says, in words."""
    value = f" {mark.value}" if mark.value else ""
    meaning = MEANINGS.get(mark.kind, "")
    return f"{mark.kind}{value}: {meaning}" if meaning else f"{mark.kind}{value}"


def _caption_height(view: Readings, stage: Stage) -> float:
    if not view.clues or stage.fragment is None or not stage.fragment.clues:
        return 0.0
    most = max(len(_caption_lines(stage, i)) for i in range(len(stage.fragment.clues)))
    return (most * 1.25 + 0.3) * stage.small_type


def differing(readings: tuple[Reading, ...], note: int) -> bool:
    """Whether readings place a note on different strings or frets."""
    return len({(r.places[note].string, r.places[note].fret) for r in readings}) > 1


def _grid(view: Readings, count: int, width: float, height: float) -> tuple[int, int]:
    """Columns and rows."""
    if view.arrange == "stacked":
        return 1, count
    if view.arrange == "side":
        return count, 1
    options = [(columns, -(-count // columns)) for columns in range(1, count + 1)]
    return min(options, key=lambda grid: abs((width / grid[0]) / (height / grid[1]) / 4.2 - 1))


@lru_cache(maxsize=16)
def cells_of(view: Readings, stage: Stage) -> tuple[Cell, ...]:
    """The readings laid out; nothing where there are none."""
    fragment, readings = stage.fragment, stage.readings[:MOST]
    if fragment is None or not readings:
        return ()
    edge, between, aside = stage.size("gap"), stage.size("space") * 0.5, stage.size("space") * 0.75
    height = stage.height - 2 * edge - _caption_height(view, stage)
    width = stage.width - stage.size("space") * 1.6
    columns, rows = _grid(view, len(readings), width, height)
    wide, tall = (width - (columns - 1) * aside) / columns, (height - (rows - 1) * between) / rows
    placed = [reading.on(fragment) for reading in readings]
    notes = [note for one in placed for note in one.notes if _played(stage, note.onset)]
    differ = frozenset(i for i in range(len(fragment.notes)) if differing(readings, i))
    small, cells = stage.small_type, []
    above = head_height(stage, [reading.name for reading in readings], wide)
    for number, (reading, one) in enumerate(zip(readings, placed, strict=True)):
        column, row = number % columns, number // columns
        box = Box(
            stage.size("space") * 0.8 + column * (wide + aside), edge + row * (tall + between), wide, tall
        )
        head = Box(box.x, box.y, box.width, above)
        foot = small * 1.2 if view.numbers else small * 0.2
        tallest = min(box.height - head.height - foot, box.width * TALLEST)
        room = Box(box.x, head.bottom, box.width, tallest)
        cells.append(Cell(reading, one, box, head, fitted_board("used", stage, room, notes), differ))
    return tuple(cells)


def _played(stage: Stage, onset: Fraction) -> bool:
    return not stage.passes or any(onset in one.beats for one in stage.passes)


# what stands -------------------------------------------------------------------------------------------


@lru_cache(maxsize=32)
def _standing(view: Readings, stage: Stage, number: int) -> Group:
    """A reading's neck, its quiet marks and its name."""
    cell = cells_of(view, stage)[number]
    marks = [*board_marks(cell.board, stage, view.numbers)]
    marks += name_marks(stage, cell.head, cell.reading.name, number)
    return Group(tuple(marks), name=f"reading {number}")


@lru_cache(maxsize=32)
def _phrase(view: Readings, stage: Stage, number: int) -> Group:
    cell = cells_of(view, stage)[number]
    played = [(i, n) for i, n in enumerate(cell.fragment.notes) if _played(stage, n.onset)]
    rival = [n for i, n in played if i in cell.differing and view.differ]
    marked = {place_of(note) for note in rival}
    agreed = [n for _, n in played if place_of(n) not in marked]
    marks = quiet_marks(cell.board, stage, view.inside, agreed)
    marks += quiet_marks(cell.board, stage, view.inside, rival, role="differ", heavy=True)
    return Group(tuple(marks), name=f"phrase {number}")


# what moves --------------------------------------------------------------------------------------------


@lru_cache(maxsize=4096)
def _lit(view: Readings, stage: Stage, number: int, index: int) -> tuple[Group, Group]:
    """The shining string and the mark of a sounding note."""
    cell = cells_of(view, stage)[number]
    spot = Spot(cell.board, stage, view.inside, cell.fragment.notes[index], index)
    marks = sounding_marks(spot)
    if view.differ and index in cell.differing:
        stroke = Stroke(stage.look.colour("differ"), stage.line("ring"))
        marks.append(Path(circle(*spot.place, spot.live_radius * 1.36), stroke=stroke, name="differs"))
    return (Group(tuple(ringing_marks(spot)), name=f"string of note {index}"),
            Group(tuple(marks), name=f"note {index} sounding"))  # fmt: skip


@lru_cache(maxsize=4096)
def _coming(view: Readings, stage: Stage, number: int, index: int) -> Group:
    cell = cells_of(view, stage)[number]
    spot = Spot(cell.board, stage, view.inside, cell.fragment.notes[index], index)
    return Group(tuple(coming_marks(spot)), name=f"note {index} next")


def _cell(view: Readings, stage: Stage, number: int, t: Fraction, clue: int | None) -> list[Mark]:
    moment = moment_at(stage, t)
    lit = [_lit(view, stage, number, i) for i in moment.sounding]
    marks: list[Mark] = [_standing(view, stage, number), *_hand(view, stage, number, t)]
    marks += [ring for ring, _ in lit]
    marks.append(_phrase(view, stage, number))
    marks += [_coming(view, stage, number, i) for i in moment.coming]
    marks += [mark for _, mark in lit]
    if clue is not None:
        marks.extend(_verdict(view, stage, number, clue))
    return marks


def _hand(view: Readings, stage: Stage, number: int, t: Fraction) -> list[Mark]:
    """The field that the hand covers."""
    cell, one = cells_of(view, stage)[number], stage.pass_at(t)
    stays = _stays(view, stage, number)
    if one is None or not stays:
        return []
    hand = hand_at(stays, one, float(t), stage.look.seconds("glide"), 0.0)
    return [hand_field(cell.board, stage, hand.position)] if hand else []


@lru_cache(maxsize=32)
def _stays(view: Readings, stage: Stage, number: int):  # type: ignore[no-untyped-def]
    fragment = cells_of(view, stage)[number].fragment
    return stays_of(fragment.notes, line_of(fragment))


# clues -------------------------------------------------------------------------------------------------


def clue_at(stage: Stage, t: Fraction) -> int | None:
    """The last clue whose note has begun in this pass; None before the first."""
    moment, line_ = moment_at(stage, t), stage_line(stage)
    if stage.fragment is None or moment.beat is None:
        return None
    begun = [
        (line_.starts[mark.note], i)
        for i, mark in enumerate(stage.fragment.clues)
        if mark.note < len(line_.starts) and moment.since <= line_.starts[mark.note] <= moment.beat
    ]
    return max(begun)[1] if begun and (moment.sounding or moment.beat > moment.since) else None


@lru_cache(maxsize=256)
def _caption(view: Readings, stage: Stage, clue: int) -> Group:
    """The clue in words, at the foot."""
    small = stage.small_type
    lines = _caption_lines(stage, clue)
    x = stage.size("space") * 0.8
    y = stage.height - stage.size("gap") - _caption_height(view, stage) + small * 0.3
    bar = Box(x, y + small * 0.12, stage.line("strong"), len(lines) * small * 1.25 - small * 0.1)
    marks: list[Mark] = [Path(rounded(bar, bar.width / 2), stage.look.colour("accent"), name="clue rule")]
    for number, words in enumerate(lines):
        baseline = y + small * 1.25 * (number + 0.5) + cap_height("regular", small) / 2
        marks.append(
            Text(
                x + small * 0.7,
                baseline,
                words,
                small,
                stage.look.colour("ink"),
                "regular",
                "start",
                f"clue line {number}",
            )
        )
    return Group(tuple(marks), name=f"clue {clue}")


@lru_cache(maxsize=256)
def _verdict(view: Readings, stage: Stage, number: int, clue: int) -> tuple[Group, ...]:
    """A tick where the reading keeps the clue, a cross where it breaks it, nothing where neither is said."""
    cell, small = cells_of(view, stage)[number], stage.small_type
    x, y, half = cell.head.right - small * 0.6, first_line(stage, cell.head), small * 0.34
    if clue in cell.reading.met:
        outline, role, name = (
            polyline(((x - half, y), (x - half * 0.2, y + half * 0.8), (x + half, y - half * 0.8))),
            "hand",
            "kept",
        )
    elif clue in cell.reading.broken:
        cross = (*line(x - half, y - half, x + half, y + half), *line(x - half, y + half, x + half, y - half))
        outline, role, name = cross, "warn", "broken"
    else:
        return ()
    stroke = Stroke(stage.look.colour(role), stage.line("strong"))
    return (Group((Path(outline, stroke=stroke, name=name),), name=f"verdict {name}"),)
