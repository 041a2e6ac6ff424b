"""A worker: a process of its own that makes one job after another, told over its standard streams.

Messages are pickled objects behind an eight-byte length. In: `Job`, or None to get ready for films. Out:
`("share", 0..1)` while it works, then `("done", notes)` or `("faults", faults)` or `("broken", text)`. Heavy
and GPL-encumbered libraries are loaded here and never in the command's own process. A worker ends when its
input ends, so none is left behind.
"""

import ctypes
import os
import pickle
import signal
import struct
import sys
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import IO, Any

from pipeline.errors import Faulty


@dataclass(frozen=True)
class Job:
    """One thing to make: a kind of `jobs.KINDS`, its payload, where the draft goes, files it is made from."""

    kind: str
    payload: Any
    draft: str
    needs: tuple[str, ...] = ()


Share = Callable[[float], None]


def send(stream: IO[bytes], message: object) -> None:
    """Write one message."""
    body = pickle.dumps(message)
    stream.write(struct.pack(">Q", len(body)) + body)
    stream.flush()


def receive(stream: IO[bytes]) -> Any:
    """Read one message; raises EOFError at the end of the stream."""
    head = stream.read(8)
    if len(head) < 8:
        raise EOFError
    (length,) = struct.unpack(">Q", head)
    body = stream.read(length)
    if len(body) < length:
        raise EOFError
    return pickle.loads(body)


def main() -> None:
    """Serve jobs until the input ends."""
    _end_with_parent()
    orders, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints goes to the log, never between two messages
    while True:
        try:
            job = receive(orders)
        except EOFError:
            return
        if job is None:
            _get_ready()
        else:
            send(answers, _answer(job, lambda share: send(answers, ("share", share))))


def _answer(job: Job, share: Share) -> tuple[str, object]:
    from pipeline.targets.jobs import KINDS

    try:
        return "done", KINDS[job.kind](job, share)
    except Faulty as error:
        return "faults", error.faults
    except Exception:  # told to the parent, which words it for the user
        return "broken", traceback.format_exc()


def _get_ready() -> None:
    with suppress(Exception):  # the job that needs it will tell
        from pipeline.targets.jobs import get_ready

        get_ready()


def _end_with_parent() -> None:
    """Ask the kernel (Linux) to end this process when the build that started it dies."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGKILL)
        if os.getppid() == 1:
            sys.exit(1)


if __name__ == "__main__":
    main()
