"""Films made in pieces side by side and joined by copying packets: exact to the frame, sound laid once.

A piece of H.264 is a film without sound, one of an overlay is what changes in it (`pieces`). Where it is cut
hangs on the frames alone, never on how many processes there are, so the bytes do not either. Only for worker
processes (`av`).
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain
from pathlib import Path
from typing import Any

from pipeline.files.coders import AlphaCodec
from pipeline.files.mux import Reel, Sound, reel
from pipeline.files.pieces import changes_of
from pipeline.files.place import placed
from pipeline.files.video import Written, checked, write_overlay
from pipeline.timing import Rate


@dataclass(frozen=True)
class Part:
    """Frames `first` up to, not including, `last` of a film file; None means its end.

    H.264 can start a part only at a key frame, and end one only before a key frame or at the file's end.
    """

    path: Path
    first: int = 0
    last: int | None = None


def join_films(
    path: Path,
    parts: Sequence[Part],
    rate: Rate,
    sound: Sound | None = None,
    chapters: Sequence[tuple[int, str]] = (),
    title: str = "",
) -> Written:
    """Join parts of H.264 films that were written with the same settings into one MP4.

    `chapters` are (frame, name). Raises ValueError where a part does not begin and end at key frames or was
    written with other settings; Faulty where the disk refuses.
    """
    with placed(path) as part:
        with reel(part, "mp4", rate, {"title": title} if title else {}, sound) as film:
            _set_chapters(film, chapters, sum(_count(one) for one in parts))
            for one in parts:
                _copy(film, one)
        return checked(part, path, "mp4", film)


def join_overlays(
    path: Path,
    pieces: Sequence[Path],
    size: tuple[int, int],
    rate: Rate,
    sound: Sound | None = None,
    codec: AlphaCodec = "prores",
) -> Written:
    """Join pieces of overlays (`pieces`) into one MOV: the same bytes as writing it in one go."""
    return write_overlay(path, chain.from_iterable(map(changes_of, pieces)), size, rate, sound, codec)


@contextmanager
def opened(path: Path, kind: str) -> Iterator[Any]:
    """A film file of ours, for reading."""
    import av

    with av.open(f"file:{path}", format=kind) as film:
        yield film


def packets(source: Any) -> Iterator[Any]:
    """The packets of the picture, in the order in which they are stored."""
    return (packet for packet in source.demux(source.streams.video[0]) if packet.size)


def _copy(film: Reel, part: Part) -> None:
    """Copy packets in their order. Decoding times count on: one frame alone has another delay."""
    with opened(part.path, "mp4") as source:
        track = source.streams.video[0]
        if film.picture is None:
            film.add_copy(track)
        _same_settings(film.picture, track, part.path)
        moved = film.frames - part.first
        delay = track.codec_context.reorder_depth
        for packet in _within(packets(source), part, film.rate):
            packet.pts, packet.dts = packet.pts + moved, film.frames - delay
            film.lay(packet)


def _within(stored: Iterable[Any], part: Part, rate: Rate) -> Iterator[Any]:
    """The packets of a part, with times in frames. Groups are closed, so a part is a run of packets."""
    inside = False
    for packet in stored:
        number = _frames(packet.pts, packet.time_base, rate)
        if packet.is_keyframe and number == part.first:
            inside = True
        if part.last is not None and number >= part.last:
            if packet.is_keyframe:
                return
            raise ValueError(f"{part.path.name} cannot end at frame {part.last}: no key frame follows")
        if inside:
            packet.pts = number
            yield packet
    if not inside:
        raise ValueError(f"{part.path.name} cannot start at frame {part.first}: it is no key frame")


def _frames(ticks: int, base: Fraction, rate: Rate) -> int:
    exact = ticks * base * rate.value
    if exact.denominator != 1:
        raise ValueError("a film of another frame rate cannot be joined")
    return exact.numerator


def _same_settings(into: Any, track: Any, path: Path) -> None:
    ours, theirs = into.codec_context, track.codec_context
    if (ours.width, ours.height, ours.extradata) != (theirs.width, theirs.height, theirs.extradata):
        raise ValueError(f"{path.name} was written with other settings and cannot be joined")


def _count(part: Part) -> int:
    with opened(part.path, "mp4") as source:
        last = source.streams.video[0].frames if part.last is None else part.last
    return int(last) - part.first


def _set_chapters(film: Reel, chapters: Sequence[tuple[int, str]], frames: int) -> None:
    """Chapters in thousandths of a second, which is what players read (ISO base media has no finer ones)."""
    if not chapters:
        return
    starts = [round(film.rate.time_of(frame) * 1000) for frame, _ in chapters]
    ends = [*starts[1:], round(film.rate.time_of(frames) * 1000)]
    base = Fraction(1, 1000)
    film.container.set_chapters(
        [
            {"id": number, "start": start, "end": end, "time_base": base, "metadata": {"title": name}}
            for number, ((_, name), start, end) in enumerate(zip(chapters, starts, ends, strict=True))
        ]
    )
