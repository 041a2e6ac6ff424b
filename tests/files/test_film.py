"""Segments: scenes in order, as long as all of them together, transitions where they were asked for."""

import subprocess
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from pipeline import ffmpeg
from pipeline.drawing.picture import Colour
from pipeline.files.boxes import IntBox
from pipeline.files.film import SceneFilm, Settings, decoded, frame_count, key_frames, write_segment
from pipeline.files.film_facts import film_facts
from pipeline.files.frames import Frame
from pipeline.files.transitions import blended
from pipeline.files.video import DRAWN, write_film
from pipeline.sound.signal import Signal
from pipeline.timing import Rate

SIZE = (64, 36)
RATE = Rate(Fraction(24000, 1001))
HOW = Settings(SIZE, RATE)


def flat(level: int, count: int) -> Iterator[Frame]:
    """Frames of one grey."""
    canvas = np.full((36, 64, 4), 255, dtype=np.uint8)
    canvas[:, :, :3] = level
    for number in range(count):
        yield Frame(number, canvas, (IntBox(0, 0, 64, 36),) if number == 0 else ())


@pytest.fixture(scope="module")
def scenes(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Three scenes of 30, 60 and 5 frames: dark, light and middle grey. A key frame stands every 48."""
    folder = tmp_path_factory.mktemp("scenes")
    paths = []
    for number, (level, count) in enumerate(((40, 30), (200, 60), (120, 5))):
        paths.append(folder / f"{number}.mp4")
        write_film(paths[-1], flat(level, count), SIZE, RATE)
    return paths


def levels(path: Path) -> list[float]:
    return [float(frame.mean()) for frame in decoded(path)]


def silence(frames: int) -> Signal:
    return Signal(np.zeros((round(RATE.time_of(frames) * 48000), 2), dtype=np.float32), 48000)


def test_cuts_copy_the_scenes_as_they_are(scenes: list[Path], tmp_path: Path) -> None:
    path = tmp_path / "segment.mp4"
    parts = [SceneFilm(scene, f"Part {n}") for n, scene in enumerate(scenes)]
    made = write_segment(path, parts, HOW, silence(95), "Fast and clear")
    assert made.frames == 95
    assert levels(path) == [level for scene in scenes for level in levels(scene)]
    facts = film_facts(path, "mp4")
    assert facts.length == RATE.time_of(95)
    assert facts.sound_length is not None
    assert abs(facts.sound_length - facts.length) < Fraction(1, 40000)
    with av.open(str(path)) as film:
        marks = film.chapters()
    assert [mark["metadata"]["title"] for mark in marks] == ["Part 0", "Part 1", "Part 2"]
    assert [round(mark["start"] * mark["time_base"] * RATE.value) for mark in marks] == [0, 30, 90]


@pytest.mark.parametrize(
    ("titles", "found"),
    [
        (("", "Slowly", ""), [("Lanterns", 0), ("Slowly", 30)]),
        (("", "Slowly", "The pick"), [("Lanterns", 0), ("Slowly", 30), ("The pick", 90)]),
        (("Hear it", "", "The pick"), [("Hear it", 0), ("The pick", 90)]),
        (("Hear it", "", ""), []),
        (("", "", ""), []),
    ],
)
def test_chapters_start_where_the_film_does(
    scenes: list[Path], tmp_path: Path, titles: tuple[str, ...], found: list[tuple[str, int]]
) -> None:
    """A scene without a title at the start has the film's name, not that of the scene after it."""
    parts = [SceneFilm(scene, title) for scene, title in zip(scenes, titles, strict=True)]
    write_segment(tmp_path / "segment.mp4", parts, HOW, silence(95), "Lanterns")
    with av.open(str(tmp_path / "segment.mp4")) as film:
        marks = film.chapters()
    told = [(m["metadata"]["title"], round(m["start"] * m["time_base"] * RATE.value)) for m in marks]
    assert told == found


def test_a_dissolve_mixes_evenly_and_costs_no_time(scenes: list[Path], tmp_path: Path) -> None:
    path = tmp_path / "segment.mp4"
    write_segment(path, [SceneFilm(scenes[0]), SceneFilm(scenes[1], "", "dissolve", 8)], HOW, silence(90))
    found = levels(path)
    assert len(found) == 90
    assert found[30:38] == pytest.approx(MIXED, abs=4), "what x264 leaves of a flat grey at this quality"
    assert found[:30] == levels(scenes[0])
    assert found[38:] == pytest.approx([200] * 52, abs=1.5)
    assert found[30 + 48 :] == levels(scenes[1])[48:], "from the next key frame on the packets are copied"
    assert film_facts(path, "mp4").colours == (1, 1, 1, 1)


MIXED = [40 + 160 * (number + 0.5) / 8 for number in range(8)]
"""Source over with a rising share (Porter and Duff 1984): C = S a + B (1 - a)."""


def test_the_mix_itself_is_exact() -> None:
    def grey(level: int) -> np.ndarray:
        return np.full((4, 6, 3), level, dtype=np.uint8)

    mixed = list(blended("dissolve", grey(40), [grey(200)] * 8, Colour(0, 0, 0)))
    assert [float(frame.mean()) for frame in mixed] == pytest.approx(MIXED, abs=1)


def test_a_dip_goes_through_the_ground(scenes: list[Path], tmp_path: Path) -> None:
    path = tmp_path / "segment.mp4"
    write_segment(path, [SceneFilm(scenes[0]), SceneFilm(scenes[1], "", "dip", 8)], HOW)
    found = levels(path)[30:38]
    down = [40 * (1 - (n + 0.5) / 4) for n in range(4)]
    up = [200 * (n + 0.5) / 4 for n in range(4)]
    assert found == pytest.approx(down + up, abs=2.5)


def test_a_first_scene_comes_out_of_the_ground(scenes: list[Path], tmp_path: Path) -> None:
    path = tmp_path / "segment.mp4"
    how = Settings(SIZE, RATE, ground=Colour(100, 100, 100))
    write_segment(path, [SceneFilm(scenes[1], "", "dissolve", 4)], how)
    assert levels(path)[:4] == pytest.approx([112.5, 137.5, 162.5, 187.5], abs=2.5)


def test_a_transition_longer_than_its_scene_fills_it(scenes: list[Path], tmp_path: Path) -> None:
    path = tmp_path / "segment.mp4"
    write_segment(path, [SceneFilm(scenes[1]), SceneFilm(scenes[2], "", "dissolve", 50)], HOW)
    assert frame_count(path) == 65
    assert levels(path)[60:] == pytest.approx([192, 176, 160, 144, 128], abs=2.5)


def test_red_keeps_its_colour_through_a_transition(tmp_path: Path) -> None:
    def red() -> Iterator[Frame]:
        for frame in flat(0, 4):
            frame.canvas[:, :, 0] = 255
            yield frame

    for name in ("a.mp4", "b.mp4"):
        write_film(tmp_path / name, red(), SIZE, RATE, coding=DRAWN._replace(quality=1))
    parts = [SceneFilm(tmp_path / "a.mp4"), SceneFilm(tmp_path / "b.mp4", "", "dissolve", 3)]
    write_segment(tmp_path / "s.mp4", parts, Settings(SIZE, RATE, coding=DRAWN._replace(quality=1)))
    with av.open(str(tmp_path / "s.mp4")) as film:
        for frame in film.decode(video=0):
            planes = frame.to_ndarray()
            found = [int(np.median(p)) for p in (planes[:36], planes[36:45], planes[45:54])]
            assert np.abs(np.subtract(found, (63, 102, 240))).max() <= 1, "BT.709-6: 63 102 240"


def test_dark_colours_come_back_without_drift(tmp_path: Path) -> None:
    """BT.709-6 by hand: (35, 31, 27) is Y 43, Cb 126, Cr 130, and that is (35, 31, 27) again."""

    def dark() -> Iterator[Frame]:
        for frame in flat(0, 2):
            frame.canvas[:, :, :3] = (35, 31, 27)
            yield frame

    write_film(tmp_path / "a.mp4", dark(), SIZE, RATE)
    for frame in decoded(tmp_path / "a.mp4"):
        assert (frame == (35, 31, 27)).all()


def test_the_same_bytes_every_time(scenes: list[Path], tmp_path: Path) -> None:
    parts = [SceneFilm(scenes[0], "One"), SceneFilm(scenes[1], "Two", "dissolve", 8)]
    made = [write_segment(tmp_path / name, parts, HOW, silence(90)) for name in ("a.mp4", "b.mp4")]
    assert made[0].digest == made[1].digest


def test_key_frames_stand_two_seconds_apart(scenes: list[Path]) -> None:
    assert key_frames(scenes[1], RATE) == [0, 48]


def test_a_cut_has_nothing_to_blend(scenes: list[Path]) -> None:
    frames = list(decoded(scenes[2]))
    same = blended("cut", frames[0], frames, Colour(0, 0, 0))
    assert all(a is b for a, b in zip(same, frames, strict=True))


def test_moviepy_runs_no_program_that_a_folder_names(tmp_path: Path) -> None:
    """Left alone, `import moviepy` reads `.env` and runs the FFMPEG_BINARY that stands there."""
    trap = tmp_path / "trap"
    trap.write_text(f"#!/bin/sh\ntouch {tmp_path}/caught\n")
    trap.chmod(0o755)
    (tmp_path / ".env").write_text(f"FFMPEG_BINARY={trap}\n")
    code = "from pipeline.files.clip import load_moviepy as l; m = l(); print(m.config.FFMPEG_BINARY)"
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True, env=_path()
    )
    assert ran.stdout.strip() == str(ffmpeg.executable())
    assert not (tmp_path / "caught").exists()


def _path() -> dict[str, str]:
    return {"PYTHONPATH": str(Path(ffmpeg.__file__).parent.parent)}
