"""One OpenTimelineIO timeline for the editing program: every piece in its place, with markers.

OpenTimelineIO has no field for how alpha is meant, so each overlay says it in its metadata: straight.
Times are whole frames. `opentimelineio` is imported when a timeline is made.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal
from urllib.parse import quote

from pipeline.files.place import placed
from pipeline.timing import Rate

Track = Literal["film", "overlay", "sound"]
TRACKS: tuple[Track, ...] = ("film", "overlay", "sound")
"""From the lowest picture upwards, then the sound."""
NAMES = {"film": "Footage and film", "overlay": "Overlays", "sound": "Sound"}
APPLICATION = "fretscene"


@dataclass(frozen=True)
class Marker:
    """A named frame of the piece it stands on."""

    frame: int
    name: str
    kind: Literal["scene", "beat", "note", "poster"] = "beat"


MARKER_COLOURS = {"scene": "GREEN", "beat": "CYAN", "note": "YELLOW", "poster": "PINK"}
"""Of the names that OpenTimelineIO defines."""


@dataclass(frozen=True)
class Piece:
    """A file on a track: frames [start, start + frames) of the timeline.

    `file` is relative to the timeline's folder, with `/` between folders. `source` is the frame of the file
    at which the piece begins, `whole` how many frames the file has (as long as the piece where not given).
    """

    track: Track
    name: str
    file: str
    start: int
    frames: int
    markers: tuple[Marker, ...] = ()
    source: int = 0
    whole: int | None = None


def write_handoff(path: Path, name: str, pieces: Iterable[Piece], size: tuple[int, int], rate: Rate) -> None:
    """Write an `.otio` file. Raises Faulty where the disk refuses, ValueError where pieces overlap."""
    text = handoff(name, pieces, size, rate)
    with placed(path) as part:
        part.write_text(text, "utf-8")


def handoff(
    name: str,
    pieces: Iterable[Piece],
    size: tuple[int, int],
    rate: Rate,
    posters: Mapping[str, str] | None = None,
) -> str:
    """The timeline as OpenTimelineIO's JSON, the same text every time.

    `posters` are pictures that stand for films, by segment; files are relative like those of pieces.
    """
    import opentimelineio as otio

    timeline = otio.schema.Timeline(name=name)
    timeline.metadata[APPLICATION] = {
        "width": size[0],
        "height": size[1],
        "rate": f"{rate.value.numerator}/{rate.value.denominator}",
        "posters": {segment: quote(file) for segment, file in (posters or {}).items()},
    }
    lanes: dict[Track, list[Piece]] = defaultdict(list)
    for piece in pieces:
        lanes[piece.track].append(piece)
    for track in TRACKS:
        if lanes[track]:
            timeline.tracks.append(_track(otio, track, lanes[track], rate))
    text: str = otio.adapters.write_to_string(timeline, "otio_json")
    return text


def _track(otio: Any, kind: Track, pieces: list[Piece], rate: Rate) -> Any:
    kinds = otio.schema.TrackKind
    track = otio.schema.Track(NAMES[kind], kind=kinds.Audio if kind == "sound" else kinds.Video)
    at = 0
    for piece in sorted(pieces, key=lambda one: one.start):
        if piece.start < at:
            raise ValueError(
                f"{piece.name} starts at frame {piece.start}, before {at} where the last one ends"
            )
        if piece.start > at:
            track.append(otio.schema.Gap(source_range=_span(otio, 0, piece.start - at, rate)))
        track.append(_clip(otio, piece, rate))
        at = piece.start + piece.frames
    return track


def _clip(otio: Any, piece: Piece, rate: Rate) -> Any:
    whole = piece.source + piece.frames if piece.whole is None else piece.whole
    reference = otio.schema.ExternalReference(quote(piece.file), _span(otio, 0, whole, rate))
    clip = otio.schema.Clip(piece.name, reference, _span(otio, piece.source, piece.frames, rate))
    if piece.track == "overlay":
        clip.metadata[APPLICATION] = {"alpha": "straight"}
        reference.metadata[APPLICATION] = {"alpha": "straight"}
    for marker in piece.markers:
        clip.markers.append(_marker(otio, marker, piece.source, rate))
    return clip


def _marker(otio: Any, marker: Marker, source: int, rate: Rate) -> Any:
    """Markers are in the time of the clip's own file, as OpenTimelineIO has it."""
    return otio.schema.Marker(
        name=marker.name,
        marked_range=_span(otio, source + marker.frame, 1, rate),
        color=MARKER_COLOURS[marker.kind],
        metadata={APPLICATION: {"kind": marker.kind}},
    )


def _span(otio: Any, start: int, frames: int, rate: Rate) -> Any:
    speed = float(rate.value)
    time = otio.opentime.RationalTime
    return otio.opentime.TimeRange(time(start, speed), time(frames, speed))
