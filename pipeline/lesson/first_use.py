"""Whether loops must be compiled before the answer comes: once on each machine, for some seconds."""

from pathlib import Path
from typing import Any

from pipeline.reasoning import chain
from pipeline.sound import align_search


def weighing_compiles() -> bool:
    """Whether the search for readings has never been compiled here."""
    return _must_compile(chain.count_fingers)


def aligning_compiles() -> bool:
    """Whether the search for notes in a recording has never been compiled here."""
    return _must_compile(align_search.best_starts)


def _must_compile(function: Any) -> bool:
    """Numba keeps what it compiled in a folder, in files named after the module."""
    folder = function.stats.cache_path
    name = function.__module__.rpartition(".")[2]
    return folder is None or not any(Path(folder).glob(f"{name}.*.nbi"))
