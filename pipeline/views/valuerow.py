"""Draws the row of note values under a strip: heads, stems, beams, flags, dots, rests, ties, tuplets."""

from dataclasses import dataclass
from functools import cached_property

from pipeline.drawing.outline import circle, line, rect, slur
from pipeline.drawing.picture import Box, Colour, Mark, Path
from pipeline.music.rhythm import Piece, Tuplet
from pipeline.views.brush import Brush
from pipeline.views.notevalues import Rhythm, flags_of, value_of
from pipeline.views.signs import centred, flags, note_head, rest
from pipeline.views.strip import Placed


def rhythm_marks(brush: Brush, placed: Placed) -> list[Mark]:
    """The row of one piece of the strip."""
    piece = placed.piece
    xs = tuple(zip((column.start for column in piece.columns), placed.xs, strict=True))
    row = _Row(brush, placed, xs, brush.sheet.rhythms[piece.measure])
    return [*row.signs(), *row.beams(), *row.numbers()]


@dataclass(frozen=True)
class _Row:
    brush: Brush
    placed: Placed
    places: tuple[tuple[object, float], ...]
    rhythm: Rhythm

    @cached_property
    def xs(self) -> dict[object, float]:
        return dict(self.places)

    @cached_property
    def own(self) -> dict[int, Piece]:
        """The signs that start in this piece, by their index in the measure."""
        return {i: sign for i, sign in enumerate(self.rhythm.signs) if sign.start in self.xs}

    @property
    def small(self) -> float:
        return self.brush.sheet.sizes.small

    @property
    def lane(self) -> float:
        return self.brush.sheet.sizes.lane("rhythm") or 0.0

    @property
    def head_y(self) -> float:
        return self.lane - self.small * 0.71

    @property
    def stem_y(self) -> float:
        return self.lane + self.small * 0.25

    @property
    def ink(self) -> Colour:
        return self.brush.colour("ink-soft")

    @property
    def head(self) -> float:
        return self.small * 0.40

    @property
    def thin(self) -> float:
        return self.brush.weight("stem")

    def stem_x(self, sign: Piece) -> float:
        return self.xs[sign.start] - self.head / 2 + self.thin / 2

    def signs(self) -> list[Mark]:
        beamed = {index for index, _ in self.rhythm.beamed}
        marks: list[Mark] = []
        for index, sign in self.own.items():
            x = self.xs[sign.start]
            marks.extend(self._note(sign, x, index in beamed) if sign.event.notes else self._rest(sign, x))
            marks.extend(self._dots(sign, x))
            marks.extend(self._tie(sign, x))
        return marks

    def _rest(self, sign: Piece, x: float) -> list[Mark]:
        if len(self.rhythm.signs) == 1:
            x = (self.xs[sign.start] + self.placed.right) / 2
        middle = (self.head_y + self.stem_y) / 2
        return list(rest(value_of(sign), x, middle, self.small * 1.05, self.ink))

    def _note(self, sign: Piece, x: float, beamed: bool) -> list[Mark]:
        value, stem = value_of(sign), self.stem_x(sign)
        marks: list[Mark] = [note_head(x, self.head_y, self.head, value >= 2, self.ink)]
        if value < 4:
            box = Box(stem - self.thin / 2, self.head_y, self.thin, self.stem_y - self.head_y)
            marks.append(Path(rect(box), self.ink, name="stem"))
        if flags_of(sign) and not beamed:
            marks.append(flags(stem, self.stem_y, flags_of(sign), self.small * 0.9, False, self.ink))
        return marks

    def _dots(self, sign: Piece, x: float) -> list[Mark]:
        start = x + (self.head * 0.85 if sign.event.notes else self.small * 0.5)
        y = self.head_y if sign.event.notes else (self.head_y + self.stem_y) / 2 - self.small * 0.16
        return [
            Path(circle(start + dot * self.small * 0.24, y, self.small * 0.075), self.ink, name="dot")
            for dot in range(sign.dots)
        ]

    def _tie(self, sign: Piece, x: float) -> list[Mark]:
        """A bow from the value before, where the sound goes on."""
        notes = [self.brush.sheet.fragment.notes[i] for i in sign.event.notes]
        if not notes or (sign.first and any(note.attack != "tie" for note in notes)):
            return []
        earlier = [at for at, other in self.own.items() if other.start < sign.start and other.event.notes]
        left = self.xs[self.own[max(earlier)].start] if earlier else x - self.small
        y, inset = self.head_y - self.head * 0.5, self.head * 0.3
        outline = slur(left + inset, y, x - inset, y, self.small * 0.16, self.small * 0.08)
        return [Path(outline, self.ink, name="tie")]

    def beams(self) -> list[Mark]:
        """A beam a level from its `begin` to its `end`, and stubs for the hooks.

        Where a row ends under a beam, the beam goes on a little, and the next row begins with it.
        """
        marks: list[Mark] = []
        begun: dict[int, float] = {}
        stub = self.small * 0.34
        x = 0.0
        for index, words in self.rhythm.beamed:
            if index not in self.own:
                continue
            x = self.stem_x(self.own[index])
            for level, word in enumerate(words):
                if word == "begin":
                    begun[level] = x
                elif word == "continue":
                    begun.setdefault(level, x - 2 * stub)
                elif word == "end":
                    marks.append(self._beam(begun.pop(level, x - 2 * stub), x, level))
                elif word == "forward hook":
                    marks.append(self._beam(x, x + stub, level))
                elif word == "backward hook":
                    marks.append(self._beam(x - stub, x, level))
        return marks + [self._beam(left, x + 2 * stub, level) for level, left in begun.items()]

    def _beam(self, left: float, right: float, level: int) -> Mark:
        thick = self.small * 0.15
        y = self.stem_y - level * self.small * 0.24
        box = Box(left - self.thin / 2, y - thick, right - left + self.thin, thick)
        return Path(rect(box), self.ink, name="beam")

    def numbers(self) -> list[Mark]:
        marks: list[Mark] = []
        for tuplet in self.rhythm.tuplets:
            members = [i for i, sign in enumerate(self.rhythm.signs) if sign.tuplet == tuplet]
            here = [i for i in members if i in self.own]
            if members[0] in here:
                marks.extend(self._number(tuplet, here))
        return marks

    def _number(self, tuplet: Tuplet, members: list[int]) -> list[Mark]:
        """The number under its beam, or in a bracket where no beam holds it together."""
        left, right = self.stem_x(self.own[members[0]]), self.stem_x(self.own[members[-1]])
        middle, y, words = (left + right) / 2, self.lane + self.small * 0.64, str(tuplet.actual)
        text = centred(words, middle, y, self.small, self.ink, "semibold", f"tuplet {float(tuplet.start):g}")
        if any(set(members) <= set(run) for run in self.rhythm.runs()):
            return [text]
        away, marks = self.small * 0.42 * len(words), list[Mark]([text])
        for a, b in ((left, middle - away), (middle + away, right)):
            if b > a:
                stroke = self.brush.stroke("ink-soft", self.thin)
                marks.append(Path(line(a, y, b, y), stroke=stroke, name="bracket"))
        return marks
