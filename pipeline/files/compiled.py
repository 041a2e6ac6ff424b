"""Compiled loops over pixels: written in Python, run as machine code that is kept on disk.

Numba is only the compiler (`loop_compiler`): once a loop is kept (`machine_code`), a process that runs it
loads a few kilobytes and never imports numba, which would take longer than the first frame of a film.

A loop gets whole numbers, floats and arrays, and gives nothing back: it writes into arrays. It may call plain
functions of its own module, which are compiled into it. The interpreter's lock is let go while it runs, so it
can run beside an encoder in another thread.
"""

import ctypes
import struct
import weakref
from collections.abc import Callable
from functools import cache, cached_property
from types import FunctionType
from typing import Any, Generic, NamedTuple, ParamSpec

import numpy as np

from pipeline.files.machine_code import Code, machine_code

P = ParamSpec("P")
NUMBERS = {"int64": "q", "uint32": "I", "float32": "f"}
"""How a number is laid into the block of arguments, by its type."""
_array = struct.Struct("PPqqPqqqq").pack
"""How an array of rows is: numba's `_arraystruct.h`, owner and parent first, sizes and steps last."""
_answer = ctypes.create_string_buffer(16)
_ANSWER = ctypes.addressof(_answer)
"""Where compiled code writes that it gives nothing back."""


def compiled(*types: str) -> Callable[[Callable[P, None]], "Loop[P]"]:
    """A loop whose arguments have these types, in numba's words, arrays before numbers.

    `uint32[:, ::1]` has rows without gaps; those of `uint8[:, :]` may be padded, and the loop sees the
    padding as a part of them. The loop is compiled or loaded when first called. Raises TypeError for other
    arguments.
    """

    def made(function: Callable[P, None]) -> Loop[P]:
        assert isinstance(function, FunctionType)
        return Loop(function, types)

    return made


class Loop(Generic[P]):
    """A loop that lays its arguments into one block of memory and hands that to the machine code."""

    def __init__(self, function: FunctionType, types: tuple[str, ...]) -> None:
        self.__doc__, self.__name__ = function.__doc__, function.__name__
        self._function, self._types = function, types
        self._arrays = tuple(one for one in types if one not in NUMBERS)
        self._numbers = struct.Struct("".join(NUMBERS[one] for one in types[len(self._arrays) :])).pack

    def __call__(self, *arguments: P.args, **named: P.kwargs) -> None:
        count = len(self._arrays)
        self.on(*arguments[:count])(*arguments[count:])

    def on(self, *arrays: Any) -> "OnArrays":
        """The loop with its arrays given, to be called with its numbers: those are quickly laid."""
        laid = b"".join(map(_laid, arrays, self._arrays))
        return OnArrays(self._code.run, laid, self._numbers, arrays)

    @cached_property
    def _code(self) -> Code:
        return machine_code(self._function, self._types)


class OnArrays(NamedTuple):
    """A loop's machine code and the block of its arrays, which are kept alive with it."""

    run: Any
    laid: bytes
    numbers: Callable[..., bytes]
    arrays: tuple[Any, ...]

    def __call__(self, *numbers: Any) -> None:
        if self.run(_ANSWER, _ANSWER, self.laid + self.numbers(*numbers)):
            raise RuntimeError("a compiled loop could not run to its end")


_known: dict[tuple[int, str], tuple["weakref.ref[Any]", bytes]] = {}
"""Arrays described before, by what they are and what they stand for."""


def _laid(array: Any, wanted: str) -> bytes:
    """An array's description; asking numpy takes longer than many a loop, so it is kept."""
    key = (id(array), wanted)
    found = _known.get(key)
    if found is not None and found[0]() is array:
        return found[1]
    description = _described(array, wanted)
    _known[key] = (weakref.ref(array, lambda _: _known.pop(key, None)), description)
    return description


def _described(array: Any, wanted: str) -> bytes:
    """As compiled code wants it; the width of padded rows is how far they lie apart."""
    tight, size = array.flags.c_contiguous, array.itemsize
    count, wide = array.shape if array.ndim == 2 else (0, 0)
    if not tight and array.ndim == 2 and array.strides[1] == size and not array.strides[0] % size:
        wide, tight = array.strides[0] // size, wanted.endswith("[:, :]")
    if not tight or array.ndim != 2 or array.dtype != _dtype(wanted):
        raise TypeError(f"{wanted} is wanted, not {array.dtype} {array.shape} in steps of {array.strides}")
    address = array.__array_interface__["data"][0]
    return _array(0, 0, count * wide, size, address, count, wide, wide * size, size)


@cache
def _dtype(wanted: str) -> "np.dtype[Any]":
    return np.dtype(wanted.partition("[")[0])
