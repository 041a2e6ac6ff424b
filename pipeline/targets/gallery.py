"""The gallery: every scene of some scripts in every look and shape of frame, on contact sheets to look at.

A sheet is itself a picture, each scene a group scaled into its tile, so it shows exactly what film shows.
"""

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from html import escape
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple

from pipeline.drawing.affine import compose, moved, scaled
from pipeline.drawing.look import Look, load_look, look_names
from pipeline.drawing.outline import rect
from pipeline.drawing.picture import IDENTITY, Box, Group, Mark, Picture, Stroke, Text
from pipeline.drawing.picture import Path as Shape
from pipeline.drawing.templates import templates_folder
from pipeline.errors import Place, faulty
from pipeline.files.place import placed
from pipeline.files.raster import png_bytes
from pipeline.lesson.check import Checked, read_checked
from pipeline.lesson.resolve import resolve
from pipeline.lesson.scene import Scene

FOLDERS = ("views", "hard")
"""Where under `scenes/` the gallery finds scripts by itself: an example a view, and hard cases."""
SIZES = ((1920, 1080), (1080, 1920), (1080, 1080))
COLUMNS = {(1920, 1080): 3, (1080, 1920): 6, (1080, 1080): 4}
MOST_TILES = 12
WIDE = 2000
"""Pixels across the tiles of a sheet."""
GAP, CAPTION, HEAD, TYPE = 24, 40, 84, 22
BUSY = Fraction(11, 20)
"""How far through its first pass a scene is shown: late enough for states of every kind."""

Tell = Callable[[Path, int, int, float], None]
"""Hears of each file: its path, how many are made, of how many, and the seconds that are probably left."""


class Tile(NamedTuple):
    """A scene at the moment that is shown."""

    scene: Scene
    at: Fraction


class Sheet(NamedTuple):
    """What a contact sheet shows: scripts that belong together in one look and shape of frame."""

    group: str
    look: str
    size: tuple[int, int]
    number: int
    tiles: tuple[Tile, ...]

    @property
    def file(self) -> str:
        """The name of its file."""
        return f"{self.group}-{self.look}-{self.size[0]}x{self.size[1]}-{self.number}.png"


def gallery(scripts: Sequence[Path], out: Path, tell: Tell, allow_outside: bool = False) -> Path:
    """Draw the scripts (by default the examples beside the program) on sheets; gives the index's path.

    Raises Faulty where a script has faults or the examples are not there.
    """
    groups = {name: [read_checked(path, allow_outside) for path in paths] for name, paths in
              _grouped(scripts).items()}  # fmt: skip
    wanted = list(product(groups, look_names(), SIZES))
    folder, sheets, began = out / "gallery", list[Sheet](), time.monotonic()
    for done, (group, look, size) in enumerate(wanted, 1):
        for sheet in sheets_of(group, groups[group], look, size):
            path = folder / sheet.file
            with placed(path) as part:
                part.write_bytes(png_bytes(drawn(sheet)))
            sheets.append(sheet)
            left = (time.monotonic() - began) / done * (len(wanted) - done)
            tell(path, done, len(wanted), left)
    return _index(folder, sheets)


def sheets_of(group: str, scripts: Sequence[Checked], look: str, size: tuple[int, int]) -> Iterator[Sheet]:
    """The sheets of some scripts in one look and size, at most `MOST_TILES` scenes each."""
    tiles = [_tile(scene) for one in scripts for scene in resolve(dressed(one, look, size)).scenes]
    for start in range(0, len(tiles), MOST_TILES):
        chosen = tuple(tiles[start : start + MOST_TILES])
        yield Sheet(group, look, size, start // MOST_TILES + 1, chosen)


def dressed(checked: Checked, look: str, size: tuple[int, int]) -> Checked:
    """A checked script in another look and on a frame of another size; its own looks give way."""
    episode = checked.script.episode
    segments = tuple(
        _with(segment, look=None, scenes=tuple(_with(scene, look=None) for scene in segment.scenes))
        for segment in episode.segments
    )
    frame = _with(episode.frame, size=size)
    other = _with(episode, look=look, frame=frame, segments=segments)
    return replace(checked, script=replace(checked.script, episode=other))


def drawn(sheet: Sheet) -> Picture:
    """The sheet as a picture, in the look that it shows."""
    look, (width, height) = load_look(sheet.look), sheet.size
    columns = COLUMNS[sheet.size]
    scale = (WIDE - GAP * (columns + 1)) / columns / width
    cell = Box(0, 0, width * scale + GAP, height * scale + CAPTION + GAP)
    marks: list[Mark] = [_heading(sheet, look)]
    for number, tile in enumerate(sheet.tiles):
        row, column = divmod(number, columns)
        x, y = GAP + column * cell.width, HEAD + row * cell.height
        marks.append(_drawn_tile(tile, Box(x, y, width * scale, height * scale), look))
    rows = -(-len(sheet.tiles) // columns)
    return Picture(WIDE, round(HEAD + rows * cell.height), tuple(marks), look.colour("panel"))


def _heading(sheet: Sheet, look: Look) -> Text:
    width, height = sheet.size
    says = f"{sheet.group}, sheet {sheet.number}   ·   {sheet.look}   ·   {width} × {height}"
    return Text(GAP, HEAD - GAP - TYPE / 2, says, TYPE * 1.5, look.colour("ink"), "semibold")


def _drawn_tile(tile: Tile, box: Box, look: Look) -> Group:
    """The scene on its ground, scaled into the box and cut to it, with its name below."""
    picture = tile.scene.picture(tile.at, "film")
    into = compose(moved(box.x, box.y), scaled(box.width / picture.width))
    edge = Stroke(look.colour("faint"), 1, round_ends=False)
    name = f"{tile.scene.id}  ·  {float(tile.at):.2f} s"
    return Group(
        (
            Shape(rect(box), picture.background),
            Group((Group(picture.marks, into),), IDENTITY, clip=box),
            Shape(rect(box.inset(-0.5)), stroke=edge),
            Text(box.x, box.bottom + TYPE * 1.3, name, TYPE, look.colour("ink-soft")),
        ),
        name=tile.scene.id,
    )


def _tile(scene: Scene) -> Tile:
    if not scene.passes:
        return Tile(scene, scene.duration / 2)
    span = scene.passes[0].span
    return Tile(scene, span.start + BUSY * span.length)


def _with(keys: Any, **changed: Any) -> Any:
    """Keys with some values changed; they were checked before."""
    return keys.model_copy(update=changed)


def _grouped(scripts: Sequence[Path]) -> dict[str, list[Path]]:
    """The scripts by the name of their sheets: those given one by one, else the folders of examples."""
    if scripts:
        return {path.stem: [path] for path in scripts}
    scenes = templates_folder().parent / "scenes"
    found = {name: sorted((scenes / name).glob("*.yaml")) for name in FOLDERS}
    if not any(found.values()):
        raise faulty(
            Place("scenes"),
            "the examples are not beside the program",
            "name scripts: fretscene gallery SCRIPT",
        )
    return {name: paths for name, paths in found.items() if paths}


PAGE = """<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>fretscene: gallery</title>
<style>
body {{ margin: 2rem auto; max-width: 76rem; padding: 0 1.5rem; background: #f3f1ec; color: #26231f;
  font: 1rem/1.5 "Source Sans Pro", "Source Sans 3", sans-serif }}
h2 {{ margin: 3rem 0 .75rem; padding-top: .75rem; border-top: 2px solid #26231f }}
div {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(22rem, 1fr)); gap: 1.25rem }}
figure {{ margin: 0 }} img {{ width: 100%; display: block }} figcaption {{ margin-top: .35rem }}
</style>
<h1>Gallery</h1>
<p>Every scene in every look and shape of frame, as film shows it. A sheet opens at its full size.</p>
{sections}
</html>
"""


def _index(folder: Path, sheets: Sequence[Sheet]) -> Path:
    """Write the page that leads to all sheets."""
    groups = dict.fromkeys((sheet.group, sheet.size) for sheet in sheets)
    sections = (_section(key, [one for one in sheets if (one.group, one.size) == key]) for key in groups)
    path = folder / "index.html"
    with placed(path) as part:
        part.write_text(PAGE.format(sections="\n".join(sections)), "utf-8")
    return path


def _section(key: tuple[str, tuple[int, int]], sheets: Sequence[Sheet]) -> str:
    group, (width, height) = key
    figures = "\n".join(
        f'<figure><a href="{escape(one.file)}"><img loading="lazy" src="{escape(one.file)}" '
        f'alt="{escape(", ".join(tile.scene.title or tile.scene.id for tile in one.tiles))}"></a>'
        f"<figcaption>{escape(one.look)}, sheet {one.number}</figcaption></figure>"
        for one in sheets
    )
    return f"<h2>{escape(group)}, {width} × {height}</h2>\n<div>\n{figures}\n</div>"
