"""What a build says while it works: a bar on a terminal, plain lines elsewhere, JSON on request.

The estimate weighs targets by their cost and goes by the work already done, so it settles as a build runs.
"""

import json
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Protocol

from pipeline.targets.target import Target


class Teller(Protocol):
    """Hears of each event of a build: its word, the target, a share or a number of seconds."""

    def __call__(self, word: str, target: Target, number: float) -> None: ...


@contextmanager
def telling(targets: Sequence[Target], as_json: bool = False) -> Iterator[Teller]:
    """A teller that suits where the output goes."""
    if as_json:
        yield _json_lines()
    elif sys.stderr.isatty():
        with _bar(targets) as teller:
            yield teller
    else:
        yield _plain_line(len(targets))


def _json_lines() -> Teller:
    """One line an event, whole even where several threads tell at once."""
    turn = threading.Lock()

    def tell(word: str, target: Target, number: float) -> None:
        row = {"event": word, "target": target.id, "path": target.path, "number": round(number, 3)}
        with turn:
            print(json.dumps(row), flush=True)

    return tell


def _plain_line(total: int) -> Teller:
    """One line a finished target, with the time that is probably left."""
    began, done, turn = time.monotonic(), 0, threading.Lock()

    def tell(word: str, target: Target, number: float) -> None:
        nonlocal done
        if word in ("start", "share"):
            return
        with turn:
            done += 1
            left = (time.monotonic() - began) / done * (total - done)
            rest = f", about {_clock(left)} left" if done < total else ""
            print(f"[{done}/{total}] {word} {target.id}{rest}", file=sys.stderr, flush=True)

    return tell


@contextmanager
def _bar(targets: Sequence[Target]) -> Iterator[Teller]:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    progress = Progress(
        TextColumn("{task.description}", style="dim"),
        BarColumn(bar_width=32),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(compact=True),
        console=Console(stderr=True),
        transient=True,
    )
    whole = sum(target.cost for target in targets)
    with progress:
        yield _bar_teller(progress, progress.add_task("making", total=whole))


def _bar_teller(progress: Any, task: Any) -> Teller:
    shares: dict[str, float] = {}

    def tell(word: str, target: Target, number: float) -> None:
        share = number if word == "share" else 0.0 if word == "start" else 1.0
        step = max(0.0, share - shares.get(target.id, 0.0))
        shares[target.id] = max(share, shares.get(target.id, 0.0))
        progress.update(task, advance=step * target.cost, description=target.id)

    return tell


def _clock(seconds: float) -> str:
    whole = max(1, round(seconds))
    return f"{whole} s" if whole < 90 else f"{whole / 60:.0f} min"
