"""One picture, two backends: our pixels against typst's drawing of our SVG (an independent rasteriser)."""

import io
from pathlib import Path as FilePath
from typing import Literal

import numpy as np
import pytest
import typst
from PIL import Image as Pillow

from pipeline.drawing.affine import compose, moved, turned
from pipeline.drawing.outline import (
    arc,
    circle,
    diamond,
    line,
    polyline,
    rect,
    ring,
    rounded,
    slur,
    smooth,
    wavy,
)
from pipeline.drawing.picture import Box, Colour, Group, Mark, Path, Picture, Stroke, Text
from pipeline.drawing.typeface import FACES, font_file
from pipeline.files.raster import rasterise
from pipeline.files.svg import write_svg

PAPER, INK, CLAY, SAGE = (
    Colour(250, 246, 238),
    Colour(40, 34, 28),
    Colour(180, 66, 15),
    Colour(47, 117, 103, 150),
)
SHAPES: tuple[Mark, ...] = (
    Path(rounded(Box(10.3, 8.2, 120, 60), 12), SAGE, Stroke(INK, 2.5)),
    Path(circle(180, 40, 28.4), CLAY),
    Path(ring(250, 40, 28, 18), INK),
    Path(diamond(320, 40, 40, 52), None, Stroke(CLAY, 4, False)),
    Path(wavy(20, 190, 100, 16, 24), None, Stroke(INK, 3)),
    Path(smooth([(210, 110), (250, 80), (300, 125), (380, 85)]), None, Stroke(CLAY, 5)),
    Path(slur(20, 150, 200, 140, 22, 6), INK),
    Path(line(220, 150, 380, 140), None, Stroke(INK, 4, True, (14, 10))),
    Path(line(220, 165, 380, 165), None, Stroke(INK, 4, False, (14, 10))),
    Path(polyline([(30, 180), (60, 230), (90, 180), (120, 230)]), None, Stroke(SAGE, 9, False)),
    Path(polyline([(150, 180), (180, 230), (210, 180), (240, 230)]), None, Stroke(INK, 9)),
    Path(arc(320, 205, 30, 200, 430), None, Stroke(CLAY, 6)),
)
GROUPS: tuple[Mark, ...] = (
    Group((Path(circle(0, 0, 40), CLAY), Path(circle(30, 0, 40), INK)), moved(80, 60), 0.5),
    Group((Path(circle(200, 60, 45), SAGE),), clip=Box(180, 30, 60, 40)),
    Group((Path(rect(Box(0, 0, 60, 30)), CLAY, Stroke(INK, 3, False)),), compose(moved(300, 40), turned(25))),
    Group((Group((Path(circle(0, 0, 30), INK),), moved(20, 20), 0.4, Box(0, 0, 40, 60)),), moved(60, 150)),
)
WORDS: tuple[Mark, ...] = (
    *(Text(12, 36 + 40 * row, "Vale 7♯ shift (12) Äg", 30, INK, face) for row, face in enumerate(FACES)),
    Text(390, 36, "end 3", 24, CLAY, "bold", "end"),
    Text(350, 90, "mid", 24, CLAY, anchor="middle"),
)


def by_typst(folder: FilePath, picture: Picture, words: Literal["text", "outline"]) -> np.ndarray:
    (folder / "picture.svg").write_text(write_svg(picture, text=words), "utf-8")
    size = f"width: {picture.width}pt, height: {picture.height}pt"
    (folder / "page.typ").write_text(f'#set page({size}, margin: 0pt)\n#image("picture.svg", {size})')
    fonts = [str(font_file("regular").parent)]
    drawn = typst.compile(
        str(folder / "page.typ"), format="png", ppi=72.0, font_paths=fonts, ignore_system_fonts=True
    )
    assert isinstance(drawn, bytes)
    return np.array(Pillow.open(io.BytesIO(drawn), formats=("PNG",)).convert("RGB"))


@pytest.mark.parametrize("marks", [SHAPES, GROUPS, WORDS], ids=["shapes", "groups", "words"])
@pytest.mark.parametrize("words", ["text", "outline"])
def test_pixels_agree(tmp_path: FilePath, marks: tuple[Mark, ...], words: Literal["text", "outline"]) -> None:
    """Edges are blurred a little differently, and corners of sharp bevels; nothing else may differ."""
    picture = Picture(400, 260, marks, PAPER)
    apart = np.abs(by_typst(tmp_path, picture, words).astype(int) - rasterise(picture)[:, :, :3]).max(axis=2)
    assert apart.mean() < 1.5
    assert (apart > 64).mean() < 2e-4
