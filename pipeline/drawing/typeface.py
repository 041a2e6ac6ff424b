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
    """One character, or letters drawn as one, at size 1: outline and how far it moves the pen.

    The baseline is at y = 0 and y runs downwards.
    """

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

    def in_font(self, cluster: str) -> bool:
        """Whether the font file itself has a character (or all of a cluster's)."""
        return all(ord(character) in self._names for character in cluster)

    def has(self, character: str) -> bool:
        """Whether the face, or our accidentals, can draw the character."""
        return ord(character) in self._names or character in accidentals.SIGNS

    def clusters(self, text: str) -> list[str]:
        """The text in characters, those that the font draws as one (such as ft) joined."""
        found, here = [], 0
        while here < len(text):
            length = next((n for n in (3, 2) if text[here : here + n] in self._joined), 1)
            found.append(text[here : here + length])
            here += length
        return found

    def glyph(self, cluster: str) -> Glyph:
        """A cluster's glyph; a character that the face lacks is taken from the regular face, else `?`."""
        if cluster not in self._drawn:
            self._drawn[cluster] = self._draw(cluster)
        return self._drawn[cluster]

    def kern(self, left: str, right: str) -> float:
        """By how much two clusters stand closer (negative) or wider than their advances say."""
        a, b = self._name(left), self._name(right)
        return self._pairs(a, b) * self._unit if a and b else 0.0

    def _name(self, cluster: str) -> str | None:
        """The font's name for a glyph."""
        return self._joined.get(cluster) if len(cluster) > 1 else self._names.get(ord(cluster))

    def _draw(self, cluster: str) -> Glyph:
        name = self._name(cluster)
        if name is not None:
            return self._from_font(name)
        if cluster in accidentals.SIGNS:
            return Glyph(*accidentals.sign(cluster, self.face))
        if self.face != "regular":
            return typeface("regular").glyph(cluster)
        return self._from_font(self._names[ord(REPLACEMENT)])

    @cached_property
    def _joined(self) -> dict[str, str]:
        """Clusters that have a glyph of their own (OpenType 1.9, GSUB lookup type 4, feature liga)."""
        characters = {name: chr(code) for code, name in self._names.items()}
        found = {}
        for table in self._subtables("GSUB", "liga"):
            for first, joins in table.ligatures.items():
                for join in joins:
                    names = (first, *join.Component)
                    if all(name in characters for name in names):
                        found["".join(characters[name] for name in names)] = join.LigGlyph
        return found

    def _from_font(self, name: str) -> Glyph:
        from fontTools.pens.recordingPen import RecordingPen

        recorded = RecordingPen()
        self._font.getGlyphSet()[name].draw(recorded)
        outline = _from_recording(recorded.value)
        scale = (self._unit, 0.0, 0.0, -self._unit, 0.0, 0.0)
        return Glyph(transformed(outline, scale), self._font["hmtx"][name][0] * self._unit)

    @cached_property
    def _pair_tables(self) -> tuple[Any, ...]:
        return self._subtables("GPOS", "kern")

    def _subtables(self, where: str, feature: str) -> tuple[Any, ...]:
        """The subtables of every lookup of a feature, in their order."""
        table = self._font[where].table
        wanted = {
            i
            for record in table.FeatureList.FeatureRecord
            if record.FeatureTag == feature
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
    """Each cluster with its pen position at size 1, and the whole advance."""
    font, pen, placed, before = typeface(face), 0.0, [], ""
    for cluster in font.clusters(printable(text)):
        pen += font.kern(before, cluster) if before else 0.0
        placed.append((cluster, pen))
        pen += font.glyph(cluster).advance
        before = cluster
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
    """Each character of a text (joined letters as one) with the x at which it starts."""
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
