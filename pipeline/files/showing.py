"""A film that is shown at moments in any order, each with the very picture that playing it would show.

Pictures are taken by their own times, so film of a wandering rate stays in step when it is slowed. Reading
goes on from moment to moment; for a step back or a leap ahead it begins again at a key frame. Only for worker
processes (`av`); the demuxer is forced and nothing but the one file is opened.
"""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple, Self

from pipeline.errors import Place, faulty
from pipeline.ffmpeg import COPY_AGAIN
from pipeline.media import FILMS, known_kind

MOST_PIXELS = 40_000_000
"""A picture of more is refused: it would only exhaust memory."""
LONGEST_SHAPE = 16
"""A picture so many times longer than wide is refused: filling the frame with it would exhaust memory."""
RESAVE = "save it again as mp4 or mov with H.264"
LEAP = 10
"""Seconds ahead from which on a key frame is looked for: most films have one at least as often."""
MARGINS = (0, 2, 10)
"""Seconds before a moment at which key frames are looked for: an index may count by decoding, not showing."""


class Timed(NamedTuple):
    """A decoded picture and the second at which it comes on, by the film's own clock."""

    second: Fraction
    frame: Any


class Showing:
    """An open film. Raises Faulty where it is none, is cut off, or is too large."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._film = _opened(path)
        try:
            self._track = self._checked()
            self._coming = self._decoded()
            first = next(self._coming, None)
            if first is None:
                raise faulty(Place(str(path)), "holds no picture", RESAVE)
        except BaseException:
            self._film.close()
            raise
        self._first, self._now = first.second, first
        self._next = next(self._coming, None)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._film.close()

    @property
    def picture(self) -> Any:
        """The decoded frame that is on."""
        return self._now.frame

    def turn_to(self, moment: Fraction) -> bool:
        """Show the last picture that has come on by a moment, else the first; whether it is another one."""
        before = self._now
        if moment < self._now.second != self._first or (self._next and moment > self._now.second + LEAP):
            self._leap(moment)
        while self._next and self._next.second <= moment:
            self._now, self._next = self._next, next(self._coming, None)
        return self._now is not before

    def _leap(self, moment: Fraction) -> None:
        """Go to a picture at or before a moment from which the film can be read on."""
        for second in (moment - margin for margin in MARGINS):
            if second > self._first and self._began_at(second) and self._now.second <= moment:
                return
        self._began_at(self._first)

    def _began_at(self, second: Fraction) -> bool:
        """Whether a key frame before a second was found; it is shown then."""
        import av

        try:
            self._film.seek(int(second / self._track.time_base), stream=self._track)
        except (av.error.FFmpegError, OverflowError):
            return False
        self._coming = self._decoded()
        found = next(self._coming, None)
        if found is not None:
            self._now, self._next = found, next(self._coming, None)
        return found is not None

    def _decoded(self) -> Iterator[Timed]:
        import av

        try:
            for frame in self._film.decode(self._track):
                if frame.pts is not None:
                    self._bounded(frame)  # a film may change its size on the way
                    yield Timed(frame.pts * frame.time_base, frame)
        except av.error.FFmpegError as failure:
            wrong = f"cannot be read to its end ({_reason(failure)})"
            raise faulty(Place(str(self._path)), wrong, RESAVE) from failure

    def _checked(self) -> Any:
        """The picture's track, of a bearable size and whole as far as the file's index tells."""
        place, tracks = Place(str(self._path)), self._film.streams.video
        if not tracks:
            raise faulty(place, "holds no picture", RESAVE)
        self._bounded(tracks[0].codec_context)
        room = self._path.stat().st_size
        if any(entry.pos + entry.size > room for entry in tracks[0].index_entries):
            raise faulty(place, "is cut off: its index lists pictures that are not there", COPY_AGAIN)
        return tracks[0]

    def _bounded(self, picture: Any) -> None:
        """Raise Faulty for a picture that is too large, or too long for its width."""
        place, width, height = Place(str(self._path)), picture.width, picture.height
        if width * height > MOST_PIXELS:
            raise faulty(place, "has more than 40 million pixels a picture", "make it smaller")
        if max(width, height) > LONGEST_SHAPE * min(width, height):
            raise faulty(place, f"has pictures of {width}x{height}", "cut it to the frame's shape")


def _opened(path: Path) -> Any:
    import av

    kind = known_kind(path, FILMS, "film", "film", RESAVE)
    try:
        return av.open(f"file:{path}", format=kind, options={"protocol_whitelist": "file"})
    except (av.error.FFmpegError, ValueError, OSError) as failure:
        raise faulty(Place(str(path)), f"cannot be read as film ({_reason(failure)})", RESAVE) from failure


def _reason(failure: Exception) -> str:
    return getattr(failure, "strerror", None) or type(failure).__name__
