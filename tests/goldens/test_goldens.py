"""Every view's example against what it looked like before: as text, and four of them as small pictures.

`FRETSCENE_ACCEPT=1` takes what is drawn now as the new goldens. Differences are reported as a page in
build/goldens/.
"""

import os
from difflib import unified_diff
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import report
import sketch
from PIL import Image

from pipeline.files.raster import rasterise
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.scene import Scene

HERE = Path(__file__).resolve().parent
CHECKOUT = HERE.parent.parent
EXAMPLES = sorted((CHECKOUT / "scenes" / "views").glob("*.yaml"))
REPORT = CHECKOUT / "build" / "goldens"
ACCEPT = bool(os.environ.get("FRETSCENE_ACCEPT"))
PICTURES = ("tab", "neck", "staff", "readings")
WIDE = 320
LEVELS, LARGEST, SHARE = 6, 48, 0.002
"""Levels of 255 by which a pixel may differ unnoticed; the largest difference; the share of other pixels."""
MOST_BYTES = 300_000


@pytest.fixture(scope="module", autouse=True)
def _fresh_report() -> None:
    (REPORT / "report.html").unlink(missing_ok=True)


@cache
def scene(path: Path) -> Scene:
    return read_lesson(path).scenes[0]


def moments(one: Scene) -> list[Fraction]:
    """At rest, in the middle of the first pass, and near its end."""
    if not one.passes:
        return [Fraction(0), one.duration / 2]
    span = one.passes[0].span
    return [
        Fraction(0),
        span.start + span.length * Fraction(11, 20),
        span.start + span.length * Fraction(9, 10),
    ]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_views_marks_stand_where_they_stood(path: Path) -> None:
    one, golden = scene(path), HERE / f"{path.stem}.txt"
    drawn = sketch.sketch([(f"{float(t):.3f} s", one.picture(t)) for t in moments(one)])
    if ACCEPT:
        golden.write_text(drawn, "utf-8")
    expected = golden.read_text("utf-8")
    if drawn != expected:
        rows = unified_diff(expected.splitlines(), drawn.splitlines(), "expected", "actual", "", "", 1, "")
        where = report.report_text(REPORT, golden.name, "\n".join(rows))
        pytest.fail(f"{path.stem} is drawn otherwise: see {where}")


@pytest.mark.parametrize("name", PICTURES)
def test_a_view_looks_as_it_did(name: str) -> None:
    one, golden = scene(CHECKOUT / "scenes" / "views" / f"{name}.yaml"), HERE / f"{name}.png"
    picture = one.picture(moments(one)[1], "film")
    drawn = rasterise(picture, WIDE / picture.width)[:, :, :3]
    if ACCEPT:
        Image.fromarray(drawn).save(golden, optimize=True)
    with Image.open(golden) as file:
        expected = np.asarray(file.convert("RGB"))
    found = report.difference(expected, drawn, LEVELS)
    if found.largest > LARGEST or found.share > SHARE:
        where = report.report_pixels(REPORT, golden.name, expected, drawn)
        pytest.fail(f"{name} looks otherwise ({found}): see {where}")


def test_every_golden_belongs_to_an_example_and_all_are_small() -> None:
    names = {path.stem for path in EXAMPLES}
    goldens = [path for path in HERE.iterdir() if path.suffix in (".txt", ".png")]
    assert {path.stem for path in goldens} == names
    assert sum(path.stat().st_size for path in HERE.iterdir() if path.is_file()) < MOST_BYTES


def test_a_moved_mark_and_a_changed_pixel_are_told(tmp_path: Path) -> None:
    """The goldens would not pass nearly anything."""
    one = scene(CHECKOUT / "scenes" / "views" / "neck.yaml")
    start, later = moments(one)[:2]
    told = sketch.sketch([("a", one.picture(start)), ("b", one.picture(later))]).split("# b")[1]
    assert "+ " in told
    assert "- " in told
    canvas = np.zeros((9, 16, 3), np.uint8)
    other = canvas.copy()
    other[4, 4] = 200
    assert report.difference(canvas, other, LEVELS) == (200, 1 / 144)
    page = report.report_pixels(tmp_path, "a <b>", canvas, other).read_text("utf-8")
    assert page.count("<figure>") == 3
    assert "a &lt;b&gt;" in page
