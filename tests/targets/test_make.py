"""Making: order, resuming, and one death that stays alone."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.lesson.digest import digest
from pipeline.targets import process
from pipeline.targets.make import make, stale
from pipeline.targets.process import WorkerProcess
from pipeline.targets.store import Store
from pipeline.targets.target import Target, keys


def text(name: str, words: str, needs: tuple[str, ...] = ()) -> Target:
    return Target(name, "text", f"{name}.txt", {"words": words}, words, needs)


def run(store: Store, *targets: Target) -> list[tuple[str, str]]:
    outcomes = make(stale(targets, store), store, jobs=2)
    return sorted((outcome.target.id, outcome.state) for outcome in outcomes)


def test_only_what_changed_is_made_again(tmp_path: Path) -> None:
    store = Store(tmp_path)
    assert run(store, text("a", "1"), text("b", "2")) == [("a", "made"), ("b", "made")]
    assert run(store, text("a", "1"), text("b", "2")) == []
    assert run(store, text("a", "1"), text("b", "3")) == [("b", "made")]
    assert (tmp_path / "b.txt").read_text("utf-8") == "3"


def test_a_change_back_is_restored_not_made(tmp_path: Path) -> None:
    store = Store(tmp_path)
    run(store, text("a", "1"))
    outcome = run(store, Target("copy", "text", "a.txt", {"words": "1"}, "1"))
    assert outcome == [("copy", "restored")]


def test_what_needs_a_changed_thing_is_made_again(tmp_path: Path) -> None:
    first = keys([text("a", "1"), text("b", "2", ("a",))])
    second = keys([text("a", "9"), text("b", "2", ("a",))])
    assert first["b"] != second["b"]


def test_a_dead_worker_fails_one_target_and_the_rest_are_made(tmp_path: Path) -> None:
    store = Store(tmp_path)
    broken = Target("broken", "no such kind", "x.txt", {}, None)
    after = text("after", "1", ("broken",))
    assert run(store, broken, after, text("fine", "2")) == [
        ("after", "skipped"),
        ("broken", "failed"),
        ("fine", "made"),
    ]
    assert not (tmp_path / "x.txt").exists()


@pytest.mark.parametrize("alive", [True, False])
def test_a_worker_that_was_started_early_makes_or_is_replaced(tmp_path: Path, alive: bool) -> None:
    store, early = Store(tmp_path), WorkerProcess()
    early.get_ready()
    assert early.process is not None
    first = early.process
    if not alive:
        first.kill()
        first.wait()
    (outcome,) = make(stale([text("a", "1")], store), store, jobs=1, ready=early)
    assert outcome.state == "made"
    assert first.poll() is not None, "it is ended with the build"


def test_a_worker_that_gets_ready_for_films_loads_no_more_than_they_need() -> None:
    """Each of these would cost it a twentieth of a second or more before its first frame."""
    names = ("pydantic", "yaml", "numba", "scipy", "PIL", "typst", "verovio", "moviepy")
    code = (
        "import sys\nfrom pipeline.targets.jobs import get_ready\nget_ready()\n"
        f"print([name for name in {names} if name in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.strip() == "[]"


def test_planning_loads_nothing_that_draws_or_computes(script: Path) -> None:
    """The command's own process plans while a worker loads what films need: each has a core to itself."""
    names = ("numpy", "scipy", "av", "blend2d", "PIL", "numba")
    code = (
        "import sys\nfrom pipeline.targets.outputs import outputs\nfrom pipeline.targets.wish import Choice\n"
        "from pipeline.lesson.resolve import read_lesson\nfrom pathlib import Path\n"
        f"outputs(read_lesson(Path({str(script)!r})), 'lesson', Choice())\n"
        f"print([name for name in {names} if name in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.strip() == "[]"


class Blow:
    """A payload that hits whoever unpickles it with a signal."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __reduce__(self) -> tuple[object, tuple[int]]:
        return signal.raise_signal, (signal.Signals[self.name],)


@pytest.mark.parametrize(("blow", "told"), [("SIGSEGV", "died by SIGSEGV"), ("SIGSTOP", "was silent for")])
def test_a_worker_that_crashes_or_hangs_is_told_ended_and_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, blow: str, told: str
) -> None:
    if blow == "SIGSTOP":
        monkeypatch.setattr(process, "SILENCE", 1.0)
    store, early = Store(tmp_path), WorkerProcess()
    early.get_ready()
    assert early.process is not None
    first = early.process
    hit = Target("hit", "text", "hit.txt", {}, Blow(blow))
    (outcome,) = make(stale([hit], store), store, jobs=1, ready=early)
    assert told in str(outcome.faults[0])
    assert first.poll() is not None
    monkeypatch.undo()
    assert run(store, text("a", "1")) == [("a", "made")]


def test_a_worker_runs_nothing_that_lies_in_the_current_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("pickle.py", "ffmpeg.py", "pipeline.py"):
        (tmp_path / name).write_text("raise SystemExit('this file was run')", "utf-8")
    monkeypatch.chdir(tmp_path)
    store = Store(Path("build"))
    assert run(store, text("a", "1")) == [("a", "made")]
    assert (tmp_path / "build/a.txt").read_text("utf-8") == "1"


def test_a_place_that_refuses_fails_its_own_target_alone(tmp_path: Path) -> None:
    (tmp_path / "a.txt").mkdir()
    store = Store(tmp_path)
    assert run(store, text("a", "1"), text("b", "2")) == [("a", "failed"), ("b", "made")]
    assert run(store, text("a", "1"), text("b", "2")) == [("a", "failed")]


def test_why_is_told(tmp_path: Path) -> None:
    store = Store(tmp_path)
    run(store, text("a", "1"), text("b", "1"))
    (tmp_path / "a.txt").unlink()
    work = stale([text("a", "1"), text("b", "2"), text("c", "3")], store)
    assert [(target.id, why) for target, _, why in work] == [
        ("a", "missing"),
        ("b", "changed"),
        ("c", "new"),
    ]


def test_a_digest_knows_fractions_from_floats() -> None:
    from fractions import Fraction

    assert digest({"a": Fraction(1, 3)}) == digest({"a": Fraction(2, 6)})
    assert digest({"a": Fraction(1, 2)}) != digest({"a": 0.5})
