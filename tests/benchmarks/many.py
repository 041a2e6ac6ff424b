"""Scripts of many scenes, and what a fresh process costs that works on one."""

import os
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

HEAD = """\
title: Many scenes
teacher: Ida Marrow
{clips}fragments:
  run:
    tempo: {tempo}
    text: |
      count   1 & 2 & 3 & 4 & |
      E4     |5-7-8-7-8-7-5-7-|
segments:
  - id: all
    title: All of them
    fragment: run
    scenes:
"""


class Cost(NamedTuple):
    """Seconds of a process and its children, wall and processor, and what it said."""

    wall: float
    cpu: float
    said: str


def write_script(
    path: Path, scene: str, scenes: int, tempo: int, changed: str = "Watch", clips: str = ""
) -> Path:
    """A script of so many scenes: each the template with its `number` and its `word`.

    `changed` is the word of the middle one.
    """
    words = (changed if number == scenes // 2 else "Watch" for number in range(scenes))
    lines = (scene.format(number=number, word=word) for number, word in enumerate(words))
    path.write_text(HEAD.format(clips=clips, tempo=tempo) + "".join(lines), "utf-8")
    return path


def as_at_home() -> dict[str, str]:
    """The environment, with bytecode kept as on any user's machine."""
    return {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def cost_of(arguments: Sequence[str]) -> Cost:
    """A fresh interpreter with these arguments."""
    before, began = os.times(), time.perf_counter()
    done = subprocess.run(
        [sys.executable, *arguments], capture_output=True, text=True, check=False, env=as_at_home()
    )
    wall, after = time.perf_counter() - began, os.times()
    if done.returncode:
        raise SystemExit(done.stderr or done.stdout)
    cpu = after.children_user + after.children_system - before.children_user - before.children_system
    return Cost(wall, cpu, done.stdout)
