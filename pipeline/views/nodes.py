"""The nodes view: where a string is touched for each harmonic, along its true length."""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import pi, sin

from pipeline.drawing.outline import diamond, line, rounded, smooth
from pipeline.drawing.picture import Box, Group, Mark, Path, Picture, Stroke
from pipeline.drawing.typeface import text_width
from pipeline.music.guitar import Guitar
from pipeline.music.harmonics import HIGHEST_PARTIAL, Node, deviation, nodes, semitones
from pipeline.music.note import Note
from pipeline.music.pitch import pitch_name
from pipeline.views.board import INLAYS
from pipeline.views.brush import panel
from pipeline.views.labels import string_name
from pipeline.views.notemarks import natural, touch_of
from pipeline.views.signs import centred
from pipeline.views.sounding import moment_at, stage_line
from pipeline.views.stage import Stage

NEAR_FRETS = 0.3
"""A harmonic's touch lights a node that is at most so many frets away."""

FOOT, ROW = 1.3, 1.25
"""The height of the fret numbers, and the least height of a partial's row, in small type sizes."""


@dataclass(frozen=True)
class Nodes:
    """The nodes of one string: a row a partial, each node where the string is touched for it.

    string     which string; 0 takes the one of the harmonic that sounds or comes next, else the third
    fret       where the string is stopped, 0 is open; by default where that harmonic is
    partials   the highest partial shown, 2 to 9
    pitches    what each partial sounds, with its distance from the tempered pitch in cents
    shape      how the string swings in the partial that sounds
    panel      a ground of the look's colour under the view
    """

    string: int = 0
    fret: int | None = None
    partials: int = 6
    pitches: bool = True
    shape: bool = True
    panel: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The nodes at scene second t."""
        marks: list[Mark] = [panel(stage)] if self.panel else []
        if stage.fragment is not None:
            stop = stop_at(self, stage, t)
            marks.append(_standing(self, stage, stop))
            own, notes = harmonics_of(stage, stop.string), stage.fragment.notes
            sounding = (i for i in moment_at(stage, t).sounding if i in own)
            marks += (_lit(self, stage, stop, i) for i in sounding if stopped(notes[i]) == stop.fret)
        return Picture(float(stage.width), float(stage.height), tuple(marks))

    def least_height(self, stage: Stage) -> float:
        """A row a partial, and the fret numbers: where there is less, the highest partials are left out."""
        return 2 * edge_of(stage) + (FOOT + self.rows * ROW) * stage.small_type

    @property
    def rows(self) -> int:
        """How many partials are asked for, from the second on."""
        return max(min(self.partials, HIGHEST_PARTIAL) - 1, 1)


def edge_of(stage: Stage) -> float:
    """Free room at the top and bottom."""
    return stage.size("gap") * 1.5


@dataclass(frozen=True)
class Stop:
    """The string that is shown, and the fret it is stopped at."""

    string: int
    fret: int


@lru_cache(maxsize=128)
def harmonics_of(stage: Stage, string: int) -> tuple[int, ...]:
    """The harmonics that are played on a string, on any where it is 0, in order of time."""
    notes, line_ = stage.fragment.notes if stage.fragment else (), stage_line(stage)
    return tuple(
        i for i in line_.order
        if notes[i].harmonic is not None and string in (0, notes[i].string) and notes[i].string
        and (not stage.passes or any(notes[i].onset in one.beats for one in stage.passes))
    )  # fmt: skip


def stop_at(view: Nodes, stage: Stage, t: Fraction) -> Stop:
    """What is shown at a moment: the harmonic that sounds, else the one that comes next, else the last."""
    assert stage.fragment is not None
    guitar, moment, line_ = stage.fragment.guitar, moment_at(stage, t), stage_line(stage)
    own = harmonics_of(stage, min(view.string, guitar.string_count))
    beat = moment.beat if moment.beat is not None else Fraction(0)
    index = next((i for i in own if i in moment.sounding), None)
    if index is None:
        index = next((i for i in own if line_.starts[i] >= beat), own[-1] if own else None)
    if index is None:
        return Stop(min(view.string or 3, guitar.string_count), view.fret or 0)
    note = stage.fragment.notes[index]
    return Stop(note.string or 1, stopped(note) if view.fret is None else view.fret)


def stopped(note: Note) -> int:
    """The fret that a harmonic's string is stopped at: a natural harmonic is only touched."""
    return 0 if natural(note) else note.fret or 0


@dataclass(frozen=True, eq=False)
class Plan:
    """Where things are: the string's ends, a row a partial, the row of fret numbers."""

    guitar: Guitar
    stop: Stop
    left: float
    right: float
    rows: dict[int, float]
    pitch: float
    small: float
    frets_y: float

    def x(self, share: float) -> float:
        """Where a share of the sounding length from the stop lies; mirrored for left hands."""
        at = self.left + (self.right - self.left) * share
        return self.left + self.right - at if self.guitar.left_handed else at

    def fret_x(self, fret: float) -> float:
        """Where a fret lies: of the length from the stop to the bridge each semitone takes a like share."""
        return self.x(1.0 - 2.0 ** (-(fret - self.stop.fret) / 12.0))


@lru_cache(maxsize=128)
def plan_of(view: Nodes, stage: Stage, stop: Stop) -> Plan:
    """Rows from the second partial down, as many as the height holds in legible type."""
    assert stage.fragment is not None
    small = stage.small_type
    edge, side = edge_of(stage), stage.size("space") * 0.8
    foot = small * FOOT
    room = stage.height - 2 * edge - foot
    count = max(1, min(view.rows, int(room / (small * ROW) + 1e-6)))
    pitch = min(room / count, small * 2.6)
    top = edge + (room - pitch * count) / 2
    rows = {partial: top + pitch * (place + 0.5) for place, partial in enumerate(range(2, 2 + count))}
    name_room = max(text_width(name, "semibold", small) for name in _ordinals(count)) + small * 0.8
    pitch_room = text_width("A♯8 −31 ¢", "regular", small) + small * 0.8 if view.pitches else small * 0.3
    return Plan(
        stage.fragment.guitar,
        stop,
        side + name_room,
        stage.width - side - pitch_room,
        rows,
        pitch,
        small,
        top + pitch * count + foot * 0.62,
    )


def _ordinals(count: int) -> list[str]:
    return [str(partial) for partial in range(2, 2 + count)]


@lru_cache(maxsize=128)
def _standing(view: Nodes, stage: Stage, stop: Stop) -> Group:
    plan = plan_of(view, stage, stop)
    marks: list[Mark] = [*_ends(plan, stage), *_frets(plan, stage)]
    for partial, y in plan.rows.items():
        marks.extend(_row(view, stage, plan, partial, y))
    return Group(tuple(marks), name="nodes")


def _ends(plan: Plan, stage: Stage) -> list[Mark]:
    """The stop and the bridge."""
    top, bottom = min(plan.rows.values()) - plan.pitch / 2, max(plan.rows.values()) + plan.pitch / 2
    weight = stage.line("strong")
    marks: list[Mark] = []
    for share in (0.0, 1.0):
        box = Box(plan.x(share) - weight / 2, top, weight, bottom - top)
        marks.append(
            Path(rounded(box, weight / 2), stage.look.colour("nut"), name="stop" if share == 0 else "bridge")
        )
    return marks


def _frets(plan: Plan, stage: Stage) -> list[Mark]:
    """The string's letter; thin fret wires, and numbers where there is room, the stop first."""
    assert stage.fragment is not None
    top, bottom = min(plan.rows.values()) - plan.pitch / 2, max(plan.rows.values()) + plan.pitch / 2
    start, small, ink = plan.left - plan.small * 0.55, plan.small, stage.look.colour("ink")
    letter = string_name(stage.fragment, plan.stop.string)
    x = min(plan.x(0.0), plan.x(1.0)) - (plan.left - start) - text_width(letter, "semibold", small) / 2
    marks: list[Mark] = [centred(letter, x, plan.frets_y, small, ink, "semibold", "string name")]
    stroke = Stroke(stage.look.colour("faint"), stage.line("bar"), False)
    first, guitar = plan.stop.fret, plan.guitar
    taken: list[tuple[float, float]] = []
    for fret in sorted(range(first, guitar.highest_fret + 1), key=_importance(plan)):
        x = plan.fret_x(fret)
        if fret > first:
            marks.append(Path(line(x, top, x, bottom), stroke=stroke, name=f"fret wire {fret}"))
        half = text_width(str(fret), "regular", small) / 2 + small * 0.22
        if fret and all(x + half <= a or x - half >= b for a, b in taken):
            taken.append((x - half, x + half))
            colour = ink if fret == first else stage.look.colour("ink-soft")
            face = "semibold" if fret == first else "regular"
            marks.append(centred(str(fret), x, plan.frets_y, small, colour, face, f"fret number {fret}"))
    return marks


def _importance(plan: Plan) -> Callable[[int], tuple[bool, bool, int]]:
    """Which fret numbers are written first: the stop's, those with position marks, from the nut on."""
    return lambda fret: (fret != plan.stop.fret, fret + plan.guitar.capo not in INLAYS, fret)


def _row(view: Nodes, stage: Stage, plan: Plan, partial: int, y: float) -> list[Mark]:
    """One partial: the string, its nodes, its number and its pitch."""
    look = stage.look
    start = min(plan.x(0.0), plan.x(1.0)) - plan.small * 0.55
    stroke = Stroke(look.colour("string"), stage.line("string-thick") * 0.6, False)
    marks: list[Mark] = [
        Path(line(plan.x(0), y, plan.x(1), y), stroke=stroke, name=f"string at {partial}"),
        centred(str(partial), start - text_width(str(partial), "semibold", plan.small) / 2, y, plan.small,
                look.colour("ink"), "semibold", f"partial {partial}"),
    ]  # fmt: skip
    marks.extend(_node(stage, plan, node, y, "note", None) for node in nodes(partial))
    if view.pitches:
        marks.append(_pitch(view, stage, plan, partial, y, "ink-soft"))
    return marks


def _node(stage: Stage, plan: Plan, node: Node, y: float, role: str, ring: str | None) -> Path:
    x = plan.x(node.j / node.k)
    size = min(plan.small * 0.78, plan.pitch * 0.7)
    stroke = Stroke(stage.look.colour(ring), stage.line("ring")) if ring else None
    return Path(diamond(x, y, size, size), stage.look.colour(role), stroke, f"node {node.j}/{node.k}")


def pitch_words(guitar: Guitar, string: int, fret: int, partial: int, flats: bool = False) -> str:
    """A partial's nearest pitch and its cents: `B4 +2 ¢`."""
    note = guitar.pitch(string, fret) + semitones(partial)
    name = pitch_name(note, flats).replace("#", "♯").replace("b", "♭")
    cents = round(deviation(partial))
    return name if cents == 0 else f"{name} {'+' if cents > 0 else '−'}{abs(cents)} ¢"


def _pitch(view: Nodes, stage: Stage, plan: Plan, partial: int, y: float, role: str) -> Mark:
    flats = stage.fragment.flats if stage.fragment else False
    words = pitch_words(plan.guitar, plan.stop.string, plan.stop.fret, partial, flats)
    x = max(plan.x(0.0), plan.x(1.0)) + plan.small * 0.5 + text_width(words, "regular", plan.small) / 2
    return centred(words, x, y, plan.small, stage.look.colour(role), "regular", f"pitch {partial}")


def lit_node(note: Note, stopped: int) -> Node | None:
    """The node that a harmonic touches, None for a touch that is not known or near none."""
    assert note.harmonic is not None
    partial = note.harmonic.partial
    if note.harmonic.kind == "pinch" and note.harmonic.touch is None:
        return None
    touch = touch_of(note) - stopped
    near = min(nodes(partial), key=lambda node: abs(node.fret - touch))
    return near if abs(near.fret - touch) <= NEAR_FRETS * max(1.0, partial / 3) else None


@lru_cache(maxsize=256)
def _lit(view: Nodes, stage: Stage, stop: Stop, index: int) -> Group:
    """The partial that sounds: how the string swings, the node that is touched."""
    assert stage.fragment is not None
    plan, note = plan_of(view, stage, stop), stage.fragment.notes[index]
    partial = note.harmonic.partial if note.harmonic else 0
    y = plan.rows.get(partial)
    if y is None:
        return Group((), name=f"note {index} sounding")
    marks: list[Mark] = []
    if view.shape:
        marks.extend(_swing(stage, plan, partial, y))
    marks.extend(_node(stage, plan, node, y, "panel", "sounding") for node in nodes(partial))
    touched = lit_node(note, stop.fret)
    if touched is not None:
        marks.append(_node(stage, plan, touched, y, "sounding", "sounding"))
    return Group(tuple(marks), name=f"note {index} sounding")


def _swing(stage: Stage, plan: Plan, partial: int, y: float) -> list[Mark]:
    """The two farthest shapes of the swinging string."""
    rise, steps = plan.pitch * 0.3, partial * 6
    stroke = Stroke(stage.look.colour("sounding"), stage.line("ring") * 0.8)
    marks: list[Mark] = []
    for side in (-1, 1):
        points = [
            (plan.x(i / steps), y + side * rise * sin(pi * partial * i / steps)) for i in range(steps + 1)
        ]
        marks.append(Path(smooth(points), stroke=stroke, name="swing"))
    return marks
