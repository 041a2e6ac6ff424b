"""Every view, as film: frames made of what changed equal frames drawn whole, to the last bit."""

from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from test_views import VARIANTS, made, staged

from pipeline.drawing.picture import Picture
from pipeline.files.frames import frames
from pipeline.files.raster import rasterise
from pipeline.timing import Rate

RATE = Rate(Fraction(25))
FIRST, LAST = 20, 70


@pytest.mark.parametrize(("name", "given"), VARIANTS, ids=lambda v: v if isinstance(v, str) else str(v))
def test_fast_frames_equal_plain_ones(name: str, given: dict[str, Any]) -> None:
    stage, view = staged("lead line", 576, 240, 360), made(name, given)
    ground = stage.look.colour("ground")

    def at(t: Fraction) -> Picture:
        picture: Picture = view.picture(stage, t)
        return picture

    for frame in frames(at, RATE, FIRST, LAST, ground):
        if frame.number % 4 == 0 or frame.number == LAST - 1:
            plain = rasterise(replace(at(RATE.time_of(frame.number)), background=ground))
            assert np.array_equal(frame.canvas, plain), frame.number
