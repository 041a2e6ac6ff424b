"""How long checking takes: scripts of 100 and 10,000 scenes, against the bare YAML library composing them.

    python -m tests.benchmarks.check_speed

Processor seconds (user and system) of fresh processes, medians of five, so that imports are counted. The
ratio divides by `yaml.compose` of the same text, which reads it and understands nothing. Wanted: a script of
100 scenes checked in under a second.
"""

import resource
import subprocess
import sys
import tempfile
import wave
from pathlib import Path
from statistics import median

HEAD = """\
title: Many scenes
teacher: Ida Marrow
clips:
  take:
    file: take.wav
    rights: made for the benchmark
    marks: {1:1: 0.5, 1:4: 2.0}
fragments:
  run:
    tempo: 120
    text: |
      count   1 & 2 & 3 & 4 & |
      E4     |5-7-8-7-8-7-5-7-|
segments:
  - id: all
    title: All of them
    fragment: run
    scenes:
"""
SCENE = """\
      - id: s{number}
        title: "Scene number {number}"
        clip: take
        speeds: [100, 50, 25]
        count-in: 4
        holds: [{{at: 1:2, lasting: 3}}]
        spoken: Watch the fourth note.
        views:
          - show: tab
          - {{show: neck, room: 2}}
"""
CHECK = (
    "from pathlib import Path; from pipeline.lesson.check import read_checked; read_checked(Path({path!r}))"
)
COMPOSE = "import yaml; yaml.compose(open({path!r}), Loader=yaml.CSafeLoader)"


def write_script(folder: Path, scenes: int) -> Path:
    """A script of so many scenes, with its recording."""
    with wave.open(str(folder / "take.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(b"\0\0" * 8000 * 4)
    path = folder / f"{scenes}.yaml"
    path.write_text(HEAD + "".join(SCENE.format(number=number) for number in range(scenes)), "utf-8")
    return path


def cpu_seconds(code: str) -> float:
    """Processor seconds of one fresh interpreter."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", code], check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Print one line a size."""
    with tempfile.TemporaryDirectory() as name:
        for scenes in (1, 100, 10_000):
            path = str(write_script(Path(name), scenes))
            checked = median(cpu_seconds(CHECK.format(path=path)) for _ in range(5))
            composed = median(cpu_seconds(COMPOSE.format(path=path)) for _ in range(5))
            print(f"{scenes:6} scenes: checked in {checked:.2f} s, composed alone in {composed:.2f} s, "
                  f"ratio {checked / composed:.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
