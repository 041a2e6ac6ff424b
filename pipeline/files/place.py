"""Puts finished files in their place: never half a file under a final name.

A file is written under a temporary name beside the final one, checked, forced to the disk and renamed over
it in one step. Until then the earlier file stays as it was.
"""

import errno
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from glob import escape
from hashlib import blake2b
from pathlib import Path

from pipeline.errors import Faulty, Place, faulty

PART = ".part"

REMEDIES = {
    errno.ENOSPC: "make room on that disk and build again",
    errno.EDQUOT: "make room on that disk and build again",
    errno.EROFS: "choose an output folder that can be written",
    errno.EACCES: "choose an output folder that can be written",
    errno.EPERM: "choose an output folder that can be written",
    errno.ENAMETOOLONG: "give it a shorter name",
    errno.EFBIG: "choose a disk that holds files of this size",
}


@contextmanager
def placed(final: Path) -> Iterator[Path]:
    """Give a temporary path to write to; on leaving without an error it becomes `final`.

    Raises Faulty where the disk is full, read-only or otherwise refuses; `final` is then as it was.
    """
    if not final.name or (final.exists() and not final.is_file()):
        raise faulty(Place(str(final)), "could not be written: it is a folder or a device", "name a file")
    stem = f".{final.name[:80]}."
    part = final.with_name(f"{stem}{os.getpid()}-{secrets.token_hex(4)}{PART}")
    try:
        final.parent.mkdir(parents=True, exist_ok=True)
        sweep(final.parent, stem)
        yield part
        _force(part)
        part.replace(final)
        _force(final.parent)
    except OSError as failure:
        if failure.errno not in REMEDIES and part.name not in str(failure.filename):
            raise
        raise refused(final, failure) from failure
    finally:
        _drop(part)


def refused(path: Path, failure: OSError) -> Faulty:
    """The fault for a file that the system would not let us write."""
    reason = os.strerror(failure.errno) if failure.errno else str(failure)
    remedy = REMEDIES.get(failure.errno or 0, "look at the output folder and build again")
    return faulty(Place(str(path)), f"could not be written: {reason}", remedy)


def sweep(folder: Path, stem: str = ".") -> list[Path]:
    """Remove the temporary files that killed runs left in a folder; those of living runs stay."""
    left = [part for part in folder.glob(f"{escape(stem)}*{PART}") if not _alive(part)]
    for part in left:
        _drop(part)
    return left


def digest(path: Path) -> str:
    """BLAKE2b (RFC 7693) of a file's bytes, 32 hexadecimal digits."""
    summed = blake2b(digest_size=16)
    with path.open("rb") as file:
        while piece := file.read(1 << 20):
            summed.update(piece)
    return summed.hexdigest()


def _force(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _drop(part: Path) -> None:
    """Remove a temporary file, as far as the disk lets us: the error that brought us here matters more."""
    try:
        part.unlink(missing_ok=True)
    except OSError:
        return


def _alive(part: Path) -> bool:
    owner = part.name.removesuffix(PART).rsplit(".", 1)[-1].split("-")[0]
    if not owner.isdigit():
        return True
    try:
        os.kill(int(owner), 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
