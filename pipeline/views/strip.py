"""Systems of a strip: pieces side by side in rows, broken and stretched to a width.

Nothing here has a colour. x counts from the left of a system, y from its top.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from pipeline.drawing.typeface import text_width
from pipeline.views.columns import Column, Piece, Sheet, note_reach, offsets, piece_width
from pipeline.views.glide import Glide, glide_through
from pipeline.views.labels import string_name


@dataclass(frozen=True)
class Placed:
    """A piece where it stands in its system."""

    piece: Piece
    x: float
    width: float
    xs: tuple[float, ...]

    @property
    def right(self) -> float:
        return self.x + self.width


@dataclass(frozen=True)
class System:
    """A row of pieces. `note_x` is the middle of every note's label."""

    placed: tuple[Placed, ...]
    prefix: float
    opening: float
    """Where the strings begin: at the prefix's end, or before it where a clef stands over them."""
    width: float
    note_x: tuple[tuple[int, float], ...]

    @property
    def start(self) -> Fraction:
        return self.placed[0].piece.start

    @property
    def end(self) -> Fraction:
        return self.placed[-1].piece.end

    @cached_property
    def xs(self) -> dict[int, float]:
        return dict(self.note_x)

    @cached_property
    def glide(self) -> Glide:
        """From beats to x: through every column, resting nowhere, never going back."""
        points = [
            (float(column.start), x)
            for one in self.placed
            for column, x in zip(one.piece.columns, one.xs, strict=True)
        ]
        opening = (float(self.start), self.placed[0].x + self.placed[0].piece.lead * 0.6)
        head = [opening] if not points or points[0][0] > float(self.start) else []
        return glide_through([*head, *points, (float(self.end), self.placed[-1].right)])


def meter_left(sheet: Sheet, placed: "Placed") -> float:
    """Where a meter starts in its system."""
    repeat = any(r.first == placed.piece.measure for r in sheet.fragment.repeats)
    return placed.x + sheet.sizes.gap * (1.05 if repeat else 0.5)


def prefix_width(sheet: Sheet) -> float:
    """Room of the tuning's letters at the left of a system."""
    if not sheet.wants.tuning:
        return sheet.wants.clef
    letters = (string_name(sheet.fragment, s) for s in range(1, sheet.sizes.strings + 1))
    return (
        max(text_width(t, "semibold", sheet.sizes.small) for t in letters)
        + sheet.sizes.small * 0.45
        + sheet.wants.clef
    )


def place(sheet: Sheet, pieces: Sequence[Piece], stretch: float, squeeze: float = 1.0) -> System:
    """A system at a stretch; `squeeze` below 1 narrows all distances where nothing else helps."""
    prefix = prefix_width(sheet)
    x, placed, note_x = prefix, [], []
    for piece in pieces:
        steps, width = offsets(sheet, piece, stretch)
        xs = tuple(x + step * squeeze for step in steps)
        placed.append(Placed(piece, x, width * squeeze, xs))
        for column, at in zip(piece.columns, xs, strict=True):
            note_x.extend(_note_places(sheet, column, at))
        x += width * squeeze
    return System(tuple(placed), prefix, prefix - sheet.wants.clef, x, tuple(note_x))


def _note_places(sheet: Sheet, column: Column, x: float) -> list[tuple[int, float]]:
    places = [(index, x) for index in column.notes]
    reach = max((max(note_reach(sheet, i)[0], sheet.signed.get(i, 0.0)) for i in column.notes), default=0.0)
    at = x - reach
    for index in reversed(column.graces):
        left, right = sheet.grace_room(index)
        at -= right
        places.append((index, at))
        at -= left
    return places


def fill(sheet: Sheet, pieces: Sequence[Piece], width: float, most: float = 4.0) -> System:
    """A system stretched to `width`, by no more than `most`."""
    room = width - prefix_width(sheet)

    def total(stretch: float) -> float:
        return sum(piece_width(sheet, p, stretch) for p in pieces)

    if total(0.0) > room:
        return place(sheet, pieces, 0.0, room / total(0.0))
    low, high = 0.0, most
    if total(most) > room:
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if total(middle) < room else (low, middle)
        return place(sheet, pieces, low)
    return place(sheet, pieces, most)


def broken(sheet: Sheet, pieces: Sequence[Piece], width: float, ease: float = 0.95) -> list[list[Piece]]:
    """Pieces in as few rows as hold them at an easy spacing, and of these the evenest."""
    room = width - prefix_width(sheet)
    tight = [piece_width(sheet, p, 0.0) for p in pieces]
    easy = [piece_width(sheet, p, ease) for p in pieces]
    best: list[tuple[int, float, int]] = [(0, 0.0, 0)]
    for end in range(1, len(pieces) + 1):
        options = []
        for start in range(end - 1, -1, -1):
            if start < end - 1 and (sum(tight[start:end]) > room or sum(easy[start:end]) > room):
                break
            slack = (room - sum(easy[start:end])) / room
            options.append((best[start][0] + 1, best[start][1] + slack * slack, start))
        best.append(min(options))
    rows: list[list[Piece]] = []
    end = len(pieces)
    while end > 0:
        start = best[end][2]
        rows.insert(0, list(pieces[start:end]))
        end = start
    return rows
