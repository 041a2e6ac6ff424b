"""The strokes view: which way the pick goes over the strings, and how it gets from one to the next."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import atan2, degrees

from pipeline.drawing.outline import Pen, arrow_head, line, rounded
from pipeline.drawing.picture import Box, Group, Mark, Outline, Path, Picture, Stroke, Text
from pipeline.drawing.typeface import cap_height, text_width
from pipeline.music.note import Note
from pipeline.views.brush import panel
from pipeline.views.labels import fret_text, string_name
from pipeline.views.notemarks import natural, touch_of
from pipeline.views.pickpath import BEYOND, REACH, Stop, Way, changes_of, way_of
from pipeline.views.signs import centred
from pipeline.views.signs import dead as cross
from pipeline.views.sounding import moment_at, stage_line
from pipeline.views.stage import Stage

CURSOR_AT = 0.36
TILE = 8
"""Columns of a tile."""
TALL = 0.95
"""The pick's height in string gaps."""
HEAD, FOOT = BEYOND + TALL + 0.1, 0.85
"""Room over the first string, for the pick where a stroke begins, and under the last one, in string gaps."""
WORD_ROOM = 1.15
"""The height of the words of changes, in small type sizes."""
LEAST_GAP = 0.8
"""The least distance of strings, in small type sizes."""
WIDEST = 2.2
"""The greatest distance of strings, in the look's string gaps."""
CROSS = 0.5
"""The width of a dead note's cross, in type sizes."""
WORDS = {"inside": "inside", "outside": "outside", "onward": "on"}


@dataclass(frozen=True)
class Strokes:
    """The pick's way over the strings, moving under a fixed place.

    thick-on-top   the thickest string on top, as one sees a player: a down-stroke goes down; else as in tab
    changes        words at changes of string: inside (the pick stays between the two strings), outside (it
                   goes around them), on (it goes on in one direction)
    frets          fret numbers on the strings
    panel          a ground of the look's colour under the view
    """

    thick_on_top: bool = True
    changes: bool = True
    frets: bool = True
    panel: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The pick at scene second t."""
        marks: list[Mark] = [panel(stage)] if self.panel else []
        plan = plan_of(self, stage)
        if plan is not None:
            marks.extend(_moving(self, stage, plan, t))
        return Picture(float(stage.width), float(stage.height), tuple(marks))

    def least_height(self, stage: Stage) -> float:
        """The strings that are stroked, at their tightest, the pick over them and the words under them."""
        columns = columns_of(stage)
        if stage.fragment is None or not columns:
            return 0.0
        used = [stage.fragment.notes[i].string or 1 for column in columns for i in column]
        gaps = HEAD + max(used) - min(used) + FOOT
        turns = self.changes and any(changes_of(stage.fragment.notes, columns))
        words = WORD_ROOM if turns else 0.0
        return 2 * stage.size("gap") + (gaps * LEAST_GAP + words) * stage.small_type


@dataclass(frozen=True, eq=False)
class Plan:
    """Where things are on a stage."""

    way: Way
    ys: dict[int, float]
    gap: float
    digit: float
    small: float
    window: Box
    words_y: float


def columns_of(stage: Stage) -> list[tuple[int, ...]]:
    """The notes that start together and whose strings are known, as far as some pass plays them."""
    notes = stage.fragment.notes if stage.fragment else ()
    known = [c for c in stage_line(stage).columns if all(notes[i].string is not None for i in c)]
    if not stage.passes:
        return known
    return [c for c in known if any(notes[c[0]].onset in one.beats for one in stage.passes)]


@lru_cache(maxsize=32)
def plan_of(view: Strokes, stage: Stage) -> Plan | None:
    """Lay the strings and the pick's way out; None where there is nothing to stroke."""
    fragment, line_, columns = stage.fragment, stage_line(stage), columns_of(stage)
    if fragment is None or not columns:
        return None
    notes = fragment.notes
    used = {notes[i].string or 1 for c in columns for i in c}
    strings = list(range(min(used), max(used) + 1))
    small = stage.small_type
    turns = view.changes and any(changes_of(notes, columns))
    words = small * WORD_ROOM if turns else 0.0
    edge = stage.size("gap")
    room = stage.height - 2 * edge - words
    gaps = HEAD + len(strings) - 1 + FOOT
    gap = min(stage.size("string-gap") * WIDEST, room / gaps)
    top = (stage.height - gap * gaps - words) / 2 + gap * HEAD
    words_y = top + gap * (gaps - HEAD) + words * 0.5
    order = list(reversed(strings)) if view.thick_on_top else strings
    ys = {string: top + place * gap for place, string in enumerate(order)}
    digit = max(small, min(stage.size("digit"), gap * 0.8))
    widest = max(label_width(notes[i], digit) for c in columns for i in c)
    clear = (widest / 2 + digit * 0.3) / REACH if view.frets else 0.0
    step = max(digit * 2.1, clear, text_width("outside", "semibold", small) * 1.12 if turns else 0.0)
    side = stage.size("space") * 0.8
    names = max(text_width(string_name(fragment, s), "semibold", small) for s in strings) + small * 0.5
    window = Box(side + names, 0.0, stage.width - 2 * side - names, float(stage.height))
    way = way_of(notes, line_, columns, step, ys, gap)
    return Plan(way, ys, gap, digit, small, window, words_y)


def _moving(view: Strokes, stage: Stage, plan: Plan, t: Fraction) -> list[Mark]:
    beat, sounding = _now(stage, plan, t)
    cursor = plan.window.x + plan.window.width * CURSOR_AT
    x = plan.way.glide(float(beat))
    dx = cursor - x
    marks: list[Mark] = [_lines(view, stage)]
    last = (len(plan.way.stops) - 1) // TILE
    for tile in range(last + 1):
        left, right = tile * TILE * plan.way.step + dx, (tile + 1) * TILE * plan.way.step + dx
        if right > plan.window.x and left < plan.window.right + plan.way.step:
            marks.append(_slid(_tile(view, stage, tile), dx, plan.window))
    marks.append(_slid(_pick(view, stage), cursor, plan.window, plan.way.y_at(x)))
    marks.extend(_words(view, stage, plan, dx))
    marks.extend(_slid(_lit(view, stage, i), dx, plan.window) for i in sounding if _known(plan, i))
    return marks


def _now(stage: Stage, plan: Plan, t: Fraction) -> tuple[Fraction, tuple[int, ...]]:
    """The pick's beat and the notes that sound: grace notes before a pass's first beat are played too."""
    moment, one = moment_at(stage, t), stage.pass_at(t)
    assert stage.fragment is not None
    if one is None or moment.beat is None:
        return plan.way.stops[0].beat, ()
    if t >= one.span.start:
        return moment.beat, moment.sounding
    notes = stage.fragment.notes
    own = (stop.beat for stop in plan.way.stops if notes[stop.notes[0]].onset in one.beats)
    opening = min(next(own, moment.beat), moment.beat)
    beat = one.moments.inverse(t)
    return (beat, stage_line(stage).at(beat, opening)) if beat >= opening else (opening, ())


def _known(plan: Plan, index: int) -> bool:
    return any(index in stop.notes for stop in plan.way.stops)


def _slid(group: Group, dx: float, window: Box, dy: float = 0.0) -> Group:
    return Group((group,), (1.0, 0.0, 0.0, 1.0, dx, dy), 1.0, window, group.name)


@lru_cache(maxsize=32)
def _lines(view: Strokes, stage: Stage) -> Group:
    """The strings, unmoved."""
    plan = plan_of(view, stage)
    assert plan is not None
    thin, thick = stage.line("string"), stage.line("string-thick")
    assert stage.fragment is not None
    marks: list[Mark] = []
    for string, y in plan.ys.items():
        name = string_name(stage.fragment, string)
        marks.append(
            Text(
                plan.window.x - plan.small * 0.4,
                y + cap_height("semibold", plan.small) / 2,
                name,
                plan.small,
                stage.look.colour("ink-soft"),
                "semibold",
                "end",
                f"string {string} name",
            )
        )
        weight = thin + (thick - thin) * (string - 1) / max(1, max(plan.ys) - 1)
        stroke = Stroke(stage.look.colour("string"), weight, round_ends=False)
        marks.append(
            Path(line(plan.window.x, y, plan.window.right, y), stroke=stroke, name=f"string {string}")
        )
    return Group(tuple(marks), name="strings")


@lru_cache(maxsize=256)
def _tile(view: Strokes, stage: Stage, tile: int) -> Group:
    plan = plan_of(view, stage)
    assert plan is not None
    stops = plan.way.stops[tile * TILE : (tile + 1) * TILE]
    marks: list[Mark] = []
    for stop in stops:
        marks.extend(_travels(plan, stage, stop))
    for stop in stops:
        if stop.stroke:
            marks.extend(_stroke_marks(plan, stage, stop, "stroke", stage.line("ring") * 1.1))
        if view.frets:
            marks.extend(_number(plan, stage, index, stop.x, False)[0] for index in stop.notes)
    return Group(tuple(marks), name=f"strokes {tile}")


def _words(view: Strokes, stage: Stage, plan: Plan, dx: float) -> list[Mark]:
    """Fret numbers and words of changes that stand in the window entirely: half a number misleads."""
    found: list[Mark] = []
    assert stage.fragment is not None
    for place, stop in enumerate(plan.way.stops):
        numbers, change = _numbers(view, stage, place), _change(view, stage, place)
        widest = max(label_width(stage.fragment.notes[i], plan.digit) for i in stop.notes)
        for group, x, half in (numbers, stop.x, widest / 2), (change, _middle(stop), plan.small * 2):
            if group is not None and plan.window.x <= x + dx - half and x + dx + half <= plan.window.right:
                found.append(_slid(group, dx, plan.window))
    return found


def _middle(stop: Stop) -> float:
    """Where the word of a change stands."""
    return (stop.since + stop.x) / 2


def _travels(plan: Plan, stage: Stage, stop: Stop) -> list[Mark]:
    """The way in the air to a stroke."""
    strokes = plan.way.strokes
    if stop not in strokes or stop is strokes[0]:
        return []
    before = strokes[strokes.index(stop) - 1]
    dash = (plan.gap * 0.12, plan.gap * 0.13)
    stroke = Stroke(stage.look.colour("ink-soft"), stage.line("stem"), False, dash)
    return [Path(plan.way.travel(before, stop), stroke=stroke, name="travel")]


def _stroke_marks(plan: Plan, stage: Stage, stop: Stop, role: str, weight: float) -> list[Mark]:
    """The stroke itself: a line through its strings with a head."""
    half = plan.way.step * REACH
    head = min(plan.gap * 0.36, plan.digit * 0.5)
    down = stop.to_y > stop.from_y
    angle = degrees(atan2(stop.to_y - stop.from_y, 2 * half))
    tip = (stop.x + half, stop.to_y)
    colour = stage.look.colour(role)
    return [
        Path(plan.way.stroke_line(stop), stroke=Stroke(colour, weight), name=f"stroke {stop.stroke}"),
        Path(arrow_head(*tip, angle, head, 0.85), colour, name="head down" if down else "head up"),
    ]


@lru_cache(maxsize=1024)
def _numbers(view: Strokes, stage: Stage, place: int) -> Group | None:
    """The fret numbers of a stop; their chips are part of the tile, under the pick."""
    plan = plan_of(view, stage)
    if plan is None or not view.frets:
        return None
    stop = plan.way.stops[place]
    marks = (_number(plan, stage, index, stop.x, False)[1] for index in stop.notes)
    return Group(tuple(marks), name=f"frets {place}")


@lru_cache(maxsize=1024)
def _change(view: Strokes, stage: Stage, place: int) -> Group | None:
    """The word of a change of string, where there is one."""
    plan = plan_of(view, stage)
    if plan is None or not view.changes or not plan.way.stops[place].change:
        return None
    stop = plan.way.stops[place]
    strong = stop.change == "outside"
    colour, face = stage.look.colour("accent" if strong else "ink-soft"), "bold" if strong else "semibold"
    name, word = f"change {stop.notes[0]}", WORDS[stop.change]
    text = centred(word, _middle(stop), plan.words_y, plan.small, colour, face, name)
    return Group((text,), name=name)


def label_width(note: Note, size: float) -> float:
    """The width of what stands on the string for a note."""
    return size * CROSS if note.dead else text_width(_label(note), "bold", size)


def _label(note: Note) -> str:
    """The fret, or where a natural harmonic is touched."""
    return fret_text(Fraction(touch_of(note)).limit_denominator(100) if natural(note) else note.fret or 0)


def _number(plan: Plan, stage: Stage, index: int, x: float, lit: bool) -> list[Mark]:
    """A fret number (a cross for a dead note) on a chip of the panel's colour, or on a lit one."""
    assert stage.fragment is not None
    note, look = stage.fragment.notes[index], stage.look
    y, name = plan.ys[note.string or 1], f"fret {index}"
    wide = label_width(note, plan.digit) + plan.digit * 0.3
    box = Box(x - wide / 2, y - plan.digit * 0.46, wide, plan.digit * 0.92)
    plate, ink = ("sounding", "sounding-text") if lit else ("panel", "ink")
    face, colour = "black" if lit else "bold", look.colour(ink)
    chip = Path(rounded(box, plan.digit * 0.28), look.colour(plate), name="lit" if lit else "plate")
    if note.dead:
        stroke = Stroke(colour, plan.digit * (0.16 if lit else 0.13))
        return [chip, Path(cross(x, y, plan.digit * 0.46), stroke=stroke, name=name)]
    return [chip, centred(_label(note), x, y, plan.digit, colour, face, name)]


@lru_cache(maxsize=1024)
def _lit(view: Strokes, stage: Stage, index: int) -> Group:
    plan = plan_of(view, stage)
    assert plan is not None
    stop = next(s for s in plan.way.stops if index in s.notes)
    marks: list[Mark] = []
    if stop.stroke:
        marks += _stroke_marks(plan, stage, stop, "sounding", stage.line("ring") * 1.7)
    marks += _number(plan, stage, index, stop.x, True)
    return Group(tuple(marks), name=f"note {index} sounding")


def pick_shape(height: float) -> Outline:
    """A pick as seen from the front, its tip at (0, 0), pointing down."""
    half, top = height * 0.43, -height
    pen = Pen().move(0.0, 0.0)
    pen.cubic(-half * 0.35, -height * 0.06, -half * 1.25, -height * 0.62, -half, top * 0.86)
    pen.cubic(-half * 0.8, top * 1.02, half * 0.8, top * 1.02, half, top * 0.86)
    return pen.cubic(half * 1.25, -height * 0.62, half * 0.35, -height * 0.06, 0.0, 0.0).close().outline


@lru_cache(maxsize=32)
def _pick(view: Strokes, stage: Stage) -> Group:
    """The pick, thin enough that the numbers it passes over are read through it."""
    plan = plan_of(view, stage)
    assert plan is not None
    shape = pick_shape(plan.gap * TALL)
    colour = stage.look.colour("accent")
    body = Path(shape, colour.with_alpha(0.2), Stroke(colour, stage.line("stem")), "pick")
    return Group((body,), name="pick")
