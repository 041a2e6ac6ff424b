"""Type: how wide a text is, how tall its letters are and what its outlines look like.

The faces are Source Sans Pro (SIL Open Font License) as the `font-source-sans-pro` package carries it; its
digits are all equally wide. Accidentals, which it lacks, are drawn by `accidentals`. Every backend takes its
glyphs from here, so film, stills and widths agree; there is no hinting.
"""

import unicodedata
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from pipeline.drawing import accidentals
from pipeline.drawing.outline import Pen, transformed
from pipeline.drawing.picture import Outline, Text

FILES = {
    "light": "SourceSansPro-Light.otf",
    "regular": "SourceSansPro-Regular.otf",
    "semibold": "SourceSansPro-Semibold.otf",
    "bold": "SourceSansPro-Bold.otf",
    "black": "SourceSansPro-Black.otf",
    "italic": "SourceSansPro-It.otf",
}
FACES = tuple(FILES)
FAMILY = "Source Sans Pro"
STYLES = {
    "light": ("300", "normal"),
    "regular": ("400", "normal"),
    "semibold": ("600", "normal"),
    "bold": ("700", "normal"),
    "black": ("900", "normal"),
    "italic": ("400", "italic"),
}
"""Weight and style of each face as CSS names them."""
REPLACEMENT = "?"


@dataclass(frozen=True)
class Glyph:
    """One character at size 1: its outline (baseline at y = 0, y downwards) and how far it moves the pen."""

    outline: Outline
    advance: float


class Typeface:
    """One face, read from its font file on first use. All measures are shares of the type size."""

    def __init__(self, face: str) -> None:
        from fontTools.ttLib import TTFont

        self.face = face
        self._font: Any = TTFont(font_file(face), lazy=True)
        self._unit = 1 / self._font["head"].unitsPerEm
        self._names: dict[int, str] = self._font.getBestCmap()
        self._drawn: dict[str, Glyph] = {}

    @cached_property
    def cap_height(self) -> float:
        return float(self._font["OS/2"].sCapHeight * self._unit)

    @cached_property
    def x_height(self) -> float:
        return float(self._font["OS/2"].sxHeight * self._unit)

    @cached_property
    def ascent(self) -> float:
        """Height of the tallest letters above the baseline."""
        return float(self._font["hhea"].ascent * self._unit)

    @cached_property
    def descent(self) -> float:
        """Depth of the lowest letters below the baseline, positive."""
        return float(-self._font["hhea"].descent * self._unit)

    def in_font(self, character: str) -> bool:
        """Whether the font file itself has the character."""
        return ord(character) in self._names

    def has(self, character: str) -> bool:
        """Whether the face, or our accidentals, can draw the character."""
        return ord(character) in self._names or character in accidentals.SIGNS

    def glyph(self, character: str) -> Glyph:
        """The character's glyph; one that the face lacks is taken from the regular face, else `?`."""
        if character not in self._drawn:
            self._drawn[character] = self._draw(character)
        return self._drawn[character]

    def kern(self, left: str, right: str) -> float:
        """By how much the pair stands closer (negative) or wider than its advances say."""
        a, b = self._names.get(ord(left)), self._names.get(ord(right))
        return self._pairs(a, b) * self._unit if a and b else 0.0

    def _draw(self, character: str) -> Glyph:
        if ord(character) in self._names:
            return self._from_font(self._names[ord(character)])
        if character in accidentals.SIGNS:
            return Glyph(*accidentals.sign(character, self.face))
        if self.face != "regular":
            return typeface("regular").glyph(character)
        return self._from_font(self._names[ord(REPLACEMENT)])

    def _from_font(self, name: str) -> Glyph:
        from fontTools.pens.recordingPen import RecordingPen

        recorded = RecordingPen()
        self._font.getGlyphSet()[name].draw(recorded)
        outline = _from_recording(recorded.value)
        scale = (self._unit, 0.0, 0.0, -self._unit, 0.0, 0.0)
        return Glyph(transformed(outline, scale), self._font["hmtx"][name][0] * self._unit)

    @cached_property
    def _pair_tables(self) -> tuple[Any, ...]:
        table = self._font["GPOS"].table
        wanted = {
            i
            for record in table.FeatureList.FeatureRecord
            if record.FeatureTag == "kern"
            for i in record.Feature.LookupListIndex
        }
        return tuple(sub for i in sorted(wanted) for sub in table.LookupList.Lookup[i].SubTable)

    @cache  # noqa: B019 - faces live as long as the program
    def _pairs(self, left: str, right: str) -> int:
        """The kerning of two glyphs in font units: the first subtable that covers the left one and knows
        the pair decides (OpenType 1.9, GPOS lookup type 2)."""
        for table in self._pair_tables:
            found = _pair_value(table, left, right)
            if found is not None:
                return found
        return 0


def _pair_value(table: Any, left: str, right: str) -> int | None:
    if left not in table.Coverage.glyphs:
        return None
    if table.Format == 1:
        pairs = table.PairSet[table.Coverage.glyphs.index(left)].PairValueRecord
        return next((int(p.Value1.XAdvance) for p in pairs if p.SecondGlyph == right), None)
    first, second = table.ClassDef1.classDefs.get(left, 0), table.ClassDef2.classDefs.get(right, 0)
    value = table.Class1Record[first].Class2Record[second].Value1
    return int(value.XAdvance) if value is not None else None


def _from_recording(calls: list[tuple[str, tuple[Any, ...]]]) -> Outline:
    pen = Pen()
    for call, points in calls:
        values = [v for point in points for v in point]
        if call == "moveTo":
            pen.move(*values)
        elif call == "lineTo":
            pen.line(*values)
        elif call == "curveTo":
            pen.cubic(*values)
        elif call in ("closePath", "endPath"):
            pen.close()
    return pen.outline


def font_file(face: str) -> Path:
    """The font file of a face. Raises KeyError for a face that is not one of `FACES`."""
    return Path(str(files("font_source_sans_pro") / "files" / FILES[face]))


@cache
def typeface(face: str) -> Typeface:
    """The face of that name, made once."""
    return Typeface(face)


def printable(text: str) -> str:
    """The text with control characters gone (tabs and line breaks become spaces), composed to NFC."""
    spaced = "".join(" " if c in "\t\n\r" else c for c in unicodedata.normalize("NFC", text))
    return "".join(c for c in spaced if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co", "Cn"))


def missing_characters(text: str, face: str = "regular") -> str:
    """The characters of a text that no glyph exists for, each once: the script's checker warns of them."""
    drawable = (typeface(face), typeface("regular"))
    return "".join(dict.fromkeys(c for c in printable(text) if not any(f.has(c) for f in drawable)))


@lru_cache(maxsize=8192)
def _placed(text: str, face: str) -> tuple[tuple[tuple[str, float], ...], float]:
    """Each character with its pen position at size 1, and the whole advance."""
    font, pen, placed, before = typeface(face), 0.0, [], ""
    for character in printable(text):
        pen += font.kern(before, character) if before else 0.0
        placed.append((character, pen))
        pen += font.glyph(character).advance
        before = character
    return tuple(placed), pen


def text_width(text: str, face: str, size: float) -> float:
    """How far a text moves the pen, kerning included, in the units of `size`."""
    return _placed(text, face)[1] * size


def cap_height(face: str, size: float) -> float:
    """Height of capitals and (nearly) of digits: what to centre labels by."""
    return typeface(face).cap_height * size


def x_height(face: str, size: float) -> float:
    """Height of small letters such as x."""
    return typeface(face).x_height * size


def size_for_caps(face: str, height: float) -> float:
    """The type size whose capitals are `height` tall."""
    return height / typeface(face).cap_height


def placed_glyphs(text: Text) -> tuple[tuple[str, float], ...]:
    """Each printable character of a text with the x at which it starts."""
    left = start_of(text)
    return tuple((c, left + x * text.size) for c, x in _placed(text.text, text.face)[0])


def start_of(text: Text) -> float:
    """The x at which an anchored text starts."""
    share = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor]
    return text.x - share * text_width(text.text, text.face, text.size)


@lru_cache(maxsize=4096)
def text_outline(text: Text) -> Outline:
    """The outlines of a text where it stands."""
    font = typeface(text.face)
    drawn = (
        transformed(font.glyph(c).outline, (text.size, 0.0, 0.0, text.size, x, text.y))
        for c, x in placed_glyphs(text)
    )
    return tuple(segment for outline in drawn for segment in outline)
