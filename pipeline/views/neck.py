"""The neck view: the fretboard in true geometry, what sounds on it, the hand and where it goes next."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import pi, sin
from typing import Literal

from pipeline.drawing.picture import Box, Group, Mark, Picture
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note
from pipeline.views.board import (
    ACROSS,
    WIDEST,
    Board,
    board_marks,
    least_board,
    whole_window,
    window_for,
)
from pipeline.views.brush import panel
from pipeline.views.hand import Hand, hand_at, position_of, stage_stays
from pipeline.views.handmarks import hand_marks
from pipeline.views.notemarks import (
    Inside,
    Spot,
    coming_marks,
    natural,
    quiet_marks,
    ringing_marks,
    sounding_marks,
)
from pipeline.views.sounding import moment_at, stage_line
from pipeline.views.stage import Stage

EASY_GAP = 1.06
"""Between strings, in the smallest type sizes: a quiet mark is as large as a digit in it needs."""
VIBRATO_HZ = 5.5
"""How fast a shaken string moves on screen: a usual vibrato (common practice, no source)."""


@dataclass(frozen=True)
class Neck:
    """The fretboard with the scene's notes, in step with the sound.

    region     `used` shows the frets the music needs and a little around them, `whole` the whole neck
    inside     what stands in a note's mark: `finger`, `fret`, `name` or `none`
    phrase     quiet marks at every place of the phrase
    next       an outline round what comes next
    hand       where the hand is, where it goes next, and the trail of a shift
    numbers    fret numbers
    panel      a ground of the look's colour under the neck
    """

    region: Literal["used", "whole"] = "used"
    inside: Inside = "finger"
    phrase: bool = True
    next: bool = True
    hand: bool = True
    numbers: bool = True
    panel: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The neck at scene second t."""
        marks: list[Mark] = [panel(stage)] if self.panel else []
        if stage.fragment is not None:
            marks.extend(_on_neck(self, stage, t))
        return Picture(float(stage.width), float(stage.height), tuple(marks))

    def least_height(self, stage: Stage) -> float:
        """The hand, the tightest neck, and the fret numbers."""
        guitar = stage.fragment.guitar if stage.fragment else Guitar()
        return 2 * stage.size("gap") + sum(lanes_of(self, stage)) + least_board(guitar, stage)

    def easy_height(self, stage: Stage) -> float:
        """The same with strings so far apart that the quiet marks between them hold their words."""
        guitar = stage.fragment.guitar if stage.fragment else Guitar()
        board = (guitar.string_count - 1 + ACROSS) * EASY_GAP * stage.smallest_text
        return 2 * stage.size("gap") + sum(lanes_of(self, stage)) + board

    def left_out(self, stage: Stage) -> tuple[str, ...]:
        """Nothing: what sounds and what comes next always hold their words."""
        return ()


def played(stage: Stage) -> list[Note]:
    """The placed notes that some pass plays; all where nothing is played. A dead note may have no fret."""
    notes = stage.fragment.notes if stage.fragment else ()
    placed = [n for n in notes if n.string is not None and (n.fret is not None or n.dead)]
    if not stage.passes:
        return placed
    return [n for n in placed if any(n.onset in one.beats or n.grace for one in stage.passes)]


def has_hand(stage: Stage) -> bool:
    """Whether the hand is drawn: some note says where it is, and without music it stays at one place."""
    known = any(position_of(note) is not None for note in played(stage))
    return known and (bool(stage.passes) or len(stage_stays(stage)) == 1)


def lanes_of(view: Neck, stage: Stage) -> tuple[float, float]:
    """Room for the hand over the neck, and for fret numbers under it."""
    top = stage.small_type * 1.5 if view.hand and has_hand(stage) else 0.0
    return top, stage.small_type * 1.25 if view.numbers else 0.0


@lru_cache(maxsize=32)
def board_of(view: Neck, stage: Stage) -> Board:
    """The board of a stage: the same window for the whole scene, so that nothing jumps."""
    assert stage.fragment is not None
    top, bottom = lanes_of(view, stage)
    edge = stage.size("gap")
    side = stage.size("space") * 0.8
    box = Box(side, edge + top, stage.width - 2 * side, stage.height - 2 * edge - top - bottom)
    return fitted_board(view.region, stage, box, played(stage))


def fitted_board(region: str, stage: Stage, box: Box, notes: list[Note]) -> Board:
    """A board in a box whose window holds the notes (and the hand's reach), not stretched too far."""
    assert stage.fragment is not None
    guitar = stage.fragment.guitar
    opens = any(not n.fret and not natural(n) for n in notes)
    radius = stage.size("note-radius")
    frets = {f for n in notes for f in _reach(n) if f <= guitar.highest_fret}
    across = box.height * 0.8 / max(guitar.nut_mm, 1.0)
    least = box.width / (across * WIDEST)
    window = whole_window(guitar) if region == "whole" else window_for(guitar, frets, least)
    return Board(guitar, window, box, radius * 2.6 if opens else (radius * 0.5 if window.opens else 0.0))


def _reach(note: Note) -> list[int]:
    frets = [note.fret or 0]
    position = position_of(note)
    if position is not None:
        frets += [position, position + 3]
    if note.harmonic and note.harmonic.touch is not None and note.harmonic.kind == "natural":
        frets.append(round(note.harmonic.touch))
    return frets


@lru_cache(maxsize=32)
def _rest(view: Neck, stage: Stage) -> Group:
    board = board_of(view, stage)
    marks = board_marks(board, stage, view.numbers)
    return Group(tuple(marks), name="neck")


@lru_cache(maxsize=32)
def _phrase(view: Neck, stage: Stage) -> Group:
    board = board_of(view, stage)
    return Group(tuple(quiet_marks(board, stage, view.inside, played(stage))), name="phrase")


@lru_cache(maxsize=2048)
def _lit(view: Neck, stage: Stage, index: int, pushed: float) -> Group:
    assert stage.fragment is not None
    spot = Spot(board_of(view, stage), stage, view.inside, stage.fragment.notes[index], index)
    return Group(tuple(sounding_marks(spot, pushed)), name=f"note {index} sounding")


@lru_cache(maxsize=2048)
def _ringing(view: Neck, stage: Stage, index: int, pushed: float) -> Group:
    assert stage.fragment is not None
    spot = Spot(board_of(view, stage), stage, view.inside, stage.fragment.notes[index], index)
    return Group(tuple(ringing_marks(spot, pushed)), name=f"string of note {index}")


@lru_cache(maxsize=1024)
def _coming(view: Neck, stage: Stage, index: int) -> Group:
    assert stage.fragment is not None
    spot = Spot(board_of(view, stage), stage, view.inside, stage.fragment.notes[index], index)
    return Group(tuple(coming_marks(spot)), name=f"note {index} next")


def _on_neck(view: Neck, stage: Stage, t: Fraction) -> list[Mark]:
    assert stage.fragment is not None
    moment, notes = moment_at(stage, t), stage.fragment.notes
    under, over = _hand(view, stage, t) if view.hand else ([], [])
    lit = [
        (i, _pushed(view, stage, i, moment.beat, t)) for i in moment.sounding if notes[i].string is not None
    ]
    marks: list[Mark] = [_rest(view, stage), *under, *(_ringing(view, stage, *one) for one in lit)]
    if view.phrase:
        marks.append(_phrase(view, stage))
    if view.next:
        marks.extend(_coming(view, stage, i) for i in moment.coming if notes[i].string is not None)
    return [*marks, *(_lit(view, stage, *one) for one in lit), *over]


def _pushed(view: Neck, stage: Stage, index: int, beat: Fraction | None, t: Fraction) -> float:
    """How far a bend or a vibrato pushes the string aside, in pixels, down positive."""
    assert stage.fragment is not None
    note, line = stage.fragment.notes[index], stage_line(stage)
    if beat is None or not (note.bend or note.vibrato != "none"):
        return 0.0
    board = board_of(view, stage)
    side = 1 if (note.string or 1) <= (board.guitar.string_count + 1) // 2 else -1
    start, end = line.starts[index], line.ends[index]
    share = float((beat - start) / (end - start)) if end > start else 0.0
    push = min(1.0, bent(note, share) * 0.36)
    if note.vibrato != "none":
        wide = 0.10 if note.vibrato == "narrow" else 0.19
        push += wide * (0.5 - 0.5 * sin(2 * pi * VIBRATO_HZ * float(t) + pi / 2)) * min(1.0, share * 4)
    return round(side * push * board.gap, 2)


def bent(note: Note, share: float) -> float:
    """The semitones a note is bent by at a share (0 to 1) of its duration."""
    points = [(float(p.at), float(p.semitones)) for p in note.bend]
    if not points:
        return 0.0
    before = points[0] if points[0][0] <= share else (0.0, 0.0)
    for point in points:
        if point[0] > share:
            width = point[0] - before[0]
            return before[1] + (point[1] - before[1]) * ((share - before[0]) / width if width else 1.0)
        before = point
    return before[1]


def _hand(view: Neck, stage: Stage, t: Fraction) -> tuple[list[Mark], list[Mark]]:
    one, stays = stage.pass_at(t), stage_stays(stage)
    look = stage.look
    if one is None:
        hand = Hand(float(stays[0].position)) if len(stays) == 1 else None
    else:
        hand = hand_at(stays, one, float(t), look.seconds("glide"), look.seconds("leave") * 2)
    if hand is None:
        return [], []
    moment, notes = moment_at(stage, t), stage.fragment.notes if stage.fragment else ()
    fingers = tuple(sorted({notes[i].finger or 0 for i in moment.sounding}))
    return hand_marks(board_of(view, stage), stage, hand, fingers)
