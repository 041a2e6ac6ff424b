"""Film under a scene or in a part of it: for every frame the picture that was on at that moment.

Frames are taken by their own times, so footage of a wandering rate stays in step when it is slowed. Only
for worker processes (`av`); the demuxer is forced and nothing but the one file is opened.
"""

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from pipeline.errors import Place, faulty
from pipeline.ffmpeg import COPY_AGAIN
from pipeline.files.av_frames import rgb_of
from pipeline.files.blend import as_pixels, over
from pipeline.files.boxes import IntBox, merged
from pipeline.files.frames import Frame
from pipeline.media import FILMS, kind_of
from pipeline.timing import Rate

Pixels = npt.NDArray[np.uint8]
Size = tuple[int, int]

MOST_PIXELS = 40_000_000
"""A picture of more is refused: it would only exhaust memory."""
LONGEST_SHAPE = 16
"""A picture so many times longer than wide is refused: filling the frame with it would exhaust memory."""
LARGE = 720
"""Lines from which on film that states no matrix counts as BT.709 (common practice, no source)."""
BT709, BT601, UNSTATED = 1, 6, 2
RESAVE = "save it again as mp4 or mov with H.264"


def footage(path: Path, moments: Iterable[Fraction], size: Size) -> Iterator[Pixels]:
    """The picture at each of the rising moments (seconds of the film), as opaque R, G, B, A (h, w, 4).

    It fills `size` and is cut where its shape differs. The same array comes again while the same picture is
    on. Before the first picture the first one shows, after the end the last. Raises Faulty.
    """
    kind = _film_kind(path)
    with _reading(path, kind) as film:
        coming = _timed(film, path)
        shown, following = next(coming, None), None
        if shown is None:
            raise faulty(Place(str(path)), "holds no picture", RESAVE)
        fitted = _fitted(shown[1], size)
        for moment in moments:
            following = following or next(coming, None)
            moved = False
            while following and following[0] <= moment:
                shown, following, moved = following, next(coming, None), True
            if moved:
                fitted = _fitted(shown[1], size)
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


def moments_of(frames: int, rate: Rate, second_of: Callable[[Fraction], Fraction]) -> Iterator[Fraction]:
    """The film's second for each frame, through the map scene second → film second."""
    return (second_of(rate.time_of(number)) for number in range(frames))


def _part(box: IntBox) -> tuple[slice, slice]:
    return slice(box.top, box.bottom), slice(box.left, box.right)


def _film_kind(path: Path) -> str:
    try:
        kind = kind_of(path)
    except OSError as failure:
        reason = failure.strerror or "cannot be opened"
        raise faulty(Place(str(path)), f"cannot be read: {reason}", "give the path of a film") from None
    if kind not in FILMS:
        raise faulty(Place(str(path)), "is no film of a known kind", RESAVE)
    return kind


def _reading(path: Path, kind: str) -> Any:
    import av

    try:
        return av.open(f"file:{path}", format=kind, options={"protocol_whitelist": "file"})
    except (av.error.FFmpegError, ValueError, OSError) as failure:
        raise faulty(Place(str(path)), f"cannot be read as film ({_reason(failure)})", RESAVE) from failure


def _timed(film: Any, path: Path) -> Iterator[tuple[Fraction, Any]]:
    """Every picture with the second at which it comes on, counted from the start of the film."""
    import av

    if not film.streams.video:
        raise faulty(Place(str(path)), "holds no picture", RESAVE)
    track = film.streams.video[0]
    _bounded(track.codec_context, path)
    room = path.stat().st_size
    if any(entry.pos + entry.size > room for entry in track.index_entries):
        raise faulty(Place(str(path)), "is cut off: its index lists pictures that are not there", COPY_AGAIN)
    try:
        for frame in film.decode(track):
            if frame.pts is not None:
                _bounded(frame, path)  # a film may change its size on the way
                yield frame.pts * frame.time_base, frame
    except av.error.FFmpegError as failure:
        raise faulty(Place(str(path)), f"cannot be read to its end ({_reason(failure)})", RESAVE) from failure


def _bounded(picture: Any, path: Path) -> None:
    """Raise Faulty for a picture that is too large, or too long for its width."""
    width, height = picture.width, picture.height
    if width * height > MOST_PIXELS:
        raise faulty(Place(str(path)), "has more than 40 million pixels a picture", "make it smaller")
    if max(width, height) > LONGEST_SHAPE * min(width, height):
        raise faulty(Place(str(path)), f"has pictures of {width}x{height}", "cut it to the frame's shape")


def _reason(failure: Exception) -> str:
    return getattr(failure, "strerror", None) or type(failure).__name__


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
