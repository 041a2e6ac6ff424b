"""Marks of notes on a neck: quiet ones of the phrase, an outline for what comes, a solid one for what sounds.

A harmonic is a diamond over its very node; everything else stands between the frets, round, or with a point
down to the string where the other hand taps it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from pipeline.drawing.outline import Pen, circle, diamond, polygon
from pipeline.drawing.picture import Mark, Outline, Path, Stroke
from pipeline.drawing.typeface import text_width
from pipeline.music.note import Note
from pipeline.music.pitch import pitch_class_name
from pipeline.views.board import Board, string_path, string_weight
from pipeline.views.labels import LETTERS, fret_text
from pipeline.views.signs import centred, dead
from pipeline.views.stage import Stage

Inside = Literal["finger", "fret", "name", "none"]
QUIET, COMING, SOUNDING, DOT = 0.74, 1.0, 1.12, 0.3
"""Sizes of the marks against the look's radius."""
LEAST_DOT = 0.16
"""The least radius of a dot, in small type sizes."""


@dataclass(frozen=True)
class Spot:
    """A note on a board."""

    board: Board
    stage: Stage
    inside: Inside
    note: Note
    index: int = 0
    words: str | None = None
    """What the mark says, where that is not what `inside` says."""

    @property
    def radius(self) -> float:
        return self.board.radius(self.stage.size("note-radius"))

    @property
    def live_radius(self) -> float:
        """Of a mark that sounds or comes next: never too small to be read."""
        return max(self.radius, self.stage.smallest_text * 0.56)

    @property
    def harmonic(self) -> bool:
        return self.note.harmonic is not None

    @property
    def place(self) -> tuple[float, float]:
        """The mark's middle: a natural harmonic's node, else between the frets."""
        note = self.note
        if natural(note):
            return self.board.node(note.string or 1, float(touch_of(note)))
        return self.board.spot(note.string or 1, note.fret or 0)

    @property
    def millimetres(self) -> float:
        """Where the string is stopped, from the nut."""
        note = self.note
        if not note.fret or natural(note):
            return self.board.window.left
        return self.board.middle_mm(note.fret)

    def outline(self, x: float, y: float, radius: float) -> Outline:
        if self.harmonic:
            return diamond(x, y, radius * 2.3, radius * 2.3)
        return tapped(x, y, radius) if self.note.attack == "tap" else circle(x, y, radius)

    @property
    def label(self) -> str:
        return label_in(self.note, self.inside, self.stage) if self.words is None else self.words


def tapped(x: float, y: float, radius: float) -> Outline:
    """A tapped note's mark about (x, y): flat on top, with a point down, like a fingertip from above."""
    side, top, shoulder, tip = radius * 0.95, radius * 0.9, radius * 0.5, radius * 1.3
    return polygon(
        (
            (x - side, y - top),
            (x + side, y - top),
            (x + side, y + shoulder),
            (x, y + tip),
            (x - side, y + shoulder),
        )
    )


def natural(note: Note) -> bool:
    """Whether it is a natural harmonic: touched over a node, not stopped."""
    return note.harmonic is not None and note.harmonic.kind == "natural"


def touch_of(note: Note) -> float:
    """The touched fret of a harmonic."""
    if note.harmonic is not None and note.harmonic.touch is not None:
        return float(note.harmonic.touch)
    return float(note.fret or 0)


def label_in(note: Note, inside: Inside, stage: Stage) -> str:
    """What a mark says: a finger, a fret, a pitch name or nothing. An open string has no finger: 0; what
    the other hand taps has none either, and says what the tab says."""
    if inside == "none" or note.dead:
        return ""
    if natural(note) and inside in ("fret", "finger") and not note.finger:
        return fret_text(Fraction(touch_of(note)).limit_denominator(100)) if inside == "fret" else ""
    if inside == "fret" or (inside == "finger" and note.fret == 0):
        return str(note.fret)
    if inside == "finger" and note.attack == "tap" and note.finger is None:
        return LETTERS["tap"]
    if inside == "finger":
        return "" if note.finger is None else "T" if note.finger == 0 else str(note.finger)
    flats = stage.fragment.flats if stage.fragment else False
    return (
        "" if note.pitch is None else pitch_class_name(note.pitch, flats).replace("#", "♯").replace("b", "♭")
    )


def _written(spot: Spot, label: str, radius: float, x: float, y: float, role: str, face: str) -> list[Mark]:
    """The label, where it fits the mark at a size that may be read."""
    size = max(spot.stage.smallest_text, min(spot.stage.size("dot-digit"), radius * 1.5))
    colour = spot.stage.look.colour(role)
    if spot.note.dead:
        weight = spot.stage.line("ring")
        return [Path(dead(x, y, radius * 0.9), stroke=Stroke(colour, weight), name=f"dead {spot.index}")]
    if not label or text_width(label, face, size) > radius * 1.9 or size * 0.66 > radius * 1.8:
        return []
    return [centred(label, x, y, size, colour, face, f"mark {spot.index}")]


def place_of(note: Note) -> tuple[int, int, bool]:
    """String, fret and whether it is touched over a node: notes with one place share a mark."""
    return note.string or 1, note.fret or 0, natural(note)


def quiet_marks(board: Board, stage: Stage, inside: Inside, notes: Iterable[Note], role: str = "ink-soft",
                heavy: bool = False) -> list[Mark]:  # fmt: skip
    """One quiet mark at every place that is played, with its label where every note there agrees on it.

    Where they do not, or there is no room for it, a dot: an empty circle would look as if something were
    missing in it.
    """
    places: dict[tuple[int, int, bool], list[Note]] = {}
    for note in notes:
        if board.inside(note.fret or 0):
            places.setdefault(place_of(note), []).append(note)
    marks: list[Mark] = []
    for every in places.values():
        group = [note for note in every if not note.dead] or every
        plain = min(group, key=lambda note: (note.harmonic is not None, note.attack == "tap"))
        labels = {label_in(note, inside, stage) for note in group}
        spot = Spot(board, stage, inside, plain)
        agreed = labels.pop() if len(labels) == 1 else ""
        marks.extend(_quiet(spot, agreed, role, heavy))
    return marks


def _dot(spot: Spot, role: str, heavy: bool) -> Mark:
    """A place without words."""
    (x, y), radius = spot.place, max(spot.radius * DOT, spot.stage.small_type * LEAST_DOT)
    radius *= 1.3 if heavy else 1.0
    return Path(
        spot.outline(x, y, radius),
        spot.stage.look.colour(role),
        name=f"place {spot.note.string}/{spot.note.fret}",
    )


def _quiet(spot: Spot, label: str, role: str, heavy: bool) -> list[Mark]:
    look, (x, y), radius = spot.stage.look, spot.place, spot.radius * QUIET
    stroke = Stroke(look.colour(role), spot.stage.line("ring") * (0.9 if heavy else 0.55))
    name = f"place {spot.note.string}/{spot.note.fret}"
    body = Path(spot.outline(x, y, radius), look.colour("panel"), stroke, name)
    written = _written(spot, label, radius, x, y, role, "semibold" if heavy else "regular")
    if spot.note.dead:
        return written
    return [body, *written] if written or spot.inside == "none" else [_dot(spot, role, heavy)]


def coming_marks(spot: Spot) -> list[Mark]:
    """A strong outline round the place of what comes next."""
    look, (x, y), radius = spot.stage.look, spot.place, spot.live_radius * COMING
    weight = spot.stage.line("ring")
    body = Path(
        spot.outline(x, y, radius - weight / 2),
        look.colour("panel"),
        Stroke(look.colour("next"), weight),
        "next",
    )
    return [body, *_written(spot, spot.label, radius, x, y, "ink", "bold")]


def ringing_marks(spot: Spot, pushed: float = 0.0) -> list[Mark]:
    """The string of a sounding note, shining up to the bridge; a bend pushes it `pushed` pixels aside, and a
    dead note's does not ring."""
    if spot.note.dead:
        return []
    lit, string = spot.stage.look.colour("sounding"), spot.note.string or 1
    weight = max(string_weight(spot.board, spot.stage, string) * 1.5, spot.stage.line("ring"))
    marks: list[Mark] = [
        Path(
            string_path(spot.board, string, spot.millimetres, pushed).outline,
            stroke=Stroke(lit, weight, False),
            name=f"ring {spot.index}",
        )
    ]
    if pushed:
        marks.insert(0, _pulled_string(spot, pushed))
    return marks


def sounding_marks(spot: Spot, pushed: float = 0.0) -> list[Mark]:
    """A solid mark on the note that sounds."""
    (x, y), radius = spot.place, spot.live_radius * SOUNDING
    y += pushed
    marks: list[Mark] = [Path(spot.outline(x, y, radius), spot.stage.look.colour("sounding"), name="lit")]
    marks.extend(_written(spot, spot.label, radius, x, y, "sounding-text", "black"))
    return [*marks, *_touched(spot)]


def _pulled_string(spot: Spot, pushed: float) -> Mark:
    """The silent part of a bent string, from the nut's end to the finger."""
    x, y = spot.place[0], spot.place[1] + pushed
    string, left = spot.note.string or 1, spot.board.window.left
    pen = Pen().move(spot.board.x(left), spot.board.y(string, left)).line(x, y)
    stroke = Stroke(spot.stage.look.colour("string"), string_weight(spot.board, spot.stage, string), False)
    return Path(pen.outline, stroke=stroke, name="pulled string")


def _touched(spot: Spot) -> list[Mark]:
    """The place an artificial harmonic is touched at, where it is in sight."""
    harmonic = spot.note.harmonic
    if harmonic is None or harmonic.kind != "artificial" or harmonic.touch is None:
        return []
    if spot.board.guitar.fret_mm(float(harmonic.touch)) > spot.board.window.right:
        return []
    x, y = spot.board.node(spot.note.string or 1, float(harmonic.touch))
    stroke = Stroke(spot.stage.look.colour("sounding"), spot.stage.line("ring"))
    size = spot.radius * 1.6
    return [Path(diamond(x, y, size, size), spot.stage.look.colour("panel"), stroke, "touch")]
