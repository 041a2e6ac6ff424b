"""The gallery: every scene in every look and shape, sheets that show what film shows, an index of all."""

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pipeline.cli import main
from pipeline.drawing.look import load_look, look_names
from pipeline.files.raster import rasterise
from pipeline.lesson.check import read_checked
from pipeline.lesson.resolve import resolve
from pipeline.lesson.tools import weigh_fragment
from pipeline.targets import gallery

SCRIPT = """\
title: Titles
teacher: Orla Vanterpool
look: dusk
segments:
  - id: one
    title: One
    look: linen
    scenes:
{scenes}
"""
SCENE = """\
      - id: title-{number}
        duration: 2
        look: proof
        views:
          - {{show: words, kind: title, heading: Part {number}, text: The <stair>}}
"""


@pytest.fixture
def script(tmp_path: Path) -> Path:
    """Thirteen scenes: one more than a sheet holds."""
    path = tmp_path / "titles.yaml"
    scenes = "".join(SCENE.format(number=number) for number in range(1, 14))
    path.write_text(SCRIPT.format(scenes=scenes), "utf-8")
    return path


def test_a_script_in_another_dress_has_that_look_and_size_in_every_scene(script: Path) -> None:
    lesson = resolve(gallery.dressed(read_checked(script), "linen", (1080, 1920)))
    assert {scene.look.name for scene in lesson.scenes} == {"linen"}
    assert {(scene.width, scene.height) for scene in lesson.scenes} == {(1080, 1920)}


def test_sheets_hold_every_scene_once_and_in_order(script: Path) -> None:
    sheets = list(gallery.sheets_of("titles", [read_checked(script)], "dusk", (1920, 1080)))
    assert [len(sheet.tiles) for sheet in sheets] == [12, 1]
    shown = [tile.scene.id for sheet in sheets for tile in sheet.tiles]
    assert shown == [f"title-{number}" for number in range(1, 14)]


@pytest.mark.parametrize("size", gallery.SIZES, ids=str)
def test_a_tile_shows_what_film_shows(script: Path, size: tuple[int, int]) -> None:
    """The first tile, cut out of the drawn sheet, against the scene drawn by itself at the tile's size."""
    sheet = next(gallery.sheets_of("titles", [read_checked(script)], "dusk", size))
    columns = gallery.COLUMNS[size]
    scale = (gallery.WIDE - gallery.GAP * (columns + 1)) / columns / size[0]
    alone = rasterise(sheet.tiles[0].scene.picture(sheet.tiles[0].at, "film"), scale)[2:-3, 2:-3, :3]
    height, width = alone.shape[:2]
    top, left = gallery.HEAD + 2, gallery.GAP + 2
    tile = rasterise(gallery.drawn(sheet))[top : top + height, left : left + width, :3]
    assert alone.std() > 5
    assert np.abs(tile.astype(int) - alone).mean() < 0.2
    assert (np.abs(tile.astype(int) - alone).max(axis=2) > 40).mean() < 0.002


def test_the_command_writes_all_sheets_and_an_index_that_names_them(
    script: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gallery, "SIZES", ((1080, 1080),))
    monkeypatch.setattr(gallery, "look_names", lambda: look_names()[:2])
    assert main(["gallery", str(script), "--out", str(tmp_path / "build")]) == 0
    folder = tmp_path / "build" / "gallery"
    sheets = sorted(path.name for path in folder.glob("*.png"))
    assert len(sheets) == 4
    with Image.open(folder / sheets[0]) as image:
        assert image.width == gallery.WIDE
        assert image.convert("RGB").getpixel((2, 2)) == load_look(look_names()[0]).colour("panel")[:3]
    page = (folder / "index.html").read_text("utf-8")
    assert sorted(set(re.findall(r'src="([^"]+)"', page))) == sheets
    assert "<script" not in page
    said = capsys.readouterr()
    assert said.out == f"wrote {folder / 'index.html'}\n"
    assert len(re.findall(r"^\[\d/2\] wrote .+\.png", said.err, re.MULTILINE)) == 4


def test_without_the_examples_one_line_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gallery, "templates_folder", lambda: tmp_path / "templates")
    assert main(["gallery", "--out", str(tmp_path)]) == 2
    assert capsys.readouterr().err == (
        "scenes: the examples are not beside the program; name scripts: fretscene gallery SCRIPT\n"
    )
    assert not (tmp_path / "gallery").exists()


def test_the_examples_cover_every_view_and_the_hard_cases(checkout: Path) -> None:
    groups = gallery._grouped(())
    assert set(groups) == set(gallery.FOLDERS)
    cases = {path.stem for path in groups["hard"]}
    assert {"techniques", "left-handed", "capo", "four-strings", "eight-strings", "nine-strings"} <= cases
    for path in groups["hard"]:
        assert weigh_fragment(path, "phrase", 1, free=False).readings, f"{path.name} can be played as written"
