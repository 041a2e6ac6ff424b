"""Films of an episode are equally loud: measured on the finished file by the ebur128 filter of ffmpeg, which
is not ours (EBU R 128; loudness to 0.1 LU by EBU Tech 3341)."""

import math
import re
import subprocess
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
import soundfile

from pipeline.cli import main
from pipeline.targets.levels import EpisodeLevel, told_apart
from tests.targets.conftest import HEAD, TAKE

SCRIPT = (
    HEAD
    + TAKE
    + """\
segments:
  - id: recorded
    title: Recorded
    scenes:
      - {id: one, fragment: run, clip: take, count-in: 4, speeds: [100, 50], views: [{show: words, text: a}]}
  - id: guided
    title: Guided
    scenes:
      - {id: two, fragment: run, count-in: 4, speeds: [100, 50], views: [{show: words, text: a}]}
"""
)


def measured(film: Path) -> float:
    """Integrated loudness in LUFS."""
    words = [imageio_ffmpeg.get_ffmpeg_exe(), "-nostats", "-i", film, "-af", "ebur128", "-f", "null", "-"]
    said = subprocess.run(words, capture_output=True, text=True, check=True).stderr
    return float(re.findall(r"I:\s+(-[\d.]+) LUFS", said)[-1])


def write_take(path: Path, size: float) -> None:
    """Four tones that die away, from 0.2 s on."""
    time = np.arange(48000 * 2) / 48000 - 0.2
    since = np.where(time >= 0, time % 0.25, 0)
    tone = size * np.sin(2 * np.pi * 330 * since) * np.exp(-5 * since) * ((time >= 0) & (time < 1))
    soundfile.write(path, tone, 48000, "PCM_24")


@pytest.mark.parametrize("size", [0.02, 0.9])
def test_a_soft_and_a_loud_recording_give_films_as_loud_as_the_guide(
    size: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "loud.yaml").write_text(SCRIPT, "utf-8")
    write_take(tmp_path / "take.wav", size)
    where = ["--out", str(tmp_path / "build"), "--jobs", "1"]
    assert main(["build", str(tmp_path / "loud.yaml"), "--only", "films", *where]) == 0
    films = tmp_path / "build" / "loud" / "films"
    for name in ("recorded", "guided"):
        assert abs(measured(films / f"{name}.mp4") + 16) <= 0.5, name
    assert "caution" not in capsys.readouterr().err


def test_a_film_that_lies_apart_is_told_with_its_figure_and_the_reason() -> None:
    even, peaky = EpisodeLevel(-23.0, -8.0), EpisodeLevel(-23.0, 2.0)
    assert told_apart("a", -16.4, even) == ()
    assert told_apart("a", -math.inf, even) == ()
    (softer,), (held,) = told_apart("a", -17.2, even), told_apart("a", -20.0, peaky)
    assert str(softer).startswith(
        "film a: caution: this film lies at −17.2 LUFS, −16 are meant: its scenes are 1.2 LU"
    )
    assert "peaks 25 dB over the episode's loudness" in str(held)
