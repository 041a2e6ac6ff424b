"""Frames of film, each at the cost of what changed in it."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pipeline.drawing.picture import Colour, Picture
from pipeline.files.boxes import IntBox
from pipeline.timing import Rate


@dataclass(frozen=True, eq=False)
class Frame:
    """One frame. `canvas` is the same lasting array each time: read it before asking for the next frame.

    The canvas is (h, w, 4) uint8, premultiplied, in the order R, G, B, A. `changed` covers every pixel that
    differs from the frame before; it is the whole frame at first and empty where nothing differs.
    """

    number: int
    canvas: NDArray[np.uint8]
    changed: tuple[IntBox, ...]


def frames(
    picture_at: Callable[[Fraction], Picture],
    rate: Rate,
    first: int,
    last: int,
    background: Colour | None = None,
) -> Iterator[Frame]:
    """Frames `first` up to, not including, `last`; frame n shows the picture at n / rate.

    `background` is laid under every picture; None leaves the ground as the picture has it.
    """
    raise NotImplementedError
    yield
