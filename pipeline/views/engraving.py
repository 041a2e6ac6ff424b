"""Staff notation as outlines: MusicXML engraved by verovio, its SVG read into plain shapes."""

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from statistics import median_low
from typing import Any
from xml.etree import ElementTree

from pipeline.drawing.affine import compose, moved, scaled
from pipeline.drawing.outline import ellipse, outline_box, polygon, polyline, transformed
from pipeline.drawing.picture import IDENTITY, Affine, Outline
from pipeline.music.fragment import Fragment
from pipeline.music.musicxml_out import staff_xml
from pipeline.views.engraved import BEND_SIGN, SPACE, Engraved, Shape
from pipeline.views.tuplets import without_idle_brackets

OPTIONS = {
    "breaks": "none", "adjustPageWidth": True, "adjustPageHeight": True, "header": "none", "footer": "none",
    "xmlIdSeed": 1, "pageMarginLeft": 0, "pageMarginRight": 0, "pageMarginTop": 0, "pageMarginBottom": 0,
    "font": "Bravura", "scale": 100,
}  # fmt: skip
HIDDEN = ("system", "section", "pb", "sb")
"""Classes whose own shapes are place-holders or lines that we draw ourselves."""
LEFT_OUT = ("staff", "barLine", "lv", "trill")
"""Classes that the view draws itself or that the tab says already."""
NOTE_ID = re.compile(r"([nhb])(\d+)(?:-(\d+))?|r(\d+)")
"""A note or a later part of it, where it is touched, where its bend leads; a rest."""
OWNERS = ("note", "chord", "rest", "mRest")
"""Classes that what they hold belongs to."""
ARCH = 1.7 * SPACE
"""How much further from its ends a slur is pulled that goes over a bend."""
_TURN = re.compile(r"(translate|scale)\(([^)]*)\)")


@dataclass(frozen=True)
class Owner:
    """What a shape belongs to: a note, None for a rest, the beat of this part of it, a move of its bend."""

    note: int | None
    beat: Fraction
    turn: int = 0
    touched: bool = False
    """Whether it shows where a harmonic is touched."""


@lru_cache(maxsize=16)
def engrave(fragment: Fragment) -> Engraved:
    """Engrave a fragment's pitches and rhythm on one staff."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(OPTIONS)
    text = staff_xml(fragment, [f"n{i}" for i in range(len(fragment.notes))])
    toolkit.loadData(text)
    divisions = re.search(r"<divisions>(\d+)</divisions>", text)
    reader = _Reader(
        fragment, ElementTree.fromstring(toolkit.renderToSVG(1)), int(divisions[1]) if divisions else 1
    )
    return reader.engraved()


class _Reader:
    """Walks the engraver's SVG: groups with classes, glyphs by reference, plain shapes."""

    def __init__(self, fragment: Fragment, root: Any, divisions: int) -> None:
        self._fragment, self._divisions = fragment, divisions
        self._glyphs = {
            glyph.get("id"): self._glyph(glyph) for glyph in root.iter(_tag("g")) if _is_glyph(glyph)
        }
        self._root = next(s for s in root.iter(_tag("svg")) if s.get("class") == "definition-scale")
        self._group = 0

    def engraved(self) -> Engraved:
        """Everything, moved so that the top staff line is y = 0."""
        shapes = list(self._walk(self._root, IDENTITY, "", 0, None))
        lines = [s for s in shapes if s.kind == "staff"]
        zero = min(_middle_y(s.outline) for s in lines)
        bars = {round(s.ends[1]) for s in lines}
        kept = without_idle_brackets([_raised(s, -zero) for s in shapes if s.kind not in LEFT_OUT])
        places, bent = tuple(self._places(kept)), tuple(_bent_heads(kept))
        heads = _Heads(places, bent)
        kept = [heads.own(s) if s.kind == "ledgerLines" else s for s in kept]
        kept = [_arched(s, bent) if s.kind == "slur" else s for s in kept]
        top, bottom = _reach(kept)
        ends = tuple(float(x) for x in sorted(bars))
        return Engraved(tuple(kept), places, bent, tuple(_rests(kept)), ends, top, bottom)

    def _places(self, shapes: list[Shape]) -> Iterator[tuple[int, Fraction, float]]:
        """A head that stands beside the others of its chord, as seconds do, keeps its distance to them."""
        found = [
            (shape.note, shape.beat, sum(shape.ends) / 2)
            for shape in (shape for shape in shapes if shape.kind == "notehead" and not shape.turn)
            if shape.note is not None and shape.beat is not None
        ]
        chords = dict[tuple[Fraction, int | None], list[float]]()
        for note, beat, x in found:
            chords.setdefault(self._chord(note, beat), []).append(x)
        for note, beat, _ in found:
            yield note, beat, median_low(chords[self._chord(note, beat)])

    def _chord(self, note: int, beat: Fraction) -> tuple[Fraction, int | None]:
        """What the heads of one chord have in common; a grace note stands by itself."""
        return beat, note if self._fragment.notes[note].grace else None

    def _glyph(self, group: Any) -> Outline:
        """A symbol's outline; its own flip of y included."""
        return tuple(
            segment
            for path in group.iter(_tag("path"))
            for segment in transformed(_parsed(path.get("d")), _affine(path.get("transform")))
        )

    def _walk(self, node: Any, within: Affine, kind: str, group: int, owner: Owner | None,
              ) -> Iterator[Shape]:  # fmt: skip
        for child in node:
            inner = compose(within, _affine(child.get("transform")))
            if "placeholder" in (child.get("class") or ""):
                continue
            if child.tag == _tag("g"):
                name = (child.get("class") or "").split(" ")[0]
                self._group += 1
                own = self._owner(child) if name in OWNERS else None
                yield from self._walk(child, inner, name or kind, self._group, own or owner)
            elif child.tag != _tag("defs") and kind not in HIDDEN:
                shape = self._shape(child, inner, kind, group, owner)
                if shape is not None:
                    yield shape

    def _owner(self, group: Any) -> Owner | None:
        """The note and beat that a group means; a chord's are those of the first of its notes."""
        found = (NOTE_ID.fullmatch(one.get("id") or "") for one in group.iter(_tag("g")))
        match = next((match for match in found if match), None)
        if match is None:
            return None
        kind, number, part, rest = match.groups()
        if rest is not None:
            return Owner(None, Fraction(int(rest), self._divisions))
        onset = self._fragment.notes[int(number)].onset
        if kind == "b":
            return Owner(int(number), onset, int(part))
        return Owner(
            int(number), Fraction(int(part), self._divisions) if part else onset, touched=kind == "h"
        )

    def _shape(self, node: Any, within: Affine, kind: str, group: int, owner: Owner | None,
               ) -> Shape | None:  # fmt: skip
        outline = self._outline(node)
        if not outline:
            return None
        note, beat, turn = (owner.note, owner.beat, owner.turn) if owner else (None, None, 0)
        if owner is not None and owner.touched and kind == "notehead":
            kind = "touch"
        width = node.get("stroke-width")
        closed = kind in ("slur", "tie") or any(name == "Z" for name, _ in outline)
        return Shape(kind, group, note, beat, transformed(outline, within), float(width) if width else None,
                     node.tag == _tag("use"), closed, turn)  # fmt: skip

    def _outline(self, node: Any) -> Outline:
        if node.tag == _tag("use"):
            link = (node.get("{http://www.w3.org/1999/xlink}href") or node.get("href") or "#")[1:]
            return self._glyphs.get(link, ())
        if node.tag == _tag("path"):
            return _parsed(node.get("d"))
        if node.tag == _tag("polygon"):
            return polygon(_points(node.get("points")))
        if node.tag == _tag("polyline"):
            return polyline(_points(node.get("points")))
        if node.tag == _tag("ellipse"):
            cx, cy, rx, ry = (float(node.get(name)) for name in ("cx", "cy", "rx", "ry"))
            return ellipse(cx, cy, rx, ry)
        return ()


def _bent_heads(shapes: list[Shape]) -> Iterator[tuple[int, int, float]]:
    """The widest of a small head's shapes is the head; the others are its brackets."""
    found = dict[tuple[int, int], Shape]()
    for shape in shapes:
        if shape.kind == "notehead" and shape.note is not None and shape.turn:
            known = found.setdefault((shape.note, shape.turn), shape)
            if _width(shape) > _width(known):
                found[shape.note, shape.turn] = shape
    yield from ((note, turn, sum(shape.ends) / 2) for (note, turn), shape in found.items())


def _width(shape: Shape) -> float:
    return shape.ends[1] - shape.ends[0]


class _Heads:
    """Heads from left to right, to find the one that a ledger line belongs to."""

    def __init__(self, places: Sequence[tuple[int, Fraction, float]],
                 bent: Sequence[tuple[int, int, float]]) -> None:  # fmt: skip
        beats = {note: beat for note, beat, _ in reversed(places)}
        heads = [(x, note, beat, 0) for note, beat, x in places]
        heads += [(x, note, beats[note], turn) for note, turn, x in bent if note in beats]
        self._heads = sorted(heads)
        self._xs = [x for x, *_ in self._heads]

    def own(self, line: Shape) -> Shape:
        """The line as a part of the nearest head's note."""
        middle = sum(line.ends) / 2
        place = bisect_left(self._xs, middle)
        near = self._heads[max(0, place - 1) : place + 1]
        if not near:
            return line
        _, note, beat, turn = min(near, key=lambda head: abs(head[0] - middle))
        return replace(line, note=note, beat=beat, turn=turn)


def _reach(shapes: list[Shape]) -> tuple[float, float]:
    """How high and low they come, with room for the signs that bends have."""
    boxes = [(shape, box) for shape in shapes if (box := outline_box(shape.outline)) is not None]
    top = min([box.y - (BEND_SIGN if shape.turn else 0.0) for shape, box in boxes] + [0.0])
    return top, max([box.bottom for _, box in boxes] + [4 * SPACE])


def _arched(slur: Shape, bent: Sequence[tuple[int, int, float]]) -> Shape:
    """A slur that goes over bent notes, arched over the signs of their bends."""
    ends = [values[-1] for name, values in slur.outline if name in "MC"]
    over = all(y <= max(ends) for _, values in slur.outline for y in values[1::2])
    if not over or not any(slur.ends[0] < x < slur.ends[1] for _, _, x in bent):
        return slur
    outline = tuple(
        (name, (v[0], v[1] - ARCH, v[2], v[3] - ARCH, *v[4:]) if name == "C" else v)
        for name, v in slur.outline
    )
    return replace(slur, outline=outline)


def _rests(shapes: list[Shape]) -> Iterator[tuple[Fraction, float]]:
    for shape in shapes:
        if shape.kind == "rest" and shape.beat is not None and shape.glyph:
            yield shape.beat, sum(shape.ends) / 2


def _tag(name: str) -> str:
    return f"{{http://www.w3.org/2000/svg}}{name}"


def _is_glyph(group: Any) -> bool:
    return bool(re.match(r"[0-9A-F]{4}-", group.get("id") or "")) and group.get("class") is None


def _raised(shape: Shape, by: float) -> Shape:
    return replace(shape, outline=transformed(shape.outline, moved(0.0, by)))


def _middle_y(outline: Outline) -> float:
    box = outline_box(outline)
    return box.centre[1] if box else 0.0


def _points(text: str) -> list[tuple[float, float]]:
    values = [float(v) for v in re.split(r"[\s,]+", text.strip())]
    return list(zip(values[::2], values[1::2], strict=True))


def _affine(text: str | None) -> Affine:
    """A transform of translations and scales."""
    found = IDENTITY
    for name, values in _TURN.findall(text or ""):
        numbers = [float(v) for v in re.split(r"[\s,]+", values.strip())]
        step = (
            moved(numbers[0], numbers[1] if len(numbers) > 1 else 0.0)
            if name == "translate"
            else scaled(numbers[0], numbers[-1])
        )
        found = compose(found, step)
    return found


@lru_cache(maxsize=512)
def _parsed(text: str) -> Outline:
    """An SVG path as an outline."""
    from fontTools.pens.recordingPen import RecordingPen
    from fontTools.svgLib.path import parse_path

    recorded = RecordingPen()
    parse_path(text, recorded)
    names = {"moveTo": "M", "lineTo": "L", "curveTo": "C", "closePath": "Z"}
    return tuple(
        (names[call], tuple(float(v) for point in points for v in point))  # type: ignore[misc]
        for call, points in recorded.value
        if call in names
    )
