"""From a Python function to an object file: numba makes LLVM's code of it, LLVM the processor's.

Imported only where no machine code is kept: numba takes a while to load. Division by zero is not looked for:
loops that test cannot be widened. Loops own no memory, so numba's counting of references is left out.
"""

from importlib import import_module
from types import FunctionType
from typing import Any

import llvmlite.binding as llvm
from numba import njit
from numba.core import compiler, sigutils
from numba.core.compiler_lock import global_compiler_lock
from numba.core.registry import cpu_target

types: Any = import_module("numba.core.types")  # filled at run time, unknown to type checkers


def object_code(function: FunctionType, arguments: tuple[str, ...], machine: Any, symbol: str) -> bytes:
    """An object file with one function, `symbol`, that takes a pointer to a block of all the arguments."""
    kinds = tuple(sigutils.normalize_signature(f"void({', '.join(arguments)})".replace(":]", "::1]"))[0])
    loop = _jitted(function)

    def unpacked(block):  # type: ignore[no-untyped-def]
        loop(*block[0])

    block = types.CPointer(types.BaseTuple.from_types(kinds))
    with global_compiler_lock:
        made = compiler.compile_extra(
            cpu_target.typing_context, cpu_target.target_context, unpacked, (block,), types.void, _flags(), {}
        )
        made.library.finalize()
    module = llvm.parse_assembly(made.library.get_llvm_str())
    module.get_function(made.fndesc.mangled_name).name = symbol
    return bytes(machine.emit_object(module))


def _flags() -> Any:
    """Nothing but the function itself: Python never sees it."""
    flags = compiler.Flags()
    flags.no_compile = flags.no_cpython_wrapper = flags.no_cfunc_wrapper = True
    flags.error_model = "numpy"
    flags.nrt = False
    return flags


def _jitted(function: FunctionType) -> Any:
    """The function with the plain functions of its module that it calls made ready to be compiled into it."""
    known = function.__globals__
    called = (name for name in function.__code__.co_names if isinstance(known.get(name), FunctionType))
    parts = {name: _jitted(known[name]) for name in called if known[name].__module__ == function.__module__}
    own = FunctionType(function.__code__, known | parts, function.__name__)
    options: dict[str, Any] = {"error_model": "numpy", "_nrt": False}
    return njit(**options)(own)
