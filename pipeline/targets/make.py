"""Making what is out of date: threads that each own one worker process.

A worker that dies takes only its own target with it; the thread starts another. A worker that is silent for
too long is killed. Targets are started when what they need stands; what needs a failed one is skipped.
"""

import threading
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from pipeline.errors import Fault, Faulty, Place
from pipeline.targets.process import WorkerProcess, broken
from pipeline.targets.store import Store
from pipeline.targets.target import Target, keys
from pipeline.targets.worker import Job

Why = Literal["new", "changed", "missing", "fresh"]


@dataclass(frozen=True)
class Outcome:
    """What became of a target: made, taken from the store, or failed (with faults).

    `cautions` are what an author should know though it was made.
    """

    target: Target
    state: Literal["made", "restored", "failed", "skipped"]
    seconds: float = 0.0
    faults: tuple[Fault, ...] = ()
    cautions: tuple[Fault, ...] = ()


Report = Callable[[str, Target, float], None]
"""Called with `start`, `share` (0..1) or an outcome's state, the target, and a number."""


def stale(targets: Iterable[Target], store: Store, verify: bool = False) -> list[tuple[Target, str, Why]]:
    """The targets that do not stand as they should, with their keys and why, in order.

    What has no output of its own counts only where something needs it that the store does not hold.
    """
    wanted = list(targets)
    found: list[tuple[Target, str, Why]] = []
    needed: set[str] = set()
    for target, key in zip(reversed(wanted), reversed(keys(wanted).values()), strict=True):
        asked = target.path is not None or target.id in needed
        if asked and not store.fresh(target.id, key, target.path, verify):
            found.append((target, key, _why(target, key, store)))
            if not store.holds(key):
                needed.update(target.needs)
    return found[::-1]


def _why(target: Target, key: str, store: Store) -> Why:
    made = store.made.get(target.id)
    if made is None:
        return "new"
    return "changed" if made.key != key else "missing"


def make(
    work: Sequence[tuple[Target, str, Why]],
    store: Store,
    jobs: int,
    report: Report = lambda *_: None,
    ready: WorkerProcess | None = None,
) -> list[Outcome]:
    """Make every given target, `jobs` at a time; the record grows with each. `ready` is the first worker."""
    if not work:
        return []
    bench = _Bench(work, store, report)
    workers = [ready or WorkerProcess(), *(WorkerProcess() for _ in range(1, min(jobs, len(work))))]
    threads = [threading.Thread(target=bench.serve, args=(one,), daemon=True) for one in workers]
    for thread in threads:
        thread.start()
    try:
        for thread in threads:
            while thread.is_alive():
                thread.join(0.2)  # short joins, so that an interrupt is heard
    finally:
        bench.close()
    return bench.outcomes


@dataclass
class _Bench:
    """The queue of work that the threads share."""

    work: Sequence[tuple[Target, str, Why]]
    store: Store
    report: Report
    outcomes: list[Outcome] = field(default_factory=list)
    workers: list[WorkerProcess] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.waiting = list(self.work)
        self.open = {target.id for target, _, _ in self.work}
        self.failed: set[str] = set()
        self.passing = {target.id for target, _, _ in self.work if target.passing}
        self.users = Counter(need for target, _, _ in self.work for need in target.needs)
        self.turn = threading.Condition()

    def serve(self, worker: WorkerProcess) -> None:
        with self.turn:
            self.workers.append(worker)
        try:
            while (item := self._next()) is not None:
                self._finish(item, self._surely(worker, *item[:2]))
        finally:
            worker.retire()

    def _next(self) -> tuple[Target, str, Why] | None:
        with self.turn:
            while self.waiting:
                for item in self.waiting:
                    if not any(need in self.open for need in item[0].needs):
                        self.waiting.remove(item)
                        return item
                self.turn.wait(0.5)
            return None

    def _surely(self, worker: WorkerProcess, target: Target, key: str) -> Outcome:
        """An outcome whatever happens: a thread that ended without one would leave its targets unmade."""
        try:
            return self._one(worker, target, key)
        except Faulty as error:
            faults = error.faults
        except OSError as error:
            fault = Fault(Place(str(self.store.folder)), f"{target.path or target.id}: {error}", "look there")
            faults = (fault,)
        except Exception as error:
            faults = (broken(target.id, f"{type(error).__name__}: {error}"),)
        return Outcome(target, "failed", 0.0, faults)

    def _one(self, worker: WorkerProcess, target: Target, key: str) -> Outcome:
        began = time.monotonic()
        if any(need in self.failed for need in target.needs):
            return Outcome(target, "skipped")
        with self.turn:
            if self.store.reuse(target.id, key, target.path):
                return Outcome(target, "restored")
        self.report("start", target, 0.0)
        draft = (self.store.scratch / key).absolute()
        needs = tuple(str(self._file_of(need)) for need in target.needs)
        job = Job(target.kind, target.payload, str(draft), needs)
        faults = worker.do(job, target.id, lambda share: self.report("share", target, share))
        if not faults and not draft.exists():
            faults = (broken(target.id, "it made no file"),)
        if faults:
            named = tuple(self._named(fault, draft, target) for fault in faults)
            return Outcome(target, "failed", time.monotonic() - began, named)
        return replace(self._keep(target, key, draft, began), cautions=worker.cautions)

    def _named(self, fault: Fault, draft: Path, target: Target) -> Fault:
        """A fault of the draft as one of the output that a user knows."""
        output = str(self.store.folder / (target.path or target.id))
        place = Place(output) if fault.place.file.startswith(str(draft)) else fault.place
        return Fault(place, fault.wrong.replace(str(draft), output), fault.remedy)

    def _keep(self, target: Target, key: str, draft: Path, began: float) -> Outcome:
        with self.turn:
            try:
                self.store.keep(target.id, key, draft, target.path)
            except OSError as error:
                wrong = f"{target.path or target.id} could not be written ({error.strerror})"
                fault = Fault(Place(str(self.store.folder)), wrong, "free some room or choose another folder")
                return Outcome(target, "failed", time.monotonic() - began, (fault,))
        return Outcome(target, "made", time.monotonic() - began)

    def _let_go(self, needs: Iterable[str]) -> None:
        """Drop what only passed through the store, once all that needed it stands."""
        self.users.subtract(needs)
        for need in needs:
            if need in self.passing and not self.users[need]:
                self.store.drop(need)

    def _file_of(self, target_id: str) -> Path:
        return self.store.object_path(self.store.made[target_id].object).absolute()

    def _finish(self, item: tuple[Target, str, Why], outcome: Outcome) -> None:
        with self.turn:
            self.outcomes.append(outcome)
            self.open.discard(item[0].id)
            if outcome.state in ("failed", "skipped"):
                self.failed.add(item[0].id)
            else:
                self._let_go(item[0].needs)
            self.turn.notify_all()
        self.report(outcome.state, outcome.target, outcome.seconds)

    def close(self) -> None:
        with self.turn:
            self.waiting.clear()
            self.turn.notify_all()
        for worker in self.workers:
            worker.close()
