"""A picture as SVG 1.1: for the web, for print and for drawing programs. Equal pictures give equal bytes.

Words stay words (searchable, selectable), with the font named or embedded, or become outlines where the
reader may lack the font. Characters that the font lacks are outlines always.
"""

import base64
import io
from itertools import groupby
from typing import Any, Literal

import svgwrite
from PIL import Image as Pillow
from svgwrite.container import Group as SvgGroup
from svgwrite.image import Image as SvgImage
from svgwrite.path import Path as SvgPath
from svgwrite.shapes import Rect as SvgRect
from svgwrite.text import Text as SvgText

from pipeline.drawing.picture import (
    IDENTITY,
    MITRE,
    Affine,
    Colour,
    Group,
    Image,
    Mark,
    Outline,
    Path,
    Picture,
    Pixels,
    Stroke,
    Text,
)
from pipeline.drawing.typeface import FAMILY, STYLES, placed_glyphs, printable, text_outline, typeface
from pipeline.files.fonts import font_rules

Words = Literal["text", "embedded", "outline"]


def write_svg(picture: Picture, *, text: Words = "text", title: str = "") -> str:
    """The picture as an SVG document. `title` is its alternative text.

    `text` names the font ("text"), carries it along ("embedded") or turns words into shapes ("outline").
    """
    return _Writer(picture, text).document(title)


def number(value: float) -> str:
    """A coordinate, to the thousandth, without needless zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


class _Writer:
    """Writes one picture. Clips are numbered in the order of their appearance."""

    def __init__(self, picture: Picture, words: Words) -> None:
        self._picture, self._words = picture, words
        size = (number(picture.width), number(picture.height))
        self._svg: Any = svgwrite.Drawing(size=size, debug=False, viewBox=f"0 0 {size[0]} {size[1]}")
        self._clips = 0

    def document(self, title: str) -> str:
        if title:
            self._svg.set_desc(title=printable(title))
        if self._words == "embedded":
            self._svg.embed_stylesheet(font_rules(self._picture))
        if self._picture.background is not None:
            self._svg.add(self._ground(self._picture.background))
        for mark in self._picture.marks:
            self._add(self._svg, mark)
        drawn: str = self._svg.tostring()
        return f'<?xml version="1.0" encoding="utf-8"?>\n{drawn}\n'

    def _ground(self, colour: Colour) -> Any:
        size = (number(self._picture.width), number(self._picture.height))
        return SvgRect((0, 0), size, debug=False, **_fill(colour))

    def _add(self, parent: Any, mark: Mark) -> None:
        if isinstance(mark, Group):
            self._group(parent, mark)
        elif isinstance(mark, Path):
            parent.add(_path(mark.outline, mark.fill, mark.stroke))
        elif isinstance(mark, Image):
            parent.add(_image(mark))
        elif self._words == "outline":
            parent.add(_path(text_outline(mark), mark.fill, None))
        else:
            _text(parent, mark)

    def _group(self, parent: Any, group: Group) -> None:
        made = SvgGroup(debug=False)
        if group.transform != IDENTITY:
            made.attribs["transform"] = _matrix(group.transform)
        if group.opacity < 1:
            made.attribs["opacity"] = number(group.opacity)
        for mark in group.marks:
            self._add(made, mark)
        if group.clip is None:
            parent.add(made)
            return
        cut = SvgGroup(debug=False)
        cut.attribs["clip-path"] = f"url(#{self._clip(group)})"
        cut.add(made)
        parent.add(cut)

    def _clip(self, group: Group) -> str:
        self._clips += 1
        name, box = f"cut{self._clips}", group.clip
        assert box is not None
        clip = self._svg.defs.add(self._svg.clipPath(id=name))
        corner, size = (number(box.x), number(box.y)), (number(box.width), number(box.height))
        clip.add(SvgRect(corner, size, debug=False))
        return name


def _text(parent: Any, text: Text) -> None:
    """Runs of characters that the font has, as words; the others as outlines between them."""
    face = typeface(text.face)
    for known, run in groupby(placed_glyphs(text), key=lambda glyph: face.in_font(glyph[0])):
        glyphs = list(run)
        words, start = "".join(cluster for cluster, _ in glyphs), glyphs[0][1]
        piece = Text(start, text.y, words, text.size, text.fill, text.face)
        if known and words.strip():
            parent.add(_words(piece))
        elif not known:
            parent.add(_path(text_outline(piece), text.fill, None))


def _words(text: Text) -> Any:
    weight, style = STYLES[text.face]
    made = SvgText(text.text, insert=(number(text.x), number(text.y)), debug=False, **_fill(text.fill))
    made.attribs.update({"font-family": FAMILY, "font-size": number(text.size), "font-weight": weight})
    if style != "normal":
        made.attribs["font-style"] = style
    made.attribs["xml:space"] = "preserve"
    return made


def _path(outline: Outline, fill: Colour | None, stroke: Stroke | None) -> Any:
    made = SvgPath(d=_commands(outline), debug=False, **_fill(fill))
    if stroke is not None:
        made.attribs.update(_stroke(stroke))
    return made


def _commands(outline: Outline) -> str:
    return " ".join(kind + " ".join(map(number, values)) for kind, values in outline) or "M0 0"


def _fill(colour: Colour | None) -> dict[str, str]:
    if colour is None:
        return {"fill": "none"}
    return {"fill": colour.hex} | _opacity("fill", colour)


def _stroke(stroke: Stroke) -> dict[str, str]:
    ends, joins = ("round", "round") if stroke.round_ends else ("butt", "miter")
    made = {"stroke": stroke.colour.hex, "stroke-width": number(stroke.width)}
    made |= {"stroke-linecap": ends, "stroke-linejoin": joins} | _opacity("stroke", stroke.colour)
    if not stroke.round_ends:
        made["stroke-miterlimit"] = number(MITRE)
    if stroke.dash:
        made["stroke-dasharray"] = " ".join(map(number, stroke.dash))
    return made


def _opacity(what: str, colour: Colour) -> dict[str, str]:
    return {f"{what}-opacity": number(colour.alpha / 255)} if colour.alpha < 255 else {}


def _matrix(affine: Affine) -> str:
    return f"matrix({' '.join(f'{value:.6g}' for value in affine)})"


def _image(image: Image) -> Any:
    box = image.box
    corner, size = (number(box.x), number(box.y)), (number(box.width), number(box.height))
    made = SvgImage(_data_address(image.pixels), insert=corner, size=size, debug=False)
    made.attribs["preserveAspectRatio"] = "none"
    return made


def _data_address(pixels: Pixels) -> str:
    stream = io.BytesIO()
    Pillow.frombytes("RGBA", (pixels.width, pixels.height), pixels.data).save(stream, "PNG")
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode("ascii")
