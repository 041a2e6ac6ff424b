"""From a script to a lesson: what flows down, where views stand, what can be sent to another process."""

import json
import pickle
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from pipeline.errors import Faulty
from pipeline.lesson.digest import digest
from pipeline.lesson.heard import ExcerptSound
from pipeline.lesson.lesson import Lesson
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.start import start

F = Fraction
FilmHead = Callable[..., None]


@pytest.fixture
def lesson(short: Path) -> Lesson:
    return read_lesson(short)


def test_segments_are_whole_frames_end_to_end(lesson: Lesson) -> None:
    first = lesson.segment("first")
    assert first.frames == sum(scene.frames for scene in first.scenes)
    assert first.offset("second-bar") == lesson.scene("whole").frames
    assert first.duration == F(first.frames * 1001, 30000)
    with pytest.raises(KeyError):
        first.offset("four")


def test_defaults_flow_down_and_the_innermost_counts(lesson: Lesson) -> None:
    whole, bar, four = lesson.scenes
    assert [one.speed for one in whole.passes] == [1, F(1, 2), F(1, 2), F(1, 4)]
    assert [one.speed for one in bar.passes] == [F(1, 2), F(1, 2)]
    assert [one.speed for one in four.passes] == [1]
    assert len(bar.clicks) == 4
    assert len(whole.clicks) == 12
    assert bar.passes[1].span.start == bar.passes[0].span.end


def test_a_note_sounds_when_the_marks_say(lesson: Lesson) -> None:
    """Beat 4 lies at 2.5 s of the file, beat 0 at 0.5 s: at half speed four seconds apart."""
    whole = lesson.scene("whole")
    first, held, after = whole.passes[0], whole.passes[1], whole.passes[2]
    assert first.moments(F(4)) - first.moments(F(0)) == 2
    assert after.span.start - held.span.end == F(3, 2)
    assert abs(after.moments(F(4)) - after.moments(F(2)) - 2) < F(1, 10000)


def test_captions_markers_and_chapters(lesson: Lesson) -> None:
    first = lesson.segment("first")
    assert [(one.start, one.text) for one in first.captions] == [
        (0, "Watch the third beat."),
        (8, "Now slower."),
    ]
    assert [one.label for one in first.chapters] == ["The phrase at three speeds", "The second bar"]
    bars = [one for one in lesson.scene("four").markers if one.kind == "bar"]
    assert [one.label for one in bars] == ["bar 1"]
    labels = [one.label for one in lesson.scene("second-bar").markers][:5]
    assert labels == ["pass 1, 50 %", "bar 2", "2:2", "2:3", "2:4"]
    seconds = [one.second for one in first.markers]
    assert seconds == sorted(seconds)


def test_a_scene_without_a_title_is_called_by_the_title_it_shows(short: Path) -> None:
    text = short.read_text("utf-8")
    view = '- {show: words, kind: title, text: "Four notes,\\nslowly"}'
    text = text.replace(
        "transition: dip\n        views:", f"transition: dip\n        views:\n          {view}"
    )
    short.write_text(text.replace("        title: The second bar\n", ""), "utf-8")
    _, bar, four = read_lesson(short).scenes
    assert (bar.title, four.title) == ("", "Four notes, slowly")


def test_rights_and_credits_are_carried(lesson: Lesson) -> None:
    assert [(one.name, one.rights) for one in lesson.rights] == [("climb.wav", "made for the tests")]
    assert lesson.credits == ("Everything was made for the tests.",)


def test_a_lesson_goes_through_pickle_unchanged(lesson: Lesson) -> None:
    again = pickle.loads(pickle.dumps(lesson))
    for one, other in zip(lesson.scenes, again.scenes, strict=True):
        assert one.digest_parts() == other.digest_parts()
        assert one.picture(F(3)) == other.picture(F(3))


def test_digests_follow_what_matters_and_nothing_else(short: Path) -> None:
    before = {scene.id: digest(scene.digest_parts()) for scene in read_lesson(short).scenes}
    text = short.read_text("utf-8")
    short.write_text(
        text.replace("strip: scrolling", "strip: paged").replace("# A small", "# A little"), "utf-8"
    )
    after = {scene.id: digest(scene.digest_parts()) for scene in read_lesson(short).scenes}
    assert {name for name in before if before[name] != after[name]} == {"second-bar"}


def test_digests_know_no_paths(short: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    for file in short.parent.iterdir():
        (elsewhere / file.name).write_bytes(file.read_bytes())
    here, there = read_lesson(short), read_lesson(elsewhere / short.name)
    assert [digest(s.digest_parts()) for s in here.scenes] == [digest(s.digest_parts()) for s in there.scenes]
    assert str(short.parent) not in json.dumps([scene.digest_parts() for scene in here.scenes], default=str)


def test_a_changed_recording_changes_the_scenes_that_play_it(short: Path) -> None:
    before = [digest(scene.sound_parts()) for scene in read_lesson(short).scenes]
    sound = short.parent / "climb.wav"
    sound.write_bytes(sound.read_bytes()[:-2] + b"\1\0")
    after = [digest(scene.sound_parts()) for scene in read_lesson(short).scenes]
    assert [a == b for a, b in zip(before, after, strict=True)] == [False, True, True]


def test_bars_keep_their_numbers_and_notes_their_count(short: Path) -> None:
    """Notes 3 to 6 begin on the second count of bar 1 and are played for two counts."""
    text = short.read_text("utf-8").replace("notes: 1-4", "notes: 3-6")
    short.write_text(text, "utf-8")
    scene = read_lesson(short).scene("four")
    (only,) = scene.passes
    assert only.beats.length == 2
    assert [marker.label for marker in scene.markers] == ["pass 1, 100 %", "1:2", "1:3"]
    assert scene.fragment is not None
    assert [note.onset for note in scene.fragment.notes] == [0, F(1, 2), 1, F(3, 2)]


def test_repeats_are_played(tmp_path: Path) -> None:
    """A repeated bar of one second is played twice; its second time is bar 2."""
    text = LOW_E.replace("|0|", "|:0:|").replace("count   1", "count    1").replace("[second]", "[best]")
    text = text.replace("readings:", "holds: [{at: 2:3, lasting: 1}], readings:")
    (tmp_path / "lesson.yaml").write_text(text, "utf-8")
    scene = read_lesson(tmp_path / "lesson.yaml").scene("only")
    assert [note.onset for note in scene.fragment.notes if scene.fragment] == [0, 4]
    assert [one.beats.end for one in scene.passes] == [6, 8]


def test_readings_are_found_where_a_scene_asks(short: Path) -> None:
    text = short.read_text("utf-8")
    short.write_text(
        text.replace("notes: 1-4", "notes: 1-4\n        readings: [filled, best, second]"), "utf-8"
    )
    scene = read_lesson(short).scene("four")
    readings = scene.composition.placed[0].stage.readings
    assert len(readings) == 3
    assert scene.fragment is not None
    assert all(note.finger for note in scene.fragment.notes)
    assert {len(reading.places) for reading in readings} == {len(scene.fragment.notes)}
    written = [(3, 5), (3, 7), (2, 5), (2, 6)]
    assert [(note.string, note.fret) for note in scene.fragment.notes[:4]] == written


LOW_E = """\
title: One note
teacher: Ida Marrow
fragments:
  low:
    text: |
      count   1
      E2     |0|
segments:
  - id: one
    title: One
    scenes:
      - {id: only, fragment: low, readings: [second], views: [{show: tab}]}
"""


def test_a_reading_that_is_not_there_is_a_fault(tmp_path: Path) -> None:
    """The low open E has one place on the neck, and so one reading."""
    (tmp_path / "lesson.yaml").write_text(LOW_E, "utf-8")
    with pytest.raises(Faulty, match=r"12:\d+: 'low' has no second reading, only 1; ask for fewer"):
        read_lesson(tmp_path / "lesson.yaml")


def test_a_started_lesson_resolves(tmp_path: Path) -> None:
    files = start(tmp_path / "new", 'Sharp "turns": a start')
    assert [file.name for file in files] == ["lesson.yaml", "README.md"]
    lesson = read_lesson(files[0])
    assert lesson.title == 'Sharp "turns": a start'
    assert [scene.id for scene in lesson.scenes] == ["opening", "phrase"]


def test_start_never_overwrites(tmp_path: Path) -> None:
    start(tmp_path / "new", "One")
    before = (tmp_path / "new" / "lesson.yaml").read_bytes()
    with pytest.raises(Faulty, match="the folder is not empty; name a new folder"):
        start(tmp_path / "new", "Two")
    assert (tmp_path / "new" / "lesson.yaml").read_bytes() == before


@pytest.mark.parametrize("name", ["", "  ", "a\nb: c"])
def test_start_refuses_names_that_would_break_the_script(tmp_path: Path, name: str) -> None:
    with pytest.raises(Faulty):
        start(tmp_path / "new", name)
    assert not (tmp_path / "new").exists()


def test_a_sound_view_gets_what_is_heard(short: Path) -> None:
    """Without a recording it is the guide: 8 quarter notes at 120 last 4 s, and half a second more rings."""
    text = short.read_text("utf-8").replace("notes: 1-4", "notes: 1-13")
    head, tail = text.split("handout:", 1)
    extra = "          - {show: sound, since: 1}\nhandout:"
    short.write_text(head.replace("clip: climb", "clip: none") + extra + tail, "utf-8")
    scene = read_lesson(short).scene("four")
    heard = scene.composition.placed[1].stage.heard
    assert heard is not None
    assert heard.start == 0
    assert len(heard.samples) == 4 * heard.rate * F(9, 2)
    assert heard.moments[0](F(2)) == scene.passes[0].moments(F(4)) - 1
    assert scene.composition.placed[0].stage.heard is None


def test_footage_is_slowed_along_and_stands_in_a_hold(short: Path, film_head: FilmHead) -> None:
    """Film that starts 10 s into the recording's file shows the note that is heard, ten seconds later."""
    film_head(short.parent / "side.mp4")
    text = short.read_text("utf-8")
    keys = "        footage: {file: side.mp4, rights: made here, start: 10}\n        holds:"
    short.write_text(text.replace("        holds:", keys, 1), "utf-8")
    scene = read_lesson(short).scene("whole")
    assert scene.footage is not None
    first, held, after, slowest = scene.passes
    assert scene.footage.second_at(first.moments(F(4))) == 10 + F(5, 2)
    assert scene.footage.second_at(slowest.moments(F(4))) == 10 + F(5, 2)
    assert scene.footage.second_at(held.span.end) == scene.footage.second_at(held.span.end + 1)
    assert scene.footage.second_at(F(0)) < 10 + F(1, 2)
    assert after.span.start > held.span.end


def test_a_scene_lasts_as_long_as_its_voice(short: Path) -> None:
    text = short.read_text("utf-8")
    text = text.replace("notes: 1-4", "notes: 1-4\n        voice: {file: climb.wav, at: 2, gain: -6}")
    short.write_text(text, "utf-8")
    scene = read_lesson(short).scene("four")
    assert scene.duration >= 8
    assert [sound.start for sound in scene.sounds if type(sound).__name__ == "VoiceSound"] == [2]


def test_a_clip_without_a_passage_is_heard_whole(short: Path) -> None:
    """5.75 s of recording at full and at half speed, half a second before, one between, one after."""
    text = short.read_text("utf-8").replace(
        "fragment: climb\n        notes: 1-4", "clip: climb\n        speeds: [100, 50]"
    )
    short.write_text(text, "utf-8")
    scene = read_lesson(short).scene("four")
    excerpts = [sound for sound in scene.sounds if isinstance(sound, ExcerptSound)]
    assert [(one.span.start, one.span.end, one.speed) for one in excerpts] == [
        (F(1, 4), 6, 1),
        (F(1, 4), 6, F(1, 2)),
    ]
    assert [one.start for one in excerpts] == [F(1, 2), F(1, 2) + F(23, 4) + 1]
    assert scene.passes == ()
    assert scene.duration - (F(1, 2) + F(23, 4) + 1 + F(23, 2) + 1) < F(1, 29)


def test_a_clip_longer_than_its_file_is_a_fault(short: Path) -> None:
    text = short.read_text("utf-8").replace("fragment: climb\n        notes: 1-4", "clip: climb")
    short.write_text(text.replace("span: [0.25, 6]", "span: [0.25, 60]"), "utf-8")
    with pytest.raises(Faulty, match=r"the clip's span ends after its file, which lasts 6\.000 s"):
        read_lesson(short)
