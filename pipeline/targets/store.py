"""The store of made things below a build folder, and the record of what stands where.

Objects are named by the digest of their bytes and lie under `.store/objects`; the record `.store/made.jsonl`
says which key and object each target was last made with. Outputs are hard links to objects where the disk
allows it, else copies. Nothing here trusts a clock: a file is unchanged when its size and time are the ones
that were recorded, not when they are older than something.
"""

import hashlib
import os
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from stat import S_ISDIR
from typing import IO

from pipeline.errors import Faulty, Place, faulty
from pipeline.targets.lock import hold
from pipeline.targets.record import Made, Record

BLOCK = 1 << 20


class Store:
    """The store of one build folder. Raises Faulty where the folder cannot be written."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.root = folder / ".store"
        self.objects = self.root / "objects"
        self.scratch = self.root / "scratch"
        try:
            for place in (self.objects, self.scratch):
                place.mkdir(parents=True, exist_ok=True)
            _own((self.root, self.objects, self.scratch, *self.objects.iterdir()))
        except OSError as error:
            raise self._shut(error) from None
        self.record = Record(self.root / "made.jsonl")

    @property
    def made(self) -> dict[str, Made]:
        """What each target was last made with."""
        return self.record.made

    @contextmanager
    def locked(self) -> Iterator[None]:
        """Hold the build folder for this process; raises Faulty at once where another build holds it."""
        with self._lock() as handle:
            try:
                hold(handle)
            except OSError:
                raise faulty(
                    Place(str(self.folder)),
                    "another build is at work in this folder",
                    "wait for it, or build into another folder with --out",
                ) from None
            self._sweep()
            if self.record.grown:
                self.record = Record(self.record.file)
            self.record.compact()
            yield

    def _lock(self) -> IO[str]:
        try:
            return open(self.root / "lock", "w", encoding="utf-8")
        except OSError as error:
            raise self._shut(error) from None

    def _shut(self, error: OSError) -> Faulty:
        what = f"the build folder cannot be written ({error.strerror})"
        return faulty(Place(str(self.folder)), what, "choose another")

    def _sweep(self) -> None:
        """Drop what a killed build left in scratch."""
        for left in self.scratch.iterdir():
            shutil.rmtree(left) if left.is_dir() else left.unlink()

    def object_path(self, name: str) -> Path:
        return self.objects / name[:2] / name

    def fresh(self, target_id: str, key: str, path: str | None, verify: bool = False) -> bool:
        """Whether a target stands as its key wants it. `verify` reads the bytes, not just size and time."""
        made = self.made.get(target_id)
        if made is None or made.key != key or made.path != path:
            return False
        stands = self.object_path(made.object)
        try:
            if path is not None and not _unchanged(self.folder / path, made):
                return False
            return size_of(stands) == made.size and (not verify or self._whole(made, stands))
        except OSError:
            return False

    def _whole(self, made: Made, stands: Path) -> bool:
        output = self.folder / made.path if made.path is not None else stands
        return digest_of(stands) == made.object and digest_of(output) == made.object

    def reuse(self, target_id: str, key: str, path: str | None) -> bool:
        """Put a target back in place from the store where some target was made with this key before."""
        made = self.record.with_key(key)
        if made is None or not self.holds(key):
            return False
        self._publish(target_id, key, made.object, made.size, path)
        return True

    def holds(self, key: str) -> bool:
        """Whether what some target was made with under this key lies here, whole."""
        made = self.record.with_key(key)
        if made is None:
            return False
        stands = self.object_path(made.object)
        return stands.exists() and digest_of(stands) == made.object

    def keep(self, target_id: str, key: str, draft: Path, path: str | None) -> Made:
        """Take a finished draft into the store and put it in its place. Drafts come from `scratch`."""
        name, size = digest_of(draft), size_of(draft)
        stands = self.object_path(name)
        if stands.exists() and digest_of(stands) != name:
            remove(stands)  # a flipped bit: the new draft is the true one
        if stands.exists():
            remove(draft)
        else:
            stands.parent.mkdir(exist_ok=True)
            os.replace(draft, stands)
        return self._publish(target_id, key, name, size, path)

    def _publish(self, target_id: str, key: str, name: str, size: int, path: str | None) -> Made:
        made = Made(key, name, size, path)
        if path is not None:
            output = self.folder / path
            output.parent.mkdir(parents=True, exist_ok=True)
            _own(output.parents[: len(Path(path).parents) - 1])
            _place(self.object_path(name), output, self.scratch)
            made = Made(key, name, size, path, output.stat().st_mtime_ns)
        self.record.note(target_id, made)
        return made

    def drop(self, target_id: str) -> None:
        """Delete the object of a target unless another target stands on it."""
        name = self.made[target_id].object
        if self.record.stand_on(name) == 1 and self.object_path(name).exists():
            remove(self.object_path(name))

    def sizes(self) -> tuple[int, int]:
        """How many objects lie in the store and their bytes."""
        objects = [thing for shelf in self.objects.iterdir() for thing in shelf.iterdir()]
        return len(objects), sum(size_of(thing) for thing in objects)

    def clean(self) -> tuple[int, int]:
        """Drop objects that no target stands on; returns how many and their bytes."""
        wanted = {made.object for made in self.made.values()}
        dropped = [o for shelf in self.objects.iterdir() for o in shelf.iterdir() if o.name not in wanted]
        total = sum(size_of(thing) for thing in dropped)
        for thing in dropped:
            remove(thing)
        return len(dropped), total


def _own(folders: Iterable[Path]) -> None:
    """Raise Faulty for a link: a lesson may bring a build folder whose links lead to other people's files,
    and what lies in scratch is swept away.
    """
    for folder in folders:
        if folder.is_symlink():
            wrong = "a link stands where the build keeps its own files"
            raise faulty(Place(str(folder)), wrong, "remove it, or choose another build folder")


def remove(thing: Path) -> None:
    """Delete a file or a folder."""
    shutil.rmtree(thing) if thing.is_dir() else thing.unlink()


def _files(thing: Path) -> list[Path]:
    return sorted(path for path in thing.rglob("*") if path.is_file()) if thing.is_dir() else [thing]


def _unchanged(output: Path, made: Made) -> bool:
    return output.stat().st_mtime_ns == made.mtime_ns and size_of(output) == made.size


def size_of(thing: Path) -> int:
    """Bytes of a file, or of all files of a folder."""
    facts = thing.stat()
    return sum(size_of(one) for one in thing.iterdir()) if S_ISDIR(facts.st_mode) else facts.st_size


def digest_of(thing: Path) -> str:
    """SHA-256 of a file's bytes; for a folder, of its files' names and bytes in order."""
    running = hashlib.sha256()
    for file in _files(thing):
        if thing.is_dir():
            running.update(file.relative_to(thing).as_posix().encode() + b"\0")
        with open(file, "rb") as handle:
            while block := handle.read(BLOCK):
                running.update(block)
    return running.hexdigest()


def _place(stands: Path, output: Path, scratch: Path) -> None:
    """Link (or copy) an object to its output under a temporary name, then rename it into place."""
    draft = scratch / f"{stands.name}.{os.getpid()}.link"
    if draft.exists():
        remove(draft)
    if stands.is_dir():
        shutil.copytree(stands, draft, copy_function=_link)
        if output.is_dir():
            remove(output)
    else:
        _link(str(stands), str(draft))
    if output.is_file() and output.samefile(draft):
        remove(draft)  # renaming one link of a file onto another does nothing and leaves both
        return
    os.replace(draft, output)


def _link(source: str, goal: str) -> None:
    try:
        os.link(source, goal)
    except OSError:
        shutil.copy2(source, goal)
