"""The standing part of the sound view: waveform, spectrogram and its scale of pitch."""

import hashlib
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from pipeline.drawing.outline import line, polygon
from pipeline.drawing.picture import Box, Colour, Image, Mark, Path, Pixels, Stroke
from pipeline.drawing.typeface import text_width
from pipeline.sound.spectrum import HIGHEST_HZ, LOWEST_HZ, peaks, spectrogram
from pipeline.views.signs import centred
from pipeline.views.stage import Heard, Stage

COLUMN, ROW = 1.5, 2.0
"""Pixels of the view that one column and one row of the spectrogram take."""
MOST_COLUMNS, MOST_ROWS = 1600, 320
TICKS = (100, 200, 400, 800, 1600, 3200, 6400)
"""Hertz that are written, an octave apart."""


@dataclass(frozen=True)
class Clip:
    """A recording's span drawn from left to right."""

    heard: Heard
    left: float
    right: float

    @property
    def seconds(self) -> float:
        return len(self.heard.samples) / 4 / self.heard.rate

    def x(self, second: Fraction) -> float:
        """Where a second of the recording lies, held inside the picture."""
        share = float(second - self.heard.start) / self.seconds if self.seconds else 0.0
        return self.left + (self.right - self.left) * min(1.0, max(0.0, share))


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
    levels = spectrogram(wave, heard.rate, centres, rows)
    data = shades(stage)[levels].tobytes()
    return Pixels(columns, rows, hashlib.sha256(data).hexdigest(), data)


def spectrum_marks(stage: Stage, clip: Clip, box: Box) -> list[Mark]:
    """The spectrogram in a box."""
    columns = max(8, min(MOST_COLUMNS, int(box.width / COLUMN)))
    rows = max(8, min(MOST_ROWS, int(box.height / ROW)))
    return [Image(box, _pixels(stage, clip.heard, columns, rows), "spectrogram")]


def hertz_y(box: Box, hertz: float) -> float:
    """Where a frequency lies in a spectrogram's box."""
    share = np.log(hertz / LOWEST_HZ) / np.log(HIGHEST_HZ / LOWEST_HZ)
    return float(box.bottom - share * box.height)


def hertz_words(hertz: int) -> str:
    return f"{hertz / 1000:g} kHz" if hertz >= 1000 else f"{hertz} Hz"


def scale_width(small: float) -> float:
    """Room for the written frequencies."""
    return max(text_width(hertz_words(h), "regular", small) for h in TICKS) + small * 0.5


def scale_marks(stage: Stage, box: Box, small: float) -> list[Mark]:
    """Frequencies in hertz at the left of a spectrogram, where they do not crowd."""
    marks: list[Mark] = []
    ys = [(hertz, hertz_y(box, hertz)) for hertz in TICKS]
    pitch = min((a[1] - b[1] for a, b in pairwise(ys)), default=0.0)
    step = max(1, int(np.ceil(small * 1.1 / pitch))) if pitch > 0 else len(TICKS)
    for hertz, y in ys[::step]:
        if not box.y + small * 0.4 <= y <= box.bottom - small * 0.4:
            continue
        words = hertz_words(hertz)
        x = box.x - small * 0.36 - text_width(words, "regular", small) / 2
        marks.append(centred(words, x, y, small, _soft(stage), "regular", f"hertz {hertz}"))
        marks.append(Path(line(box.x - small * 0.22, y, box.x, y),
                          stroke=Stroke(_soft(stage), stage.line("hair"), False), name="tick"))  # fmt: skip
    return marks


def _soft(stage: Stage) -> Colour:
    return stage.look.colour("ink-soft")
