"""The timeline as OpenTimelineIO itself reads it back."""

import json
from fractions import Fraction
from pathlib import Path
from urllib.parse import unquote

import opentimelineio as otio
import pytest

from pipeline.files.handoff import Marker, Piece, handoff, write_handoff
from pipeline.timing import Rate

SIZE = (1920, 1080)
RATES = [Fraction(24000, 1001), Fraction(25), Fraction(30000, 1001), Fraction(60)]


def two_pieces() -> list[Piece]:
    """A piece of 50 frames, a gap of 25, a piece of 75."""
    beats = (Marker(0, "Bar 1", "scene"), Marker(10, "1"), Marker(22, "2"))
    return [
        Piece("overlay", "scene-b", "overlays/it's b & c.mov", 75, 75),
        Piece("overlay", "scene-a", "overlays/a.mov", 0, 50, beats),
    ]


def read(text: str) -> otio.schema.Timeline:
    return otio.adapters.read_from_string(text, "otio_json")


@pytest.mark.parametrize("rate", RATES, ids=str)
def test_pieces_and_gaps_stand_in_place(rate: Fraction) -> None:
    """Worked example, opentimelineio 0.18.1: 50 + gap 25 + 75 is 150 frames; the second starts at 75."""
    track = read(handoff("Lesson", two_pieces(), SIZE, Rate(rate))).tracks[0]
    assert [type(item).__name__ for item in track] == ["Clip", "Gap", "Clip"]
    assert [item.duration().value for item in track] == [50, 25, 75]
    assert track.duration() == otio.opentime.RationalTime(150, float(rate))
    place = track[2].range_in_parent()
    assert (place.start_time.value, place.duration.value, place.start_time.rate) == (75, 75, float(rate))


def test_only_core_schemas_are_written() -> None:
    """The schemas that opentimelineio 0.18.1 lists for such a timeline."""
    text = handoff("Lesson", two_pieces(), SIZE, Rate(Fraction(25)))
    found: set[str] = set()

    def walk(node: object) -> None:
        for value in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
            walk(value)
        if isinstance(node, dict) and "OTIO_SCHEMA" in node:
            found.add(node["OTIO_SCHEMA"])

    walk(json.loads(text))
    assert found == {
        "Timeline.1", "Stack.1", "Track.1", "Clip.2", "Gap.1", "Marker.2",
        "ExternalReference.1", "TimeRange.1", "RationalTime.1",
    }  # fmt: skip


def test_overlays_say_how_their_alpha_is_meant() -> None:
    track = read(handoff("Lesson", two_pieces(), SIZE, Rate(Fraction(25)))).tracks[0]
    for clip in track.find_clips():
        assert clip.metadata["fretscene"]["alpha"] == "straight"
        assert clip.media_reference.metadata["fretscene"]["alpha"] == "straight"


def test_files_are_relative_and_survive_odd_names() -> None:
    clips = list(read(handoff("Lesson", two_pieces(), SIZE, Rate(Fraction(25)))).find_clips())
    assert [unquote(clip.media_reference.target_url) for clip in clips] == [
        "overlays/a.mov",
        "overlays/it's b & c.mov",
    ]
    assert not any("://" in clip.media_reference.target_url for clip in clips)
    assert [clip.name for clip in clips] == ["scene-a", "scene-b"]


def test_markers_stand_on_their_frames() -> None:
    clip = next(iter(read(handoff("Lesson", two_pieces(), SIZE, Rate(Fraction(25)))).find_clips()))
    found = [(m.name, m.marked_range.start_time.value, m.metadata["fretscene"]["kind"]) for m in clip.markers]
    assert found == [("Bar 1", 0, "scene"), ("1", 10, "beat"), ("2", 22, "beat")]


def test_a_piece_may_be_part_of_a_longer_file() -> None:
    piece = Piece("film", "seg", "seg.mp4", 5, 20, (Marker(3, "x"),), source=100, whole=400)
    track = read(handoff("Lesson", [piece], SIZE, Rate(Fraction(25)))).tracks[0]
    clip = track[1]
    assert clip.available_range().duration.value == 400
    assert (clip.source_range.start_time.value, clip.source_range.duration.value) == (100, 20)
    (marker,) = clip.markers
    assert clip.transformed_time(marker.marked_range.start_time, track).value == 8


def test_tracks_lie_in_order_from_film_to_sound() -> None:
    pieces = [
        Piece("sound", "mix", "mix.wav", 0, 150),
        *two_pieces(),
        Piece("film", "segment", "segment.mp4", 0, 150),
    ]
    timeline = read(handoff("Lesson", pieces, SIZE, Rate(Fraction(25))))
    assert [track.kind for track in timeline.tracks] == ["Video", "Video", "Audio"]
    assert timeline.duration().value == 150


def test_overlapping_pieces_are_refused() -> None:
    pieces = [Piece("overlay", "a", "a.mov", 0, 50), Piece("overlay", "b", "b.mov", 49, 5)]
    with pytest.raises(ValueError, match="b starts at frame 49, before 50"):
        handoff("Lesson", pieces, SIZE, Rate(Fraction(25)))


def test_the_same_text_every_time(tmp_path: Path) -> None:
    for name in ("a.otio", "b.otio"):
        write_handoff(tmp_path / name, "Lesson", two_pieces(), SIZE, Rate(Fraction(25)))
    assert (tmp_path / "a.otio").read_bytes() == (tmp_path / "b.otio").read_bytes()
    assert len(otio.adapters.read_from_file(str(tmp_path / "a.otio")).tracks) == 1


def test_posters_are_named_beside_the_timeline() -> None:
    text = handoff("Lesson", two_pieces(), SIZE, Rate(Fraction(25)), {"one": "posters/a b.png"})
    timeline = read(text)  # what it holds goes with it
    assert timeline.metadata["fretscene"]["posters"] == {"one": "posters/a%20b.png"}
