"""A failed golden as a page to look at: expected, actual and where they differ."""

import base64
import io
from html import escape
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Pixels = NDArray[np.uint8]

HEAD = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Goldens that differ</title>
<style>body { font: 1rem/1.45 sans-serif; margin: 2rem; background: #f3f1ec; color: #26231f }
pre { background: #fff; padding: 1rem; overflow: auto }
figure { display: inline-block; margin: 0 1rem 1rem 0 }
</style><h1>Goldens that differ</h1>
<p>Where the new ones are right: <code>FRETSCENE_ACCEPT=1 python -m pytest tests/goldens</code></p>
"""


class Difference(NamedTuple):
    """How far two pictures of one size stand apart."""

    largest: int
    """Levels of 255."""
    share: float
    """Of pixels that differ by more than the stated levels."""


def difference(one: Pixels, other: Pixels, levels: int) -> Difference:
    """Compare two canvases; another size differs everywhere."""
    if one.shape != other.shape:
        return Difference(255, 1.0)
    apart = np.abs(one.astype(int) - other.astype(int)).max(axis=-1)
    return Difference(int(apart.max()), float((apart > levels).mean()))


def report_text(folder: Path, name: str, differing: str) -> Path:
    """Add a text's differences to the report."""
    return _add(folder, f"<h2>{escape(name)}</h2>\n<pre>{escape(differing)}</pre>\n")


def report_pixels(folder: Path, name: str, expected: Pixels, actual: Pixels) -> Path:
    """Add a picture's expected, actual and difference (four times as strong) to the report."""
    shown = {"expected": expected, "actual": actual}
    if expected.shape == actual.shape:
        apart = np.abs(expected.astype(int) - actual.astype(int)) * 4
        shown["difference"] = np.minimum(apart, 255).astype(np.uint8)
    figures = "".join(
        f'<figure><img alt="" src="data:image/png;base64,{_encoded(canvas)}">'
        f"<figcaption>{what}</figcaption></figure>"
        for what, canvas in shown.items()
    )
    return _add(folder, f"<h2>{escape(name)}</h2>\n{figures}\n")


def _encoded(canvas: Pixels) -> str:
    stream = io.BytesIO()
    Image.fromarray(canvas).save(stream, "PNG")
    return base64.b64encode(stream.getvalue()).decode()


def _add(folder: Path, section: str) -> Path:
    path = folder / "report.html"
    folder.mkdir(parents=True, exist_ok=True)
    before = path.read_text("utf-8") if path.is_file() else HEAD
    path.write_text(before + section, "utf-8")
    return path
