"""Fret numbers in their four states, and the string that rings after them.

At rest a number is plain; what has sounded is lighter in weight and tone; what comes next stands in an
outline; what sounds stands reversed on a solid shape, and its string shines to where the note ends.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from pipeline.drawing.outline import joined, line, rounded, wavy
from pipeline.drawing.picture import Box, Colour, Group, Mark, Outline, Path, Stroke, Text
from pipeline.drawing.typeface import cap_height, text_width
from pipeline.music.note import Note
from pipeline.views.brush import Brush
from pipeline.views.columns import meter_shown, meter_width
from pipeline.views.labels import FACE, Label, label_of, part_width
from pipeline.views.signs import angle_brackets, dead, parentheses
from pipeline.views.strip import System, meter_left

State = Literal["rest", "past", "next", "sounding"]


@dataclass(frozen=True)
class Tail:
    """The string after a label: from where to where it rings, and in which shape."""

    left: float
    right: float
    y: float
    kind: Literal["straight", "wave", "lean"] = "straight"
    rise: float = 0.0

    def outline(self, gap: float) -> Outline:
        if self.kind == "wave":
            return wavy(self.left, self.right, self.y, self.rise, gap * 0.5)
        return line(self.left, self.y + self.rise, self.right, self.y - self.rise)


def label_size(brush: Brush, note: Note) -> float:
    return brush.sheet.grace_size if note.grace else brush.sheet.sizes.digit


def tail_of(brush: Brush, system: System, index: int) -> Tail | None:
    """The tail of a note in a system; None where there is no room for one."""
    sheet, note = brush.sheet, brush.sheet.fragment.notes[index]
    gap, x = sheet.sizes.gap, system.xs[index]
    left = x + sheet.note_half(index) + gap * 0.10
    end = system.glide(float(brush.line.ends[index]))
    right = end - gap * 0.5 if end < system.width else end - gap * 0.3
    after = brush.following.get(index)
    if after in system.xs:
        right = min(right, system.xs[after] - sheet.note_half(after) - gap * 0.10)
        if brush.slid_to(after):
            right = system.xs[after] - sheet.note_half(after) - gap * 0.10
    y = sheet.sizes.string_y(note.string or 1)
    if right - left < gap * 0.12:
        return None
    if after is not None and brush.slid_to(after):
        up = (sheet.fragment.notes[after].fret or 0) >= (note.fret or 0)
        return Tail(left, right, y, "lean", gap * (0.2 if up else -0.2))
    if note.vibrato != "none":
        return Tail(left, right, y, "wave", gap * (0.24 if note.vibrato == "narrow" else 0.44))
    return Tail(left, right, y)


def digit_group(brush: Brush, system: System, index: int, state: State) -> Group:
    """A note's label in a state, with its ringing string where it sounds."""
    note = brush.sheet.fragment.notes[index]
    x, y = system.xs[index], brush.sheet.sizes.string_y(note.string or 1)
    size, label = label_size(brush, note), label_of(note)
    marks: list[Mark] = []
    if state == "sounding":
        marks.extend(_ringing(brush, system, index))
    if state in ("sounding", "next"):
        marks.append(_pill(brush, index, x, y, state))
    role, face = _inked(note, state)
    marks.extend(_label(label, x, y, size, brush.colour(role), face, f"fret {index}"))
    return Group(tuple(marks), name=f"note {index} {state}")


def _inked(note: Note, state: State) -> tuple[str, str]:
    if state == "sounding":
        return "sounding-text", "black"
    if state == "past":
        return "past", "regular"
    return ("ink-soft" if note.attack == "tie" or note.ghost else "ink"), FACE


def _ringing(brush: Brush, system: System, index: int) -> list[Mark]:
    tail = tail_of(brush, system, index)
    if tail is None or brush.sheet.fragment.notes[index].dead:
        return []
    if tail.kind == "straight":  # a wave or a lean must lie on the one that stands there at rest
        tail = replace(tail, left=tail.left - brush.sheet.sizes.gap * 0.06)
    stroke = brush.stroke("sounding", max(brush.weight("ring"), brush.sheet.sizes.gap * 0.09))
    return [Path(tail.outline(brush.sheet.sizes.gap), stroke=stroke, name=f"ring {index}")]


def pill_box(brush: Brush, index: int, x: float, y: float) -> Box:
    """The shape behind a note's label, clear of those on the neighbouring strings."""
    note = brush.sheet.fragment.notes[index]
    width, height = label_of(note).shape(label_size(brush, note))
    height = brush.sheet.shape_height(index, height)
    return Box(x - width / 2, y - height / 2, width, height)


def _pill(brush: Brush, index: int, x: float, y: float, state: State) -> Path:
    box, size = pill_box(brush, index, x, y), label_size(brush, brush.sheet.fragment.notes[index])
    if state == "sounding":
        return Path(rounded(box, size * 0.3), brush.colour("sounding"), name="lit")
    weight = brush.weight("ring") * 0.8
    outline = rounded(box.inset(weight / 2), size * 0.3 - weight / 2)
    return Path(outline, brush.colour("panel"), Stroke(brush.colour("next"), weight), "next")


@lru_cache(maxsize=4096)
def _label(
    label: Label, x: float, y: float, size: float, colour: Colour, face: str, name: str
) -> tuple[Mark, ...]:
    """The marks of a label about (x, y)."""
    if label.dead:
        weight = size * (0.16 if face == "black" else 0.13 if face == FACE else 0.085)
        return (Path(dead(x, y, size * 0.46), stroke=Stroke(colour, weight), name=name),)
    marks: list[Mark] = []
    at, rise = x - label.width(size) / 2, cap_height(face, size)
    for text, bracket in label.parts:
        wide = part_width(text, bracket, size)
        pad = size * 0.22 if bracket else 0.0
        middle = at + pad + text_width(text, FACE, size) / 2
        marks.append(Text(middle, y + rise / 2, text, size, colour, face, "middle", name))
        if bracket:
            marks.append(_bracket(bracket, at, at + wide, y, size, colour))
        at += wide
    return tuple(marks)


def _bracket(kind: str, left: float, right: float, y: float, size: float, colour: Colour) -> Path:
    shape = angle_brackets if kind == "angle" else parentheses
    outline = shape(left + size * 0.05, right - size * 0.05, y, size * 0.68)
    return Path(outline, stroke=Stroke(colour, size * 0.065), name=f"{kind} brackets")


def meter_holes(brush: Brush, system: System, y: float) -> list[tuple[float, float]]:
    """Where a string at y makes room for a meter, as (left, right)."""
    sheet, gap, found = brush.sheet, brush.sheet.sizes.gap, []
    tall = cap_height("black", gap * 1.75) * 2 + gap * 0.4
    if sheet.wants.clef or abs(y - sheet.sizes.middle) > tall / 2:
        return []
    for placed in system.placed:
        if placed.piece.opens and meter_shown(sheet.fragment, placed.piece.measure):
            left = meter_left(sheet, placed)
            wide = meter_width(sheet, sheet.fragment.measures[placed.piece.measure])
            found.append((left - gap * 0.1, left + wide + gap * 0.1))
    return found


def string_lines(brush: Brush, system: System, left: float, right: float, string: int) -> Outline:
    """A string from left to right, open where labels stand and where it waves or leans."""
    sheet, gap = brush.sheet, brush.sheet.sizes.gap
    y, holes = sheet.sizes.string_y(string), []
    for index, x in system.note_x:
        if sheet.fragment.notes[index].string != string:
            continue
        half = sheet.note_half(index) + gap * 0.10
        holes.append((x - half, x + half))
        tail = tail_of(brush, system, index)
        if tail is not None and tail.kind != "straight":
            holes.append((tail.left - gap * 0.02, tail.right + gap * 0.02))
    holes.extend(meter_holes(brush, system, y))
    pieces, here = [], left
    for start, end in sorted(hole for hole in holes if hole[0] < right):
        if start > here:
            pieces.append(line(here, y, start, y))
        here = max(here, end)
    if here < right:
        pieces.append(line(here, y, right, y))
    return joined(*pieces)
