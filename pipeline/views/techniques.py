"""Techniques on the strip: bows, slides, waves, bends, spans, and the lane that says how each note starts."""

from collections.abc import Callable, Sequence
from fractions import Fraction

from pipeline.drawing.contrast import over
from pipeline.drawing.outline import Pen, arrow_head, circle, line, slur
from pipeline.drawing.picture import Mark, Path, Text
from pipeline.drawing.typeface import cap_height, text_width
from pipeline.music.bends import bend_turns
from pipeline.music.note import Note
from pipeline.views.brush import Brush
from pipeline.views.columns import bend_steps
from pipeline.views.digits import label_size, tail_of
from pipeline.views.labels import HARMONIC_WORDS, LETTERS, MUTE_WORD, RING_WORD, finger_words
from pipeline.views.signs import accent, bend_label, centred, finger_dot, stroke_sign, tremolo
from pipeline.views.strip import Placed, System

WORDS = "semibold"
ARROW, LEAVES = 0.84, 0.08
"""An arrow takes this share of the room of its move; it starts so many string gaps behind the label."""


def piece_notes(placed: Placed) -> list[int]:
    """The note indexes of a piece, grace notes included, in order."""
    return [i for column in placed.piece.columns for i in (*column.graces, *column.notes)]


def note_techniques(brush: Brush, system: System, placed: Placed) -> list[Mark]:
    """Everything that stands on the strings of one piece beside the labels."""
    marks: list[Mark] = []
    for index in piece_notes(placed):
        marks.extend(_bows(brush, system, index))
        marks.extend(_shaped_tail(brush, system, index))
        marks.extend(_loose_slides(brush, system, index))
        marks.extend(_bend(brush, system, index))
    return marks


def _bows(brush: Brush, system: System, index: int) -> list[Mark]:
    """The bow that leads to a note; half a bow where the other note stands in another row."""
    marks, before, after = [], brush.preceding.get(index), brush.following.get(index)
    if brush.slurred(index) and before is not None:
        marks.append(_bow(brush, system, before, index))
    if after is not None and after not in system.xs and brush.slurred(after):
        marks.append(_bow(brush, system, index, after))
    return marks


def _bow(brush: Brush, system: System, before: int, after: int) -> Mark:
    sheet, gap = brush.sheet, brush.sheet.sizes.gap
    notes = sheet.fragment.notes
    left = system.xs.get(before, system.placed[0].x - gap * 0.1)
    right = system.xs.get(after, system.width)
    inset = min(gap * 0.1, (right - left) * 0.1)
    taller = max(label_size(brush, notes[i]) for i in (before, after))
    y = sheet.sizes.string_y(notes[after].string or 1) - cap_height("bold", taller) / 2 - gap * 0.05
    rise = min(gap * 0.2, gap * 0.08 + (right - left) * 0.05)
    outline = slur(left + inset, y, right - inset, y, rise, brush.weight("bow"))
    return Path(outline, brush.colour("ink-soft"), name=f"bow {before}-{after}")


def _shaped_tail(brush: Brush, system: System, index: int) -> list[Mark]:
    """A wave or a lean in place of the string."""
    tail = tail_of(brush, system, index)
    if tail is None or tail.kind == "straight":
        return []
    stroke = brush.stroke("ink", brush.weight("stem") * 1.1)
    name = "vibrato" if tail.kind == "wave" else "slide"
    return [Path(tail.outline(brush.sheet.sizes.gap), stroke=stroke, name=f"{name} {index}")]


def _loose_slides(brush: Brush, system: System, index: int) -> list[Mark]:
    """Slides into a note from nowhere and out of it to nowhere."""
    sheet, note, gap = brush.sheet, brush.sheet.fragment.notes[index], brush.sheet.sizes.gap
    x, y = system.xs[index], sheet.sizes.string_y(note.string or 1)
    half, long, rise = sheet.note_half(index) + gap * 0.08, gap * 0.62, gap * 0.24
    stroke = brush.stroke("ink", brush.weight("stem") * 1.1)
    marks: list[Mark] = []
    if note.slide_in:
        start = rise if note.slide_in == "below" else -rise
        outline = line(x - half - long, y + start, x - half, y - start * 0.2)
        marks.append(Path(outline, stroke=stroke, name=f"slide in {index}"))
    if note.slide_out:
        end = -rise if note.slide_out == "up" else rise
        outline = line(x + half, y - end * 0.2, x + half + long, y + end)
        marks.append(Path(outline, stroke=stroke, name=f"slide out {index}"))
    return marks


# bends -------------------------------------------------------------------------------------------------


def _bend(brush: Brush, system: System, index: int) -> list[Mark]:
    """Arrows of a bend, one a change: up to its amount, down on release."""
    note, sizes = brush.sheet.fragment.notes[index], brush.sheet.sizes
    turns, lane = bend_turns(note), sizes.lane("bend")
    if not turns or lane is None:
        return []
    word_y = lane - sizes.small * 0.24
    string_y, top = sizes.string_y(note.string or 1), word_y + sizes.small * 0.42
    most = max(abs(level) for turn in turns for level in turn)
    x = system.xs[index] + brush.sheet.note_half(index) + sizes.gap * LEAVES
    marks: list[Mark] = []
    pre_bent, start = note.bend[0].semitones != 0, x
    for place, ((before, after), step) in enumerate(zip(turns, bend_steps(brush.sheet, note), strict=True)):
        y0, y1 = (_level(string_y, top, sizes.gap, v, most) for v in (before, after))
        straight = place == 0 and pre_bent
        tip = x + (sizes.gap * 0.3 if straight else step * ARROW)
        marks.extend(_arrow(brush, start, y0, tip, y1, straight, index))
        if after > before:
            marks.append(centred(bend_label(after), tip, word_y, sizes.small, brush.colour("ink"), WORDS,
                                 f"bend {index}"))  # fmt: skip
        x += step
        start = tip if straight else x
    return marks


def _level(string_y: float, top: float, gap: float, amount: Fraction, most: Fraction) -> float:
    """The height of a bend: from the string to the lane over the strings."""
    if amount == 0:
        return string_y - gap * 0.06
    share = 0.45 + 0.55 * float(abs(amount) / most)
    return string_y + (top - string_y) * share


def _arrow(
    brush: Brush, x0: float, y0: float, x1: float, y1: float, straight: bool, index: int
) -> list[Mark]:
    """An arrow that leaves level and arrives upright."""
    head, down = brush.sheet.sizes.gap * 0.26, y1 > y0
    stop = y1 - head * 0.7 if down else y1 + head * 0.7
    pen = Pen()
    if straight:
        pen.move(x1, y0).line(x1, stop)
    else:
        pen.move(x0, y0).cubic(x0 + (x1 - x0) * 0.62, y0, x1, y0 + (stop - y0) * 0.38, x1, stop)
    stroke = brush.stroke("ink", brush.weight("stem"), round_ends=False)
    return [
        Path(pen.outline, stroke=stroke, name=f"bend {index} line"),
        Path(
            arrow_head(x1, y1, 90 if down else -90, head, 0.8), brush.colour("ink"), name=f"bend {index} head"
        ),
    ]


# lanes -------------------------------------------------------------------------------------------------


def lane_signs(brush: Brush, system: System, placed: Placed) -> list[Mark]:
    """The signs over and under each column of a piece."""
    marks: list[Mark] = []
    for column, x in zip(placed.piece.columns, placed.xs, strict=True):
        notes = [brush.sheet.fragment.notes[i] for i in column.notes]
        marks.extend(_grace_strokes(brush, system, column.graces))
        if notes:
            name = f"{column.notes[0]}"
            marks.extend(_attack_sign(brush, notes, x, name))
            marks.extend(_accent_sign(brush, notes, x, name))
            marks.extend(_harmonic_word(brush, notes, x, name))
            marks.extend(_finger_dots(brush, notes, x, name))
    return marks


def _attack_sign(brush: Brush, notes: list[Note], x: float, name: str) -> list[Mark]:
    """How a column is set sounding: one sign, a stroke or a letter."""
    lane, sizes = brush.sheet.sizes.lane("attack"), brush.sheet.sizes
    if lane is None:
        return []
    letter = next((LETTERS[n.attack] for n in notes if n.attack in LETTERS), None)
    stroke = next((n.stroke for n in notes if n.stroke), None) if brush.sheet.wants.strokes else None
    if any(n.tremolo for n in notes):
        return [Path(tremolo(x, lane, sizes.sign), brush.colour("stroke"), name=f"tremolo {name}")]
    if letter:
        return [centred(letter, x, lane, sizes.small, brush.colour("ink-soft"), WORDS, f"attack {name}")]
    if stroke:
        return [stroke_sign(stroke, x, lane, sizes.sign * 0.92, brush.colour("stroke"), f"stroke {name}")]
    return []


def _grace_strokes(brush: Brush, system: System, graces: Sequence[int]) -> list[Mark]:
    """The strokes of grace notes, such as a rake's, as much smaller as the notes are."""
    lane, sizes = brush.sheet.sizes.lane("attack"), brush.sheet.sizes
    if lane is None or not brush.sheet.wants.strokes:
        return []
    notes, tall = brush.sheet.fragment.notes, sizes.sign * 0.92
    small = min(tall * 0.62, min((brush.sheet.note_half(i) for i in graces), default=0.0) * 2.2)
    return [
        stroke_sign(
            stroke, system.xs[i], lane + (tall - small) / 2, small, brush.colour("stroke"), f"stroke {i}"
        )
        for i in graces
        if (stroke := notes[i].stroke) is not None and notes[i].picked
    ]


def _accent_sign(brush: Brush, notes: list[Note], x: float, name: str) -> list[Mark]:
    lane, sizes = brush.sheet.sizes.lane("accent"), brush.sheet.sizes
    if lane is None:
        return []
    marks: list[Mark] = []
    both = any(n.accent for n in notes) and any(n.staccato for n in notes)
    if any(n.accent for n in notes):
        stroke = brush.stroke("ink", brush.weight("stem") * 1.1)
        marks.append(Path(accent(x, lane, sizes.small * 0.62), stroke=stroke, name=f"accent {name}"))
    if any(n.staccato for n in notes):
        at = x - sizes.small * 0.52 if both else x
        marks.append(Path(circle(at, lane, sizes.small * 0.11), brush.colour("ink"), name=f"staccato {name}"))
    return marks


def _harmonic_word(brush: Brush, notes: list[Note], x: float, name: str) -> list[Mark]:
    lane, sizes = brush.sheet.sizes.lane("harmonic"), brush.sheet.sizes
    kind = next((n.harmonic.kind for n in notes if n.harmonic), None)
    if lane is None or kind is None:
        return []
    word = HARMONIC_WORDS[kind]
    return [centred(word, x, lane, sizes.small, brush.colour("ink-soft"), WORDS, f"harmonic {name}")]


def _finger_dots(brush: Brush, notes: list[Note], x: float, name: str) -> list[Mark]:
    """The fingers of a column: one in a dot, a chord's beside each other from the highest string."""
    lane, sizes = brush.sheet.sizes.lane("finger"), brush.sheet.sizes
    words = finger_words(notes)
    if lane is None or not words:
        return []
    if len(words) == 1:
        return list(_finger(brush, words, x, lane, name))
    return [centred(words, x, lane, sizes.small, brush.colour("finger"), "bold", f"finger {name}")]


def _finger(brush: Brush, finger: str, x: float, y: float, name: str) -> tuple[Path, Text]:
    sizes = brush.sheet.sizes
    ground = over(brush.colour("hand").with_alpha(0.24), brush.colour("panel"))
    return finger_dot(finger, x, y, sizes.small * 0.56, ground,
                      brush.colour("finger"), sizes.small, f"finger {name}")  # fmt: skip


# spans -------------------------------------------------------------------------------------------------


def spans(brush: Brush, system: System, placed: Placed) -> list[Mark]:
    """Palm-mute and let-ring spans that start in a piece (or come in from the row before)."""
    marks = _spans(brush, system, placed, "mute", MUTE_WORD, lambda n: n.palm_mute)
    return marks + _spans(brush, system, placed, "ring", RING_WORD, lambda n: n.let_ring)


def _runs(brush: Brush, system: System, holds: Callable[[Note], bool]) -> list[list[int]]:
    """Runs of neighbouring notes of a system that hold a property."""
    runs: list[list[int]] = []
    for column in (c for one in system.placed for c in one.piece.columns if c.notes):
        held = [i for i in column.notes if holds(brush.sheet.fragment.notes[i])]
        if not held:
            runs.append([])
        elif runs:
            runs[-1].extend(held)
        else:
            runs.append(held)
    return [run for run in runs if run]


def _spans(brush: Brush, system: System, placed: Placed, lane_name: str, word: str,
           holds: Callable[[Note], bool]) -> list[Mark]:  # fmt: skip
    lane, own = brush.sheet.sizes.lane(lane_name), set(piece_notes(placed))
    if lane is None:
        return []
    marks: list[Mark] = []
    for run in _runs(brush, system, holds):
        if run[0] in own:
            marks.extend(_span(brush, system, run, lane, word))
    return marks


def _span(brush: Brush, system: System, run: list[int], lane: float, word: str) -> list[Mark]:
    """A word, a dashed line to the run's end and a small hook there."""
    sizes, soft = brush.sheet.sizes, brush.colour("ink-soft")
    left = system.xs[run[0]] - min(brush.sheet.note_half(run[0]), sizes.small * 0.4)
    text = Text(left, lane + cap_height(WORDS, sizes.small) / 2, word, sizes.small, soft, WORDS, "start",
                f"{word} {run[0]}")  # fmt: skip
    start = left + text_width(word, WORDS, sizes.small) + sizes.small * 0.25
    end = system.xs[run[-1]] + brush.sheet.note_half(run[-1])
    if end - start < sizes.small * 0.4:
        return [text]
    weight = brush.weight("stem") * 0.8
    dash = (sizes.small * 0.26, sizes.small * 0.24)
    hook = line(end, lane, end, lane + sizes.small * 0.34)
    return [
        text,
        Path(line(start, lane, end, lane), stroke=brush.stroke("ink-soft", weight, dash, False),
             name=f"{word} line"),
        Path(hook, stroke=brush.stroke("ink-soft", weight, (), False), name=f"{word} line"),
    ]  # fmt: skip
