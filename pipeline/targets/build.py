"""A whole build: scripts read, targets listed, what is stale made, and what came of it.

One script that cannot be read does not stop the others.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.errors import Fault, Faulty, Place, faulty
from pipeline.files.captions import clean
from pipeline.lesson.check import read_checked, uncollected
from pipeline.lesson.digest import digest
from pipeline.lesson.lesson import Lesson
from pipeline.lesson.memory import Memory, recalled
from pipeline.lesson.resolve import resolve
from pipeline.targets.make import Outcome, Why, make, stale
from pipeline.targets.outputs import handouts, outputs
from pipeline.targets.process import WorkerProcess
from pipeline.targets.progress import telling
from pipeline.targets.stamp import Facts, inputs_of, write_stamp
from pipeline.targets.store import Store
from pipeline.targets.target import Target, making_digest
from pipeline.targets.wish import Choice, Wish

DRAFT_SIZE, DRAFT_RATE = 640, 15
"""Pixels along the longer side and frames a second of a draft."""


@dataclass(frozen=True)
class Built:
    """What came of a build: how many targets there are, what was made and what failed."""

    folder: Path
    targets: tuple[Target, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    faults: tuple[Fault, ...] = ()
    unread: tuple[Path, ...] = ()
    cautions: tuple[Fault, ...] = ()
    """What authors should know though nothing is wrong."""

    @property
    def failed(self) -> bool:
        return bool(self.faults) or any(one.faults for one in self.outcomes)

    def files(self, made_only: bool = True) -> list[Path]:
        """The output files that were made (or all that stand), in order."""
        made = {one.target.id for one in self.outcomes if one.state in ("made", "restored")}
        wanted = (target for target in self.targets if target.path is not None)
        return [self.folder / str(target.path) for target in wanted if not made_only or target.id in made]


@dataclass
class _Read:
    """Lessons read so far, and what was wrong with the others."""

    lessons: list[tuple[str, Lesson]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    unread: list[Path] = field(default_factory=list)
    cautions: list[Fault] = field(default_factory=list)
    memories: list[tuple[Path, Memory]] = field(default_factory=list)


def build(wish: Wish, as_json: bool = False, ready: WorkerProcess | None = None) -> Built:
    """Make what is out of date; `ready` is a worker that runs. Raises Faulty without a folder to build in."""
    before = inputs_of(wish)
    with uncollected():
        read = _read(wish, before)
        targets = list(_targets(wish, read))
    if not targets:
        return Built(wish.folder, (), (), tuple(read.faults), tuple(read.unread), tuple(read.cautions))
    store = Store(wish.folder)
    with store.locked():
        for file, memory in read.memories:
            memory.save(file)
        work = stale(targets, store, wish.verify)
        with telling([target for target, _, _ in work], as_json) as tell:
            outcomes = make(work, store, wish.jobs or os.cpu_count() or 1, tell, ready)
    cautions = (*read.cautions, *sorted({told for one in outcomes for told in one.cautions}))
    told = (tuple(read.faults), tuple(read.unread), cautions)
    built = Built(wish.folder, tuple(targets), tuple(outcomes), *told)
    if not built.failed:
        write_stamp(wish, built.files(made_only=False), before)
    return built


def planned(wish: Wish) -> list[tuple[Target, Why]]:
    """What a build would make, and why; nothing is made. Raises Faulty for a script that cannot be read."""
    read = _read(wish, inputs_of(wish))
    if read.faults:
        raise Faulty(read.faults)
    work = stale(_targets(wish, read), Store(wish.folder), wish.verify)
    return [(target, why) for target, _, why in work]


def _read(wish: Wish, inputs: Facts | None) -> _Read:
    read = _Read()
    folders = {"book": Path(wish.book)} if wish.book else {}
    for script in wish.scripts:
        try:
            _own_folder(script, folders)
            checked = read_checked(script, wish.allow_outside)
            read.cautions += checked.cautions
            memory = _memory(wish, script, inputs, read)
            read.lessons.append((script.stem, resolve(_as_draft(checked) if wish.draft else checked, memory)))
        except Faulty as error:
            read.faults += error.faults
            read.unread.append(script)
    return read


def _memory(wish: Wish, script: Path, inputs: Facts | None, read: _Read) -> Memory | None:
    """What earlier builds remember of a script's scenes; nothing where files may lie anywhere."""
    if inputs is None or wish.allow_outside:
        return None
    path = str(script.resolve())
    others = {file: fact for file, fact in inputs.items() if file != path}
    file = wish.folder / ".store" / "sketches" / f"{digest([path, wish.draft])[:32]}.json"
    memory = recalled(file, digest([making_digest(), wish.draft, others]))
    read.memories.append((file, memory))
    return memory


def _own_folder(script: Path, folders: dict[str, Path]) -> None:
    """Raise Faulty where a script's outputs would leave the build folder or fall on those of another."""
    name = script.stem.casefold()  # some disks do not tell case
    if name.startswith(".") or not name.isprintable():
        wrong = f"{script.name!r} gives no name for a folder"
        raise faulty(Place(str(script)), wrong, "rename it with letters and digits")
    other = folders.setdefault(name, script)
    if other is not script:
        wrong = f"its outputs would fall on those of {other}"
        raise faulty(Place(str(script)), wrong, "rename one of the two, or build them apart with --out")


def _as_draft(checked: Any) -> Any:
    """The same lesson on a small, slow frame."""
    from dataclasses import replace
    from fractions import Fraction

    episode = checked.script.episode
    width, height = episode.frame.size
    scale = Fraction(DRAFT_SIZE, max(width, height))
    size = (2 * round(width * scale / 2), 2 * round(height * scale / 2))
    frame = episode.frame.model_copy(update={"size": size, "rate": Fraction(DRAFT_RATE)})
    script = replace(checked.script, episode=episode.model_copy(update={"frame": frame}))
    return replace(checked, script=script)


def _targets(wish: Wish, read: _Read) -> list[Target]:
    targets: list[Target] = []
    for stem, lesson in read.lessons:
        _known(lesson, wish.choice)
        targets += outputs(lesson, f"{stem}-draft" if wish.draft else stem, wish.choice)
    if wish.book and read.lessons:
        targets += handouts([lesson for _, lesson in read.lessons], "book", _file_name(wish.book), wish.book)
    return targets


def _known(lesson: Lesson, choice: Choice) -> None:
    """Raise Faulty for a scene or segment that the lesson has not."""
    from pipeline.errors import did_you_mean

    kinds = (
        ("scene", choice.scenes, [scene.id for scene in lesson.scenes]),
        ("segment", choice.segments, [segment.id for segment in lesson.segments]),
    )
    faults = [
        Fault(Place(lesson.title), f"there is no {kind} {name!r}", did_you_mean(name, known))
        for kind, names, known in kinds
        for name in names
        if name not in known
    ]
    if faults:
        raise Faulty(faults)


def _file_name(title: str) -> str:
    """A title as a plain file name."""
    kept = [sign.lower() if sign.isascii() and sign.isalnum() else "-" for sign in clean(title)]
    return "-".join(part for part in "".join(kept).split("-") if part) or "book"


def summary(built: Built) -> Sequence[str]:
    """What a build did, in lines for people: what was written where, and what failed."""
    states = [one.state for one in built.outcomes]
    made, restored = states.count("made"), states.count("restored")
    fresh = len(built.targets) - len(states)
    lines = [f"wrote {path}" for path in built.files()]
    counts = [f"{made} made"]
    counts += [f"{restored} put back from the store"] if restored else []
    counts += [f"{fresh} up to date"] if fresh else []
    counts += [f"{states.count('failed') + states.count('skipped')} failed"] if built.failed else []
    if built.targets:
        held = "what was finished" if built.failed else "everything"
        lines.append(f"{', '.join(counts)}; {held} is in {built.folder}")
    return lines
