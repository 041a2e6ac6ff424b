"""Pieces of overlays between two workers: what changes from frame to frame, and no more.

A frame of ProRes is half a megabyte, of which a moving cursor changes a twentieth; joining lays whole frames
into the film once. A piece is read by the program that wrote it and by no other: frames, each a count of its
parts, the number and length of each, and their bytes; at the end a mark and how many frames there are.
"""

import struct
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import BinaryIO

from pipeline.files.frames import seldom_collected
from pipeline.files.place import placed
from pipeline.files.prores import Change

END = 0xFFFFFFFF
BUFFER = 1 << 20


def write_piece(path: Path, changes: Iterable[Change]) -> None:
    """Write what changes in the frames of a piece. Raises Faulty where the disk refuses."""
    count = 0
    with placed(path) as part, part.open("wb", BUFFER) as file, seldom_collected():
        for change in changes:
            count += 1
            numbers = (word for number, data in change.items() for word in (number, len(data)))
            file.write(struct.pack(f">{1 + 2 * len(change)}I", len(change), *numbers))
            file.writelines(change.values())
        file.write(struct.pack(">2I", END, count))


def changes_of(path: Path) -> Iterator[Change]:
    """The changes in a piece, one a frame. Raises ValueError where it is cut off."""
    count = 0
    with path.open("rb", BUFFER) as file:
        while (parts := _words(file, 1, path)[0]) != END:
            count += 1
            numbers = _words(file, 2 * parts, path)
            yield {
                n: _bytes(file, length, path) for n, length in zip(numbers[::2], numbers[1::2], strict=True)
            }
        if _words(file, 1, path) != (count,):
            raise ValueError(f"{path.name} is not the piece it says it is")


def _words(file: BinaryIO, count: int, path: Path) -> tuple[int, ...]:
    return struct.unpack(f">{count}I", _bytes(file, 4 * count, path))


def _bytes(file: BinaryIO, count: int, path: Path) -> bytes:
    found = file.read(count)
    if len(found) < count:
        raise ValueError(f"{path.name} is cut off")
    return found
