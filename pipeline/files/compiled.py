"""Compiled loops over pixels: numba, with its results kept on disk so that only the first run compiles.

That first run costs about three seconds of processor time, every later one half a second to load them.

A function without the interpreter's lock can run beside an encoder in another thread.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar

import numba

P = ParamSpec("P")
R = TypeVar("R")


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a loop on first call. Division by zero is not looked for: loops that test cannot be widened."""
    try:
        return _made(function, cache=True)
    except RuntimeError:  # numba finds no folder that it may write its cache to
        return _made(function, cache=False)


def _made(function: Callable[P, R], cache: bool) -> Callable[P, R]:
    made: Callable[P, R] = numba.njit(cache=cache, nogil=True, error_model="numpy")(function)
    return made
