"""Frames of PyAV as arrays, with their colours stated. Only for worker processes (`av`)."""

from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

BT709 = 1
LIMITED, FULL = 1, 2
IDENTITY = 0
"""Numbers of ITU-T H.273 for primaries, transfer and matrix; the range is FFmpeg's."""

Depth = TypeVar("Depth", np.uint8, np.uint16)


def tag(thing: Any, rgb: bool = False) -> None:
    """State BT.709 on a frame or an encoder: limited range YCbCr, or full range R, G, B."""
    thing.color_primaries = thing.color_trc = BT709
    thing.colorspace = IDENTITY if rgb else BT709
    thing.color_range = FULL if rgb else LIMITED


def tagged_frame(width: int, height: int, layout: str) -> Any:
    """A frame whose pixels are still to be written."""
    import av

    frame = av.VideoFrame(width, height, layout)
    tag(frame, rgb=layout in ("rgba", "argb"))
    return frame


def planes_of(frame: Any, depth: type[Depth]) -> list[npt.NDArray[Depth]]:
    """The planes of a planar frame as arrays (h, w) that share its memory."""
    views = []
    for plane in frame.planes:
        lines = np.frombuffer(plane, dtype=depth).reshape(plane.height, -1)
        views.append(lines[:, : plane.width])
    return views


def pixels_of(frame: Any) -> npt.NDArray[np.uint8]:
    """A packed four-byte frame as an array (h, w, 4) that shares its memory."""
    (plane,) = frame.planes
    lines = np.frombuffer(plane, dtype=np.uint8).reshape(plane.height, -1)
    return lines[:, : plane.width * 4].reshape(plane.height, plane.width, 4)


def rgb_of(frame: Any, layout: str, size: tuple[int, int] | None = None, matrix: int = BT709) -> Any:
    """A decoded frame as `rgb24` or `rgba` pixels (h, w, channels), scaled where a size is given.

    FFmpeg's quick conversion leaves dark colours up to two steps too low; this one rounds.
    """
    from av.video.reformatter import Interpolation as Way

    exact = Way.ACCURATE_RND | Way.FULL_CHR_H_INT | Way.FULL_CHR_H_INP | Way.BITEXACT
    width, height = size or (frame.width, frame.height)
    made = frame.reformat(width, height, layout, src_colorspace=matrix, interpolation=Way.BICUBIC | exact)
    return made.to_ndarray()
