"""The picture that stands for a segment: a title or notes that sound, or what the script chooses."""

from fractions import Fraction
from pathlib import Path

import pytest

from pipeline.errors import Faulty
from pipeline.lesson.resolve import read_lesson

TITLE = "- {id: words, fragment: none, duration: 4, views: [{show: words, kind: title, text: Up, until: 3}]}"
EMPTY = "- {id: bare, fragment: none, duration: 2, views: [{show: words, text: nothing yet}]}"


def with_scene(short: Path, line: str) -> Path:
    """The short lesson with one more scene at the head of its first segment."""
    text = short.read_text("utf-8")
    short.write_text(text.replace("    scenes:\n", f"    scenes:\n      {line}\n", 1), "utf-8")
    return short


def test_a_title_stands_for_its_segment_while_it_is_shown(short: Path) -> None:
    segment = read_lesson(with_scene(short, TITLE)).segments[0]
    scene, frame = segment.poster
    assert (scene.id, frame) == ("words", segment.rate.first_frame(Fraction(3, 2)))


def test_a_note_sounds_where_there_is_no_title(short: Path) -> None:
    scene, frame = read_lesson(with_scene(short, EMPTY)).segments[0].poster
    assert scene.id == "whole"
    beat = scene.passes[0].moments.inverse(scene.rate.time_of(frame))
    assert scene.fragment is not None
    assert [note for note in scene.fragment.notes if note.onset < beat < note.end]


def test_a_long_text_is_no_title(short: Path) -> None:
    caution = TITLE.replace("text: Up", f"text: {'Rest often and keep the volume low. ' * 2}")
    assert read_lesson(with_scene(short, caution)).segments[0].poster[0].id == "whole"


@pytest.mark.parametrize(("chosen", "second"), [("second-bar", None), ("{scene: whole, second: 2}", 2)])
def test_the_script_chooses(short: Path, chosen: str, second: int | None) -> None:
    text = with_scene(short, TITLE).read_text("utf-8")
    short.write_text(text.replace("- id: first\n", f"- id: first\n    poster: {chosen}\n"), "utf-8")
    segment = read_lesson(short).segments[0]
    scene, frame = segment.poster
    assert scene.id in chosen
    wanted = scene.telling.second if second is None else Fraction(second)
    assert frame == segment.rate.first_frame(wanted)


@pytest.mark.parametrize(
    ("chosen", "told"),
    [
        ("whol", r"yaml:28:13: no scene of this segment is called 'whol'; did you mean 'whole'\?"),
        ("four", r"no scene of this segment is called 'four'; known here: second-bar, whole"),
        (
            "{scene: second-bar, second: 900}",
            r"yaml:28:41: 'second-bar' has no second 900; it lasts 1\d\.\d\d sec",
        ),
    ],
)
def test_a_poster_that_cannot_be_is_told(short: Path, chosen: str, told: str) -> None:
    text = short.read_text("utf-8")
    short.write_text(text.replace("- id: first\n", f"- id: first\n    poster: {chosen}\n"), "utf-8")
    with pytest.raises(Faulty, match=told):
        read_lesson(short)
