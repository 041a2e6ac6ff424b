"""What builds cost: cold, with nothing out of date, and after one word was changed.

    python -m tests.benchmarks.builds [--scenes 10,100,1000] [--only previews] [--rounds 3]

Every scene plays a bar of its own at a small size. Seconds of a fresh process with its workers, wall and
processor; the cold build is done once, the others are medians of the rounds. `made` counts what a build made,
steps on the way included. Wanted: nothing out of date under 1 s for 100 scenes and 3 s for 10,000.
"""

import argparse
import json
import tempfile
from pathlib import Path
from statistics import median
from typing import NamedTuple

from tests.benchmarks.many import cost_of, write_script

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


def written(path: Path, scenes: int, changed: str = "Watch") -> Path:
    """The script; `changed` is the word of the middle scene."""
    return write_script(path, SCENE, scenes, tempo=240, changed=changed)


def built(script: Path, only: str) -> Spent:
    """One build in a fresh process."""
    out = str(script.parent / "build")
    asked = ["-m", "pipeline", "build", str(script), "--only", only, "--draft", "--json", "--out", out]
    cost = cost_of(asked)
    events = (json.loads(line) for line in cost.said.splitlines() if line.startswith("{"))
    return Spent(cost.wall, cost.cpu, sum(event["event"] == "made" for event in events))


def middle(found: list[Spent]) -> Spent:
    """The median of each figure."""
    return Spent(*(median(values) for values in zip(*found, strict=True)))  # type: ignore[arg-type]


def measured(scenes: int, only: str, rounds: int) -> dict[str, Spent]:
    """The three kinds of build of a script of so many scenes."""
    with tempfile.TemporaryDirectory() as folder:
        script = written(Path(folder) / "many.yaml", scenes)
        cold = built(script, only)
        still = [built(script, only) for _ in range(rounds)]
        changed = [built(written(script, scenes, f"Hear {number}"), only) for number in range(rounds)]
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
