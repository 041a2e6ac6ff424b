"""What the tests of written files share."""

import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from pipeline.files.boxes import IntBox
from pipeline.files.frames import Frame

Bars = Callable[..., Iterator[Frame]]


def bar_frames(
    width: int, height: int, count: int, every: int = 1, ground: tuple[int, int, int, int] = (0, 0, 0, 0)
) -> Iterator[Frame]:
    """A bar of half-covering red that jumps eight pixels every `every` frames; premultiplied pixels."""
    canvas = np.zeros((height, width, 4), dtype=np.uint8)
    canvas[:] = ground
    whole = IntBox(0, 0, width, height)
    canvas[height // 4 : height // 2, width // 4 : width // 2] = (20, 40, 60, 80)
    old = None
    for number in range(count):
        if number % every == 0:
            at = number // every * 8 % (width - 8)
            box = IntBox(at, 2, at + 8, height - 2)
            was = canvas[old.top : old.bottom, old.left : old.right] if old else None
            if was is not None:
                was[:] = ground
            canvas[box.top : box.bottom, box.left : box.right] = (128, 0, 0, 128)
            changed = (whole,) if old is None else (old, box)
            old = box
        else:
            changed = ()
        yield Frame(number, canvas, changed)


@pytest.fixture
def moving_bar() -> Bars:
    """Frames made by hand: `moving_bar(width, height, count, every=1, ground=(0, 0, 0, 0))`."""
    return bar_frames


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 400 kB; skipped where we may not mount one."""
    folder = tmp_path / "small"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("mounting a small disk needs root")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)
