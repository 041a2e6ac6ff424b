"""Where a recording lies in the sound view, and the scale of pitch beside its spectrogram."""

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from pipeline.drawing.outline import line
from pipeline.drawing.picture import Box, Colour, Mark, Path, Stroke
from pipeline.drawing.typeface import text_width
from pipeline.views.signs import centred
from pipeline.views.stage import Heard, Stage

LOWEST_HZ, HIGHEST_HZ = 70.0, 7000.0
"""The pitches that the spectrogram shows."""
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


def hertz_y(box: Box, hertz: float) -> float:
    """Where a frequency lies in a spectrogram's box."""
    share = math.log(hertz / LOWEST_HZ) / math.log(HIGHEST_HZ / LOWEST_HZ)
    return box.bottom - share * box.height


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
    step = max(1, math.ceil(small * 1.1 / pitch)) if pitch > 0 else len(TICKS)
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
