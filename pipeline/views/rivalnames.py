"""Names of rival readings over their necks, in as many lines as they need, with their letters on chips."""

from functools import lru_cache

from pipeline.drawing.outline import rounded
from pipeline.drawing.picture import Box, Mark, Path, Text
from pipeline.drawing.typeface import cap_height, text_width
from pipeline.views.signs import centred
from pipeline.views.stage import Stage
from pipeline.views.wrapping import wrapped

ROLES = ("reading-a", "reading-b", "reading-c", "ink")
LETTERS = "ABCD"
LINE = 1.25
"""From line to line, in type sizes."""
CHIP, FIRST = 1.12, 1.35
"""A chip's side and the first line's height, in small type sizes."""
FACE = "semibold"


@lru_cache(maxsize=64)
def name_lines(stage: Stage, name: str, width: float) -> tuple[str, ...]:
    """A name over a neck of a width: the first line (it may be empty) beside the chip, others under it.

    It stays whole where it fits in one line or breaks at its comma; else what tells it from its rivals stays.
    """
    size, beside = _type(stage), width - _indent(stage) - stage.small_type * 1.6
    zone, _, part = name.rpartition(", ")
    if text_width(name, FACE, size) <= beside:
        return (name,)
    if zone and text_width(zone, FACE, size) <= beside and text_width(part, FACE, size) <= width:
        return (zone, part)
    lines = wrapped(part, width, FACE, size)
    whole = all(text_width(word, FACE, size) <= width for word in part.split())
    return ("", *lines) if whole else (cut_to(part, beside, FACE, size),)


def head_height(stage: Stage, names: list[str], width: float) -> float:
    """Room for the names of rivals that stand side by side or under each other."""
    lines = max(len(name_lines(stage, name, width)) for name in names)
    return stage.small_type * FIRST + (lines - 1) * LINE * _type(stage)


def first_line(stage: Stage, head: Box) -> float:
    """The middle of the first line of a head."""
    return head.y + stage.small_type * (FIRST / 2 - 0.06)


def name_marks(stage: Stage, head: Box, name: str, number: int) -> list[Mark]:
    """A letter on a chip and the reading's name."""
    small, look, size = stage.small_type, stage.look, _type(stage)
    side = small * CHIP
    chip = Box(head.x, first_line(stage, head) - side / 2, side, side)
    y = chip.centre[1] + cap_height(FACE, size) / 2
    marks: list[Mark] = [
        Path(rounded(chip, side * 0.24), look.colour(ROLES[number]), name="chip"),
        centred(LETTERS[number], *chip.centre, small, look.colour("panel"), "black", f"letter {number}"),
    ]
    first, *under = name_lines(stage, name, head.width)
    room = head.width - _indent(stage)
    aligned = bool(first) and all(text_width(words, FACE, size) <= room for words in under)
    for i, words in enumerate((first, *under)):
        x, called = head.x + (_indent(stage) if aligned or i == 0 else 0.0), f"reading name {number}"
        if words:
            marks.append(Text(x, y + i * LINE * size, words, size, look.colour("ink"), FACE, "start", called))
    return marks


def cut_to(text: str, width: float, face: str, size: float) -> str:
    """The text, shortened with an ellipsis where it is wider than `width`."""
    if text_width(text, face, size) <= width:
        return text
    while text and text_width(f"{text}…", face, size) > width:
        text = text[:-1]
    return f"{text.rstrip()}…" if text else ""


def _type(stage: Stage) -> float:
    small = stage.small_type
    return min(max(small, stage.size("body")), small * 1.15)


def _indent(stage: Stage) -> float:
    """From the left of a head to its words."""
    return stage.small_type * (CHIP + 0.4)
