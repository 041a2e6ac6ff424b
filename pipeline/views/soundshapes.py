"""Waveform and spectrogram as marks. Loaded when they are drawn: planning a lesson needs no numpy."""

import hashlib
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from pipeline.drawing.outline import polygon
from pipeline.drawing.picture import Box, Image, Mark, Path, Pixels
from pipeline.sound.spectrum import peaks, spectrogram
from pipeline.views.soundmarks import HIGHEST_HZ, LOWEST_HZ, Clip
from pipeline.views.stage import Heard, Stage

COLUMN, ROW = 1.5, 2.0
"""Pixels of the view that one column and one row of the spectrogram take."""
MOST_COLUMNS, MOST_ROWS = 1600, 320


def wave_of(heard: Heard) -> npt.NDArray[np.float32]:
    """The samples as an array."""
    return np.frombuffer(heard.samples, dtype="<f4")


def wave_marks(stage: Stage, clip: Clip, box: Box) -> list[Mark]:
    """The waveform as one shape about the middle of a box, as tall as its loudest sample."""
    wave = wave_of(clip.heard)
    columns = max(2, int(box.width / 1.5))
    edges = np.linspace(0, len(wave), columns + 1).astype(np.int64)
    found = peaks(wave, edges)
    top = float(np.abs(found).max(initial=0.0)) or 1.0
    middle, half = box.centre[1], box.height / 2
    least = stage.line("hair")
    xs = [box.x + (i + 0.5) * box.width / columns for i in range(columns)]
    upper = [
        (x, middle - max(least, float(high) / top * half)) for x, high in zip(xs, found[:, 1], strict=True)
    ]
    lower = [
        (x, middle - min(-least, float(low) / top * half)) for x, low in zip(xs, found[:, 0], strict=True)
    ]
    return [Path(polygon([*upper, *reversed(lower)]), stage.look.colour("wave"), name="wave")]


def shades(stage: Stage) -> npt.NDArray[np.uint8]:
    """256 colours from the look's three levels, straight RGBA."""
    stops = [stage.look.colour(f"level-{name}") for name in ("low", "middle", "high")]
    places = np.array([0.0, 0.55, 1.0])
    steps = np.linspace(0, 1, 256)
    parts = [np.interp(steps, places, [stop[i] for stop in stops]) for i in range(4)]
    return np.rint(np.stack(parts, axis=1)).astype(np.uint8)


@lru_cache(maxsize=8)
def _pixels(stage: Stage, heard: Heard, columns: int, rows: int) -> Pixels:
    wave = wave_of(heard)
    seconds = len(wave) / heard.rate
    centres = (np.arange(columns) + 0.5) * seconds / columns
    levels = spectrogram(wave, heard.rate, centres, rows, LOWEST_HZ, HIGHEST_HZ)
    data = shades(stage)[levels].tobytes()
    return Pixels(columns, rows, hashlib.sha256(data).hexdigest(), data)


def spectrum_marks(stage: Stage, clip: Clip, box: Box) -> list[Mark]:
    """The spectrogram in a box."""
    columns = max(8, min(MOST_COLUMNS, int(box.width / COLUMN)))
    rows = max(8, min(MOST_ROWS, int(box.height / ROW)))
    return [Image(box, _pixels(stage, clip.heard, columns, rows), "spectrogram")]
