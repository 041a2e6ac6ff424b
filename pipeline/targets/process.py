"""A worker's process, seen from the build: started when first needed, asked for one job after another, ended.

It may be started early, while the script is still being read, so that it has loaded what films need when the
first job comes.
"""

import os
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable
from contextlib import suppress
from queue import Empty, SimpleQueue

from pipeline.errors import Fault, Place
from pipeline.targets.worker import Job, receive, send

SILENCE = 300.0  # seconds without a word from a worker before it counts as hung
LOG_TAIL = 600  # characters of a dead worker's log that a message keeps
COMMAND = [sys.executable, "-P", "-m", "pipeline.targets.worker"]
"""Neither modules nor settings of libraries are taken from the folder a lesson lies in."""
Answers = SimpleQueue[tuple[str, object]]


class WorkerProcess:
    """One worker process, started when first needed and again after it died."""

    def __init__(self) -> None:
        self.process: subprocess.Popen[bytes] | None = None
        self.cautions: tuple[Fault, ...] = ()  # of the last job that was done
        self.log = tempfile.TemporaryFile()  # noqa: SIM115 - lives as long as the worker

    def get_ready(self) -> None:
        """Start the process and have it load what films need."""
        with suppress(OSError):  # where it dies at once, the first job will tell
            process = self._running()
            assert process.stdin is not None
            send(process.stdin, None)

    def do(self, job: Job, name: str, share: Callable[[float], None]) -> tuple[Fault, ...]:
        """Have a job done; returns its faults, empty when it went well. `name` is the target's, for them."""
        process = self._running()
        answers: Answers = SimpleQueue()
        threading.Thread(target=_listen, args=(process, job, answers), daemon=True).start()
        while True:
            try:
                word, value = answers.get(timeout=SILENCE)
            except Empty:
                self.close()
                return (broken(name, f"it was silent for {SILENCE:.0f} s and was stopped"),)
            if word == "share":
                share(float(value))  # type: ignore[arg-type]
            elif word == "done":
                self.cautions = tuple(value or ())  # type: ignore[arg-type]
                return ()
            elif word == "faults":
                return tuple(value)  # type: ignore[arg-type]
            else:
                return (broken(name, str(value) if word == "broken" else self._last_words()),)

    def _running(self) -> subprocess.Popen[bytes]:
        if self.process is not None and self.process.poll() is not None:
            self.close()
        if self.process is None:
            self.log.seek(0)
            self.log.truncate()
            self.process = subprocess.Popen(
                COMMAND,
                cwd=os.sep,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self.log,
                start_new_session=True,
            )
        return self.process

    def _last_words(self) -> str:
        """How the process ended, and the end of its log."""
        code = self._exit_code()
        self.close()
        self.log.seek(0)
        tail = self.log.read()[-LOG_TAIL:].decode("utf-8", "replace").strip()
        how = f" by {signal.Signals(-code).name}" if code < 0 else ""
        return f"its process died{how}" + (f": {tail}" if tail else "")

    def _exit_code(self) -> int:
        try:
            return self.process.wait(1.0) if self.process else 0
        except subprocess.TimeoutExpired:
            return 0

    def retire(self) -> None:
        """End the process for good."""
        self.close()
        self.log.close()

    def close(self) -> None:
        """End the process and everything it started."""
        process, self.process = self.process, None
        if process is not None:
            _end(process)
            for stream in (process.stdin, process.stdout):
                if stream is not None:
                    with suppress(BrokenPipeError):
                        stream.close()


def _end(process: subprocess.Popen[bytes]) -> None:
    if sys.platform == "win32":
        process.kill()
    else:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)  # it leads a session of its own
    process.wait()


def _listen(process: subprocess.Popen[bytes], job: Job, answers: Answers) -> None:
    try:
        assert process.stdin is not None
        assert process.stdout is not None
        send(process.stdin, job)
        while True:
            word, value = receive(process.stdout)
            answers.put((word, value))
            if word != "share":
                return
    except (EOFError, OSError, ValueError):
        answers.put(("died", ""))


def broken(name: str, wrong: str) -> Fault:
    """A target that could not be made, through no fault of its author."""
    last = wrong.strip().splitlines()[-1] if wrong.strip() else "unknown"
    return Fault(Place(name), f"could not be made: {last}", "this is a defect of fretscene; please tell us")
