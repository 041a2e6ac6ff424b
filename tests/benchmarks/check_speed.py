"""How long checking takes: scripts of 100 and 10,000 scenes, against the bare YAML library composing them.

    python -m tests.benchmarks.check_speed

Processor seconds (user and system) of fresh processes, medians of five, so that imports are counted. The
ratio divides by `yaml.compose` of the same text, which reads it and understands nothing. Wanted: a script of
100 scenes checked in under a second.
"""

import tempfile
import wave
from pathlib import Path
from statistics import median

from tests.benchmarks.many import cost_of, write_script

CLIPS = """\
clips:
  take:
    file: take.wav
    rights: made for the benchmark
    marks: {1:1: 0.5, 1:4: 2.0}
"""
SCENE = """\
      - id: s{number}
        title: "Scene number {number}"
        clip: take
        speeds: [100, 50, 25]
        count-in: 4
        holds: [{{at: 1:2, lasting: 3}}]
        spoken: {word} the fourth note.
        views:
          - show: tab
          - {{show: neck, room: 2}}
"""
CHECK = (
    "from pathlib import Path; from pipeline.lesson.check import read_checked; read_checked(Path({path!r}))"
)
COMPOSE = "import yaml; yaml.compose(open({path!r}), Loader=yaml.CSafeLoader)"


def written(folder: Path, scenes: int) -> Path:
    """A script of so many scenes, with its recording."""
    with wave.open(str(folder / "take.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(b"\0\0" * 8000 * 4)
    return write_script(folder / f"{scenes}.yaml", SCENE, scenes, tempo=120, clips=CLIPS)


def cpu_seconds(code: str) -> float:
    """Processor seconds of one fresh interpreter."""
    return cost_of(["-c", code]).cpu


def main() -> None:
    """Print one line a size."""
    with tempfile.TemporaryDirectory() as name:
        for scenes in (1, 100, 10_000):
            path = str(written(Path(name), scenes))
            checked = median(cpu_seconds(CHECK.format(path=path)) for _ in range(5))
            composed = median(cpu_seconds(COMPOSE.format(path=path)) for _ in range(5))
            print(f"{scenes:6} scenes: checked in {checked:.2f} s, composed alone in {composed:.2f} s, "
                  f"ratio {checked / composed:.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
