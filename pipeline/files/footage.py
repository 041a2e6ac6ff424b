"""Film under a scene or in a part of it: for every frame the picture that was on at that moment, in its size.

Only for worker processes (`av`).
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from pipeline.files.av_frames import rgb_of
from pipeline.files.blend import as_pixels, over
from pipeline.files.boxes import IntBox, merged
from pipeline.files.frames import Frame
from pipeline.files.showing import Showing

Pixels = npt.NDArray[np.uint8]
Size = tuple[int, int]

LARGE = 720
"""Lines from which on film that states no matrix counts as BT.709 (common practice, no source)."""
BT709, BT601, UNSTATED = 1, 6, 2


def footage(path: Path, moments: Iterable[Fraction], size: Size) -> Iterator[Pixels]:
    """The picture at each moment (seconds of the film, in any order), as opaque R, G, B, A (h, w, 4).

    It fills `size` and is cut where its shape differs. The same array comes again while the same picture is
    on. Before the first picture the first one shows, after the end the last. Raises Faulty.
    """
    fitted: Pixels | None = None
    with Showing(path) as film:
        for moment in moments:
            if film.turn_to(moment) or fitted is None:
                fitted = _fitted(film.picture, size)
            yield fitted


def under(
    overlay: Iterable[Frame], film: Iterable[Pixels | None], ground: Pixels, room: IntBox
) -> Iterator[Frame]:
    """The overlay's frames over film, which runs in its room of a ground; only what changed is composited.

    `ground` is (h, w, 4), premultiplied; where there is no picture of the film it shows in the room, too.
    """
    bare, canvas, last = ground[_part(room)].copy(), np.empty_like(ground), None
    whole: IntBox | None = IntBox(0, 0, *ground.shape[1::-1])
    for frame, picture in zip(overlay, film, strict=False):
        turned = picture is not last
        if turned:
            ground[_part(room)] = bare if picture is None else picture
        last = picture
        changed = (whole,) if whole else merged((*frame.changed, room)) if turned else frame.changed
        whole = None
        for box in changed:
            canvas[_part(box)] = ground[_part(box)]
            over(as_pixels(canvas), as_pixels(frame.canvas), 0, 0, *box, np.uint32(255))
        yield Frame(frame.number, canvas, changed)


def _part(box: IntBox) -> tuple[slice, slice]:
    return slice(box.top, box.bottom), slice(box.left, box.right)


def _fitted(frame: Any, size: Size) -> Pixels:
    """The picture upright, scaled to fill the size, its middle kept."""
    turns = round(getattr(frame, "rotation", 0) / 90) % 4
    width, height = size if turns % 2 == 0 else size[::-1]
    scale = max(Fraction(width, frame.width), Fraction(height, frame.height))
    wide, high = max(width, round(frame.width * scale)), max(height, round(frame.height * scale))
    scaled = _rgba(frame, wide, high)
    left, top = (wide - width) // 2, (high - height) // 2
    pixels = np.rot90(scaled[top : top + height, left : left + width], turns)
    opaque = np.ascontiguousarray(pixels)
    opaque[:, :, 3] = 255
    return opaque


def _rgba(frame: Any, width: int, height: int) -> Pixels:
    """Converted with the matrix that the film states, else with the one its size suggests."""
    stated = int(frame.colorspace)
    matrix = stated if stated != UNSTATED else BT709 if frame.height >= LARGE else BT601
    pixels: Pixels = rgb_of(frame, "rgba", (width, height), matrix)
    return pixels
