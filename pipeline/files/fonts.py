"""Fonts cut down to the characters that a picture uses, for documents that carry them along."""

import base64
import io
from collections.abc import Iterable
from functools import lru_cache

from pipeline.drawing.picture import Group, Mark, Picture, Text
from pipeline.drawing.typeface import FAMILY, STYLES, font_file, printable


def font_rules(picture: Picture) -> str:
    """A CSS `@font-face` rule for each face in the picture."""
    return "\n".join(_rule(face, characters) for face, characters in sorted(used(picture.marks).items()))


def used(marks: Iterable[Mark]) -> dict[str, str]:
    """For each face the characters that are drawn with it, sorted."""
    found: dict[str, set[str]] = {}
    waiting = list(marks)
    while waiting:
        mark = waiting.pop()
        if isinstance(mark, Group):
            waiting.extend(mark.marks)
        elif isinstance(mark, Text):
            found.setdefault(mark.face, set()).update(printable(mark.text))
    return {face: "".join(sorted(characters)) for face, characters in found.items()}


@lru_cache(maxsize=64)
def subset(face: str, characters: str) -> bytes:
    """The face's OpenType file with these characters only, the same bytes every time.

    Kerning and joined letters are kept.
    """
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    options = Options(layout_features=["kern", "liga"], notdef_outline=True, recalc_timestamp=False)
    cutter, font = Subsetter(options), TTFont(font_file(face), recalcTimestamp=False)
    cutter.populate(text=characters)
    cutter.subset(font)
    stream = io.BytesIO()
    font.save(stream)
    return stream.getvalue()


def _rule(face: str, characters: str) -> str:
    weight, style = STYLES[face]
    data = base64.b64encode(subset(face, characters)).decode("ascii")
    return (
        f"@font-face {{ font-family: '{FAMILY}'; font-weight: {weight}; font-style: {style}; "
        f"src: url(data:font/otf;base64,{data}) format('opentype'); }}"
    )
