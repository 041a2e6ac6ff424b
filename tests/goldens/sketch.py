"""A picture as text, one mark a line: what it is, where its ink stands, how it is drawn; whole pixels.

Later moments of a scene say only what came (`+`) and what went (`-`), so the files stay short and a change
reads as what a viewer would see.
"""

from collections.abc import Iterable, Iterator, Sequence
from difflib import SequenceMatcher

from pipeline.drawing.overlap import Leaf, leaves
from pipeline.drawing.picture import Colour, Image, Path, Picture, Text


def lines_of(picture: Picture) -> list[str]:
    """Every mark that draws, in order."""
    return [_line(leaf) for leaf in leaves(picture.marks)]


def sketch(shots: Sequence[tuple[str, Picture]]) -> str:
    """Moments with their pictures; the first whole, the others as what differs."""
    before: list[str] = []
    rows: list[str] = []
    for moment, picture in shots:
        now = lines_of(picture)
        rows += [f"# {moment}: {len(now)} marks", *(now if not before else _changes(before, now))]
        before = now
    return "\n".join(rows) + "\n"


def _changes(before: list[str], now: list[str]) -> Iterator[str]:
    matcher = SequenceMatcher(None, before, now, autojunk=False)
    for what, a, b, c, d in matcher.get_opcodes():
        if what != "equal":
            yield from (f"- {line}" for line in before[a:b])
            yield from (f"+ {line}" for line in now[c:d])


def _line(leaf: Leaf) -> str:
    x, y, width, height = leaf.box
    where = " ".join(f"{round(number)}" for number in (x, y, width, height))
    return " | ".join((leaf.label, where, *_drawing(leaf.mark)))


def _drawing(mark: Path | Text | Image) -> Iterable[str]:
    if isinstance(mark, Text):
        return (f"{mark.face} {mark.size:.0f} {_colour(mark.fill)}", mark.text)
    if isinstance(mark, Image):
        return (f"image {mark.pixels.width} x {mark.pixels.height}",)
    stroke = mark.stroke
    line = f"line {_colour(stroke.colour)} {stroke.width:.1f}" if stroke else ""
    return (f"{f'fill {_colour(mark.fill)} ' if mark.fill else ''}{line}".strip(),)


def _colour(colour: Colour) -> str:
    return colour.hex if colour.alpha == 255 else f"{colour.hex}{colour.alpha:02x}"
