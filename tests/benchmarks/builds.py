"""What builds cost: cold, with nothing out of date, and after one word was changed.

    python -m tests.benchmarks.builds [--scenes 10,100,1000] [--only previews] [--rounds 3]

Every scene plays a bar of its own at a small size. Seconds of a fresh process with its workers, wall and
processor; the cold build is done once, the others are medians of the rounds. `made` counts what a build made,
steps on the way included. Wanted: nothing out of date under 1 s for 100 scenes.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import NamedTuple

HEAD = """\
title: Many scenes
teacher: Ida Marrow
fragments:
  run:
    tempo: 240
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
        spoken: {word} the fourth note of number {number}.
        views:
          - show: tab
          - {{show: words, text: "{word} number {number}"}}
"""


class Spent(NamedTuple):
    """Seconds of a build, and how many things it made."""

    wall: float
    cpu: float
    made: int


def write_script(path: Path, scenes: int, changed: str = "Watch") -> None:
    """A script of so many scenes; `changed` is the word of the middle one."""
    words = (changed if number == scenes // 2 else "Watch" for number in range(scenes))
    path.write_text(HEAD + "".join(SCENE.format(number=n, word=w) for n, w in enumerate(words)), "utf-8")


def built(script: Path, only: str) -> Spent:
    """One build in a fresh process."""
    command = [sys.executable, "-m", "pipeline", "build", str(script), "--only", only, "--draft", "--json"]
    before, began = os.times(), time.perf_counter()
    done = subprocess.run(
        [*command, "--out", str(script.parent / "build")], capture_output=True, text=True, check=False
    )
    wall, after = time.perf_counter() - began, os.times()
    if done.returncode:
        raise SystemExit(done.stderr or done.stdout)
    cpu = after.children_user + after.children_system - before.children_user - before.children_system
    events = (json.loads(line) for line in done.stdout.splitlines() if line.startswith("{"))
    return Spent(wall, cpu, sum(event["event"] == "made" for event in events))


def middle(found: list[Spent]) -> Spent:
    """The median of each figure."""
    return Spent(*(median(values) for values in zip(*found, strict=True)))  # type: ignore[arg-type]


def measured(scenes: int, only: str, rounds: int) -> dict[str, Spent]:
    """The three kinds of build of a script of so many scenes."""
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "many.yaml"
        write_script(script, scenes)
        cold = built(script, only)
        still = [built(script, only) for _ in range(rounds)]
        changed = []
        for number in range(rounds):
            write_script(script, scenes, f"Hear {number}")
            changed.append(built(script, only))
    return {"cold": cold, "nothing out of date": middle(still), "one word changed": middle(changed)}


def main() -> None:
    """Print a row a size and kind of build."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--scenes", default="10,100,1000")
    reader.add_argument("--only", default="previews")
    reader.add_argument("--rounds", type=int, default=3)
    given = reader.parse_args()
    print(f"{'scenes':>6}  {'build':20}  {'wall, s':>8}  {'cpu, s':>8}  {'made':>6}")
    for scenes in map(int, given.scenes.split(",")):
        for name, spent in measured(scenes, given.only, given.rounds).items():
            print(
                f"{scenes:6}  {name:20}  {spent.wall:8.2f}  {spent.cpu:8.2f}  {spent.made:6.0f}", flush=True
            )


if __name__ == "__main__":
    main()
