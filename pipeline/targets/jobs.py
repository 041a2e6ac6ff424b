"""The kinds of target and the function that makes each: from a job's plain payload to a finished draft."""

from collections.abc import Callable
from pathlib import Path

from pipeline.targets.worker import Job, Share

Maker = Callable[[Job, Share], object]


def make_text(job: Job, share: Share) -> None:
    """Words as they are: captions, credits, a schema."""
    Path(job.draft).write_text(job.payload, "utf-8")


KINDS: dict[str, Maker] = {"text": make_text}
