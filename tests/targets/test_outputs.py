"""What a build makes: one scene and nothing else, only what shows a changed word, and all of it."""

from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.lesson.plan import Levels
from pipeline.lesson.proof import At
from pipeline.lesson.resolve import _Resolver, read_lesson
from pipeline.lesson.scene import Scene
from pipeline.targets.build import build
from pipeline.targets.handover import timeline_text
from pipeline.targets.make import stale
from pipeline.targets.outputs import outputs
from pipeline.targets.store import Store
from pipeline.targets.target import Target, keys
from pipeline.targets.wish import Choice, Wish


def listed(script: Path, **chosen: object) -> list[Target]:
    return outputs(read_lesson(script), "lesson", Choice(**chosen))  # type: ignore[arg-type]


def changed(script: Path, old: str, new: str) -> set[str]:
    """The paths of outputs whose key changes when the script's text does."""
    before = keys(listed(script))
    script.write_text(script.read_text("utf-8").replace(old, new), "utf-8")
    targets = listed(script)
    after = keys(targets)
    return {str(one.path) for one in targets if one.path and before.get(one.id) != after[one.id]}


def test_one_scene_and_nothing_else(script: Path) -> None:
    paths = {target.path for target in listed(script, scenes=("two",))}
    assert paths - {None} == {
        "lesson/sound/two.wav",
        "lesson/overlays/two.mov",
        "lesson/stills/two.svg",
        "lesson/stills/two.png",
    }


def test_a_changed_word_makes_only_what_shows_it(script: Path) -> None:
    assert changed(script, "text: three", "text: drei") == {
        "lesson/overlays/three.mov",
        "lesson/stills/three.svg",
        "lesson/stills/three.png",
        "lesson/posters/second.png",
        "lesson/films/second.mp4",
        "lesson/lesson-a4.pdf",
        "lesson/lesson-letter.pdf",
    }


def test_a_changed_caption_makes_captions(script: Path) -> None:
    made = changed(script, "Four notes.", "Four quick notes.")
    assert made == {"lesson/films/first.vtt", "lesson/films/first.srt"}


def test_needs_come_before_what_needs_them(script: Path) -> None:
    seen: set[str] = set()
    for target in listed(script):
        assert set(target.needs) <= seen
        seen.add(target.id)


def test_the_timeline_marks_the_frame_of_each_poster(script: Path) -> None:
    """Of the first segment a note that sounds, of the second, where nothing does, the middle of its scene."""
    import opentimelineio

    lesson = read_lesson(script)
    text = timeline_text(lesson, "prores")
    overlays = opentimelineio.adapters.read_from_string(text, "otio_json").tracks[0]
    found = {
        clip.name: marker.marked_range.start_time.value
        for clip in overlays
        for marker in clip.markers
        if marker.metadata["fretscene"]["kind"] == "poster"
    }
    assert found == {
        scene.title or scene.id: frame for scene, frame in (one.poster for one in lesson.segments)
    }
    assert 0 < found["three"] < lesson.scene("three").frames


def test_everything_is_made_and_then_nothing(script: Path, tmp_path: Path) -> None:
    build = tmp_path / "build"
    assert main(["build", str(script), "--out", str(build)]) == 0
    targets = listed(script)
    for target in targets:
        assert target.path is None or (build / target.path).exists(), target.id
    store = Store(build)
    assert stale(targets, store) == []
    left = {
        target.id
        for target in targets
        if target.passing and store.object_path(store.made[target.id].object).exists()
    }
    assert not left, "pieces of overlays only pass through the store"


def test_a_lost_output_comes_back_from_the_store_without_its_pieces(script: Path, tmp_path: Path) -> None:
    wish = Wish((script,), tmp_path / "build", Choice(("overlays",), ("two",)))
    assert [one.state for one in build(wish).outcomes] == ["made"] * 3
    (tmp_path / "build/lesson/overlays/two.mov").unlink()
    assert [(one.target.kind, one.state) for one in build(wish).outcomes] == [("joined-overlay", "restored")]


def test_a_png_sequence_has_a_file_a_frame_with_alpha(script: Path, tmp_path: Path) -> None:
    from PIL import Image

    build = tmp_path / "build"
    command = ["build", str(script), "--scene", "two", "--only", "overlays", "--alpha", "frames"]
    assert main([*command, "--out", str(build)]) == 0
    count = read_lesson(script).scene("two").frames
    files = sorted((build / "lesson/overlays/two").iterdir())
    assert [file.name for file in files] == [f"{number:06d}.png" for number in range(count)]
    for file in files:
        with Image.open(file, formats=("PNG",)) as image:
            assert image.mode == "RGBA"
            assert image.size == (320, 180)


def test_one_broken_script_does_not_stop_the_others(
    script: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken = tmp_path / "broken.yaml"
    broken.write_text("title: x\n", "utf-8")
    build = tmp_path / "build"
    assert main(["handouts", str(broken), str(script), "--book", "Both", "--out", str(build)]) == 2
    said = capsys.readouterr()
    assert "broken.yaml" in said.err
    assert (build / "lesson/lesson-a4.pdf").read_bytes().startswith(b"%PDF")
    assert (build / "book/both-letter.pdf").exists()


def test_a_changed_word_resolves_its_own_scene_alone(
    script: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And lists the very targets, with the very keys, that resolving everything lists."""
    wish = Wish((script,), tmp_path / "build", Choice(("stills", "captions")))
    build(wish)
    script.write_text(script.read_text("utf-8").replace("text: three", "text: drei"), "utf-8")
    resolved: list[str] = []
    plainly = _Resolver._scene

    def counted(self: _Resolver, at: At, levels: Levels) -> Scene:
        resolved.append(levels.scene.id)
        return plainly(self, at, levels)

    monkeypatch.setattr(_Resolver, "_scene", counted)
    built = build(wish)
    assert not built.failed
    assert resolved == ["three"]
    assert keys(built.targets) == keys(outputs(read_lesson(script), "lesson", wish.choice))


@pytest.mark.parametrize(
    ("old", "new"),
    [("teacher:", "lead: 1\nteacher:"), ("tempo: 240", "tempo: 200"), ("rate: 25", "rate: 30")],
)
def test_what_flows_down_to_scenes_is_never_taken_from_memory(
    script: Path, tmp_path: Path, old: str, new: str
) -> None:
    wish = Wish((script,), tmp_path / "build", Choice(("captions", "timeline")))
    before = keys(build(wish).targets)
    script.write_text(script.read_text("utf-8").replace(old, new), "utf-8")
    after = keys(build(wish).targets)
    assert after != before
    assert after == keys(outputs(read_lesson(script), "lesson", wish.choice))
