"""The neck as drawn: true fret spacing and string fan in a box, a steady window of frets, what stands on it.

Along the neck every distance is true to scale; across it too, at a scale of its own, so that strings stay
apart on a small picture. String 1 is on top, as in tab. A left-handed neck is mirrored, its words are not.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from pipeline.drawing.outline import Pen, line, polygon, rounded
from pipeline.drawing.picture import Box, Mark, Path, Stroke
from pipeline.drawing.typeface import text_width
from pipeline.music.guitar import Guitar
from pipeline.views.signs import centred
from pipeline.views.stage import Stage

INLAYS = {3: 1, 5: 1, 7: 1, 9: 1, 12: 2, 15: 1, 17: 1, 19: 1, 21: 1, 24: 2, 27: 1, 29: 1, 31: 1, 33: 1, 36: 2}
"""Frets with position marks and how many (common practice, no source)."""
ACROSS = 1.1
"""The neck's edges beyond its outer strings, together, in string gaps."""
LEAST_GAP = 0.55
"""The least distance of strings on a neck, in small type sizes: their marks are still told apart."""
WIDEST = 1.7
"""The window is widened until a millimetre along is at most so many times one across."""


@dataclass(frozen=True)
class Window:
    """The stretch of neck that is shown, in millimetres from the nut; `opens` if its nut end is in sight."""

    left: float
    right: float
    opens: bool


def window_for(guitar: Guitar, frets: Iterable[int], least_mm: float) -> Window:
    """The window that shows the frets with one to each side and is at least `least_mm` long."""
    used = [fret for fret in frets if fret > 0]
    low, high = (min(used), max(used)) if used else (1, 4)
    low, high = max(1, low - 1), min(guitar.highest_fret, high + 1)
    turn = True
    while guitar.fret_mm(high) - guitar.fret_mm(low - 1) < least_mm and (
        low > 1 or high < guitar.highest_fret
    ):
        grow_low = (turn and low > 1) or high >= guitar.highest_fret
        low, high = (low - 1, high) if grow_low else (low, high + 1)
        turn = not turn
    left, right = guitar.fret_mm(low - 1), guitar.fret_mm(high)
    if low <= 2:
        return Window(guitar.fret_mm(0), right + (right - left) * 0.02, True)
    beyond = (guitar.fret_mm(low - 1) - guitar.fret_mm(low - 2)) * 0.3
    return Window(left - beyond, right + (right - left) * 0.02, False)


def least_board(guitar: Guitar, stage: Stage) -> float:
    """The least height of a neck's box, in pixels."""
    return (guitar.string_count - 1 + ACROSS) * LEAST_GAP * stage.small_type


def whole_window(guitar: Guitar) -> Window:
    """All frets."""
    right = guitar.fret_mm(guitar.highest_fret)
    return Window(guitar.fret_mm(0), right * 1.012, True)


def halves(guitar: Guitar, last: int) -> tuple[Window, Window]:
    """The frets up to `last`, and those after it with the wire of `last` at their left."""
    middle, right = guitar.fret_mm(last), guitar.fret_mm(guitar.highest_fret)
    beyond = (middle - guitar.fret_mm(last - 1)) * 0.3
    lower = Window(guitar.fret_mm(0), middle * 1.012, True)
    return lower, Window(middle - beyond, right + (right - middle) * 0.02, False)


@dataclass(frozen=True)
class Board:
    """A window of a guitar's neck in a box. `box` holds the strings' outermost places and their edge."""

    guitar: Guitar
    window: Window
    box: Box
    open_room: float
    """Room at the nut's end for open strings' marks."""

    @property
    def along(self) -> float:
        """Pixels a millimetre along the neck."""
        return (self.box.width - self.open_room) / (self.window.right - self.window.left)

    @cached_property
    def gap(self) -> float:
        """The distance of neighbouring strings at the wide end."""
        return self.box.height / (self.guitar.string_count - 1 + ACROSS)

    @cached_property
    def _across(self) -> float:
        """Pixels a millimetre across the neck."""
        end = self.guitar.fret_at(self.window.right)
        return (
            self.gap * (self.guitar.string_count - 1) / self.guitar.string_mm(self.guitar.string_count, end)
        )

    def x(self, mm: float) -> float:
        """Where a distance from the nut lies."""
        along = self.open_room + (mm - self.window.left) * self.along
        return self.box.right - along if self.guitar.left_handed else self.box.x + along

    def y(self, string: float, mm: float) -> float:
        """Where a string lies at a distance from the nut: the fan is centred on the box."""
        at = self.guitar.fret_at(max(mm, 0.0)) if mm < self.guitar.scale_mm else 1e3
        last = self.guitar.string_count
        width = self.guitar.string_mm(last, at) * self._across
        return self.box.centre[1] - width / 2 + width * (string - 1) / max(1, last - 1)

    @property
    def way(self) -> int:
        """+1 where the bridge lies to the right, -1 on a left-handed neck."""
        return -1 if self.guitar.left_handed else 1

    def middle_mm(self, fret: float) -> float:
        """The middle between a fret and the one before it."""
        return (self.guitar.fret_mm(fret) + self.guitar.fret_mm(fret - 1)) / 2

    def spot(self, string: int, fret: int) -> tuple[float, float]:
        """Where the mark of a note stands; an open string's stands before the nut."""
        if fret <= 0:
            mm = self.window.left
            return self.x(mm) - self.way * self.open_room * 0.5, self.y(string, mm)
        mm = self.middle_mm(fret)
        return self.x(mm), self.y(string, mm)

    def node(self, string: int, fret: float) -> tuple[float, float]:
        """The very place over a (fractional) fret."""
        mm = self.guitar.fret_mm(fret)
        return self.x(mm), self.y(string, mm)

    def radius(self, most: float) -> float:
        """The largest quiet mark: free of other strings, and nearly of its neighbours on the last fret."""
        high = self.guitar.fret_at(self.window.right)
        fret = (self.guitar.fret_mm(high) - self.guitar.fret_mm(high - 1)) * self.along
        return min(most, self.gap * 0.47, fret * 0.6)

    @property
    def frets(self) -> list[int]:
        """The frets whose wires are in sight."""
        return [
            f
            for f in range(1, self.guitar.highest_fret + 1)
            if self.window.left <= self.guitar.fret_mm(f) <= self.window.right
        ]

    def inside(self, fret: int) -> bool:
        """Whether a fret's own space is in sight."""
        return fret <= 0 or self.window.left <= self.middle_mm(fret) <= self.window.right

    def edge(self, side: int, mm: float) -> float:
        """The neck's edge over string 1 (-1) or under the last (+1)."""
        string = 1 if side < 0 else self.guitar.string_count
        return self.y(string, mm) + side * self.gap * 0.5


# what stands -------------------------------------------------------------------------------------------


def board_marks(board: Board, stage: Stage, numbers: bool = True) -> list[Mark]:
    """The neck at rest: wood, frets, nut or capo, inlays, strings, fret numbers."""
    marks: list[Mark] = [_wood(board, stage), *_inlays(board, stage), *_wires(board, stage)]
    marks += _strings(board, stage)
    marks += _nut(board, stage)
    if numbers:
        marks += fret_numbers(board, stage)
    return marks


def _wood(board: Board, stage: Stage) -> Mark:
    left, right = board.window.left, board.window.right
    corners = [(board.x(mm), board.edge(side, mm)) for mm, side in
               ((left, -1), (right, -1), (right, 1), (left, 1))]  # fmt: skip
    return Path(polygon(corners), stage.look.colour("ground"), name="neck")


def _wires(board: Board, stage: Stage) -> list[Mark]:
    stroke = Stroke(stage.look.colour("fret-wire"), stage.line("fret"), round_ends=False)
    marks: list[Mark] = []
    for fret in board.frets:
        mm = board.guitar.fret_mm(fret)
        outline = line(board.x(mm), board.edge(-1, mm), board.x(mm), board.edge(1, mm))
        marks.append(Path(outline, stroke=stroke, name=f"fret wire {fret}"))
    return marks


def _inlays(board: Board, stage: Stage) -> list[Mark]:
    """Short upright bars between the middle strings, clear of them, two at the octaves."""
    marks: list[Mark] = []
    fill = stage.look.colour("inlay").with_alpha(0.55)
    aside = board.gap / 2 * (board.guitar.string_count % 2)
    strong = stage.line("strong")
    tall, thick = board.gap * 0.56, min(max(strong, board.gap * 0.13), strong * 1.8)
    for fret in range(1, board.guitar.highest_fret + 1):
        count = INLAYS.get(fret + board.guitar.capo, 0)
        if not count or not board.inside(fret):
            continue
        mm = board.middle_mm(fret)
        for place in range(count):
            x = board.x(mm) + (place - (count - 1) / 2) * thick * 2.6
            y = board.box.centre[1] - aside
            bar = Box(x - thick / 2, y - tall / 2, thick, tall)
            marks.append(Path(rounded(bar, thick / 2), fill, name=f"inlay {fret}"))
    return marks


def string_weight(board: Board, stage: Stage, string: int) -> float:
    """Strings grow thicker towards the last one."""
    thin, thick = stage.line("string"), stage.line("string-thick")
    return thin + (thick - thin) * (string - 1) / max(1, board.guitar.string_count - 1)


def _strings(board: Board, stage: Stage) -> list[Mark]:
    marks: list[Mark] = []
    left, right = board.window.left, board.window.right
    for string in range(1, board.guitar.string_count + 1):
        outline = line(board.x(left), board.y(string, left), board.x(right), board.y(string, right))
        stroke = Stroke(stage.look.colour("string"), string_weight(board, stage, string), round_ends=False)
        marks.append(Path(outline, stroke=stroke, name=f"string {string}"))
    return marks


def _nut(board: Board, stage: Stage) -> list[Mark]:
    """The nut, or the capo as a heavier bar that reaches over the edges."""
    if not board.window.opens:
        return [_torn_edge(board, stage)]
    mm, weight = board.window.left, stage.line("strong")
    over = 0.0
    if board.guitar.capo:
        weight, over = weight * 2.2, board.gap * 0.16
    x, top, bottom = board.x(mm), board.edge(-1, mm) - over, board.edge(1, mm) + over
    bar = Box(x - weight / 2, top, weight, bottom - top)
    radius = weight / 2 if board.guitar.capo else 0.0
    name = "capo" if board.guitar.capo else "nut"
    return [Path(rounded(bar, radius), stage.look.colour("nut"), name=name)]


def _torn_edge(board: Board, stage: Stage) -> Mark:
    """A dashed line where the neck goes on towards a nut that is out of sight."""
    mm = board.window.left
    outline = line(board.x(mm), board.edge(-1, mm), board.x(mm), board.edge(1, mm))
    dash = (board.gap * 0.16, board.gap * 0.16)
    return Path(
        outline, stroke=Stroke(stage.look.colour("faint"), stage.line("bar"), False, dash), name="cut"
    )


def number_y(board: Board, small: float) -> float:
    """The middle of the row of fret numbers."""
    return board.box.bottom + small * 0.66


def fret_numbers(board: Board, stage: Stage) -> list[Mark]:
    """Numbers under the frets: all where there is room, else those of the inlays; a capo says its fret."""
    small = stage.small_type
    marks: list[Mark] = []
    shown = [f for f in range(1, board.guitar.highest_fret + 1) if board.inside(f)]
    room = min(
        ((board.guitar.fret_mm(f) - board.guitar.fret_mm(f - 1)) * board.along for f in shown), default=0.0
    )
    dense = room < text_width("00", "semibold", small) * 1.25
    taken = -1e9 if board.way > 0 else 1e9
    for fret in shown:
        marked = (fret + board.guitar.capo) in INLAYS
        x = board.x(board.middle_mm(fret))
        half = text_width(str(fret), "semibold", small) / 2 + small * 0.12
        if dense and (not marked or (x - half < taken if board.way > 0 else x + half > taken)):
            continue
        taken = x + board.way * half
        role, face = ("ink", "semibold") if marked else ("ink-soft", "regular")
        marks.append(centred(str(fret), x, number_y(board, small), small, stage.look.colour(role), face,
                             f"fret number {fret}"))  # fmt: skip
    if board.guitar.capo and board.window.opens:
        marks.append(_capo_word(board, stage, small))
    return marks


def _capo_word(board: Board, stage: Stage, small: float) -> Mark:
    word = f"capo {board.guitar.capo}"
    half = text_width(word, "regular", small) / 2
    x = board.x(board.window.left) - board.way * max(0.0, min(half, board.open_room) - half)
    inside = min(max(x - board.way * half * 0.4, board.box.x + half), board.box.right - half)
    return centred(
        word, inside, number_y(board, small), small, stage.look.colour("ink-soft"), "regular", "capo word"
    )


def string_path(board: Board, string: int, from_mm: float, pushed: float = 0.0) -> Pen:
    """The string from a point to the bridge's end of the window; `pushed` pixels off its place there."""
    right = board.window.right
    pen = Pen().move(board.x(from_mm), board.y(string, from_mm) + pushed)
    goal = board.guitar.scale_mm
    share = (right - from_mm) / (goal - from_mm)
    return pen.line(board.x(right), board.y(string, right) + pushed * (1 - share))
