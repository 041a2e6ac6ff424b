"""What is known of a recording only once it is decoded is told when a build has used it."""

import subprocess
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
import soundfile

from pipeline.cli import main
from tests.targets.conftest import HEAD, TAKE

SCRIPT = (
    HEAD
    + TAKE
    + """\
segments:
  - id: only
    title: Only
    fragment: run
    clip: take
    scenes:
      - {id: one, views: [{show: tab}]}
      - {id: two, speeds: [50], views: [{show: tab}]}
"""
)


@pytest.mark.parametrize("gain", [0.5, 3.0])
def test_a_build_tells_once_that_a_recording_is_clipped(
    gain: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = tmp_path / "loud.yaml"
    script.write_text(SCRIPT, "utf-8")
    tone = gain * np.sin(2 * np.pi * 110 * np.arange(44100 * 2) / 44100)
    soundfile.write(tmp_path / "take.wav", np.clip(tone, -1, 1), 44100, "PCM_16")
    where = ["--out", str(tmp_path / "build")]
    assert main(["build", str(script), "--only", "sound", "--jobs", "1", *where]) == 0
    told = [line for line in capsys.readouterr().err.splitlines() if "caution" in line]
    assert len(told) == (gain > 1)
    for line in told:
        assert line.startswith(f"{script}:13:16: caution: take.wav is clipped in 440 places (")
        assert line.endswith("; record it again with less gain: slowed down, clipping is heard more")


def test_footage_that_shows_nothing_is_told_once_at_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A Matroska file of sound alone, in a scene of two pieces that both need its pictures."""
    script = tmp_path / "dark.yaml"
    scene = "{id: one, duration: 9, footage: {file: take.mkv, rights: mine}, views: [{show: words, text: a}]}"
    body = f"segments:\n  - id: only\n    title: Only\n    scenes:\n      - {scene}\n"
    script.write_text(HEAD + body, "utf-8")
    make = [imageio_ffmpeg.get_ffmpeg_exe(), "-loglevel", "error", "-f", "lavfi", "-i", "sine=d=1"]
    subprocess.run([*make, tmp_path / "take.mkv"], check=True)
    where = ["--only", "previews", "--jobs", "1", "--out", str(tmp_path / "build")]
    assert main(["build", str(script), *where]) == 2
    said = capsys.readouterr()
    wrong = [line for line in said.err.splitlines() if "take.mkv" in line]
    remedy = "save it again as mp4 or mov with H.264"
    assert wrong == [f"{script}:16:48: take.mkv holds no picture; {remedy}"]
    assert "everything" not in said.out
    assert "what was finished is in" in said.out
