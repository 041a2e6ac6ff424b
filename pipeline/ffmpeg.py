"""Runs the ffmpeg that pip brings, so that no file, name or text can make it do anything else.

Argument lists are built with ffmpeg-python (its graph keeps streams and options apart) and run here: the
pip binary by its absolute path, an empty environment, standard input closed, local files only, every input
under a name we chose and with a forced demuxer, messages to a file, its own process group, a time limit,
and dead as soon as we are. ffmpeg-python's own `run` is not used: it waits on a hidden prompt, reads the
caller's input and stops on a full pipe.
"""

import ctypes
import hashlib
import os
import re
import signal
import struct
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from threading import Timer
from typing import IO, Any

import ffmpeg
import numpy as np
import numpy.typing as npt

from pipeline.errors import Place, faulty
from pipeline.media import SOUNDS, known_kind, stated_length

Samples = npt.NDArray[np.float32]

HANG = 1800.0
"""Seconds after which a run counts as hung."""
LONGEST_SOUND = 4 * 3600
"""Seconds of sound that a recording may hold: a bomb of compressed silence stops here."""
MISSING_SHARE = 0.01
MISSING_SECONDS = 0.2
"""A recording may be shorter than it claims by the larger of these before it counts as cut off."""


class Failed(Exception):
    """ffmpeg ended badly; the message holds the last lines that it wrote."""


@cache
def executable() -> Path:
    """The binary inside the imageio-ffmpeg package, whatever else is installed or set. Raises Failed."""
    spec = find_spec("imageio_ffmpeg")
    folders = spec.submodule_search_locations if spec else None
    found = sorted(Path(folders[0]).glob("binaries/ffmpeg-*")) if folders else []
    if not found:
        raise Failed("imageio-ffmpeg holds no ffmpeg for this machine")
    return found[0].resolve()


@cache
def version() -> str:
    """One line that changes whenever ffmpeg does, for cache keys."""
    with running(["-version"], capture=True) as process:
        assert process.stdout
        line = process.stdout.readline().decode("utf-8", "replace")
        process.stdout.read()
    return " ".join(line.split()[:3])


class Room:
    """A folder of its own for one run: inputs get names here that mean nothing to ffmpeg."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def take(self, path: Path, kind: str, **options: Any) -> Any:
        """An input stream for a file, read with the demuxer `kind` only."""
        digest = hashlib.blake2b(os.fsencode(path.absolute()), digest_size=8).hexdigest()
        link = self.folder / digest
        if not link.exists():
            link.symlink_to(path.absolute())
        return ffmpeg.input(f"file:{link}", f=kind, protocol_whitelist="file,pipe", **options)

    def spare(self, name: str) -> Path:
        """A path for an output of this run; gone when the room is left."""
        return self.folder / f"out-{name}"


@contextmanager
def room() -> Iterator[Room]:
    """Open a room and clear it away again, whatever happens inside."""
    with tempfile.TemporaryDirectory(prefix="fretscene-") as folder:
        yield Room(Path(folder))


def write(streams: Any, path: Path, kind: str, timeout: float = HANG, **options: Any) -> None:
    """Write streams into a file of ours with the muxer `kind`. Raises Failed."""
    inputs = streams if isinstance(streams, list) else [streams]
    output = ffmpeg.output(*inputs, f"file:{path}", format=kind, **options)
    with running(ffmpeg.get_args(output, overwrite_output=True), timeout):
        pass


def read_pieces(streams: Any, kind: str, size: int, timeout: float = HANG, **options: Any) -> Iterator[bytes]:
    """Pieces of `size` bytes (raw frames) as ffmpeg delivers them. Raises Failed."""
    output = ffmpeg.output(streams, "pipe:1", format=kind, **options)
    with running(ffmpeg.get_args(output), timeout, capture=True) as process:
        assert process.stdout
        while len(piece := process.stdout.read(size)) == size:
            yield piece


@contextmanager
def running(
    arguments: list[str], timeout: float = HANG, capture: bool = False
) -> Iterator[subprocess.Popen[bytes]]:
    """A run of ffmpeg: its status is checked on leaving, and it is dead however we leave. Raises Failed."""
    guards = ["-nostdin", "-hide_banner", "-loglevel", "error"]
    with tempfile.TemporaryFile() as log:
        process = subprocess.Popen(
            [str(executable()), *guards, *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE if capture else subprocess.DEVNULL,
            stderr=log,
            env={},
            start_new_session=True,
            preexec_fn=_die_with_parent if sys.platform == "linux" else None,
        )
        with _ended(process, timeout) as watch:
            yield process
            if process.stdout and process.stdout.read(1):
                raise Failed("ffmpeg delivered more than was asked for")
            status = process.wait()
        if status:
            raise Failed(f"no end after {timeout:g} s" if watch.hung else _tail(log) or f"status {status}")


@dataclass
class Watch:
    """Whether the time limit struck."""

    hung: bool = False


@contextmanager
def _ended(process: subprocess.Popen[bytes], timeout: float) -> Iterator[Watch]:
    """Kill the process group after `timeout` seconds, and on leaving in any case."""
    watch = Watch()

    def strike() -> None:
        watch.hung = True
        _kill(process)

    timer = Timer(timeout, strike)
    timer.daemon = True
    timer.start()
    try:
        yield watch
    finally:
        timer.cancel()
        _kill(process)
        process.wait()
        if process.stdout:
            process.stdout.close()


def _kill(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        try:
            os.killpg(process.pid, signal.SIGKILL)
        except ProcessLookupError:
            return


_LIBC = ctypes.CDLL(None) if sys.platform == "linux" else None
_PR_SET_PDEATHSIG = 1


def _die_with_parent() -> None:
    """Runs in the child before ffmpeg does: the kernel kills it when the thread that started it ends."""
    if _LIBC is not None:
        _LIBC.prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)


_ORIGIN = re.compile(r"\[[^\]\n]* @ 0x[0-9a-f]+\] ?")
_OURS = re.compile(r"Error opening (?:in|out)put files?\b")
"""How ffmpeg names the files that it was given, which are links of ours that mean nothing to a user."""


def _tail(log: IO[bytes], lines: int = 3, limit: int = 400) -> str:
    """The last messages, without the memory addresses that stand before them."""
    log.seek(0, os.SEEK_END)
    log.seek(max(0, log.tell() - 8192))
    text = _ORIGIN.sub("", log.read().decode("utf-8", "replace"))
    printable = "".join(c if c.isprintable() or c == "\n" else " " for c in text)
    told = [line.strip() for line in printable.splitlines() if line.strip() and not _OURS.match(line)]
    return " / ".join(told[-lines:])[-limit:]


def decode_audio(path: Path) -> tuple[Samples, int]:
    """All sound of a file in memory: float32 of shape (n, channels) at the file's own rate, and that rate.

    Raises Faulty as `decoded_audio` does.
    """
    with decoded_audio(path) as decoded:
        return decoded[:], decoded.rate


@contextmanager
def decoded_audio(path: Path) -> Iterator["Decoded"]:
    """All sound of a file, on the disk while the context lasts.

    The whole file is decoded (seeking in compressed sound is off by milliseconds) and the encoder's delay
    is left out where the file states it. Raises Faulty for a file that is missing, unreadable, cut off,
    without sound, or longer than `LONGEST_SOUND`.
    """
    kind = known_kind(path, SOUNDS, "recording", "sound file", RESAVE)
    claimed = _claimed(path, kind)
    with room() as here:
        raw = here.spare("sound")
        try:
            sound = here.take(path, kind)["a:0"]
            write(sound, raw, "au", acodec="pcm_f32be", t=LONGEST_SOUND + 1, map_metadata=-1)
        except Failed as failure:
            raise faulty(Place(str(path)), f"cannot be read as sound ({failure})", RESAVE) from failure
        decoded = Decoded(raw)
        _whole(path, len(decoded) / decoded.rate, claimed)
        yield decoded


RESAVE = "save it again as wav, flac, ogg, mp3 or m4a"
COPY_AGAIN = "copy or export it again, whole"


def _claimed(path: Path, kind: str) -> float | None:
    try:
        length = stated_length(path, kind)
    except EOFError as failure:
        raise faulty(Place(str(path)), f"is cut off: {failure}", COPY_AGAIN) from None
    return None if length is None else float(length)


class Decoded:
    """Decoded sound on the disk: float32 of shape (n, channels), read where it is sliced."""

    def __init__(self, path: Path) -> None:
        """Sun's AU: a header of six numbers, then big-endian floats without limit of size."""
        with path.open("rb") as file:
            numbers: tuple[int, ...] = struct.unpack(">4sIIIII", file.read(24))[1:]
        self._path = path
        self._offset, self.rate, channels = numbers[0], numbers[3], numbers[4]
        self.shape: tuple[int, int] = (max(0, path.stat().st_size - self._offset) // (4 * channels), channels)

    def __len__(self) -> int:
        return self.shape[0]

    def __getitem__(self, part: slice) -> Samples:
        first, last, _ = part.indices(len(self))
        channels = self.shape[1]
        count, skip = max(0, last - first) * channels, self._offset + first * channels * 4
        samples = np.fromfile(self._path, ">f4", count, offset=skip).astype(np.float32)
        return samples.reshape(-1, channels)


def _whole(path: Path, seconds: float, claimed: float | None) -> None:
    if seconds == 0:
        raise faulty(Place(str(path)), "holds no sound", RESAVE)
    if seconds > LONGEST_SOUND:
        raise faulty(Place(str(path)), f"is longer than {LONGEST_SOUND // 3600} hours", "cut it first")
    if claimed is None:
        return
    if claimed - seconds > max(MISSING_SECONDS, MISSING_SHARE * claimed):
        wrong = f"is cut off: {claimed:.2f} s are announced, {seconds:.2f} s are there"
        raise faulty(Place(str(path)), wrong, COPY_AGAIN)
