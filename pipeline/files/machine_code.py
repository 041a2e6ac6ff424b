"""Machine code of loops, kept on disk: made once for a source and a processor, then only loaded.

It lies beside the modules' bytecode, or in the user's folder for such files where that cannot be written;
where neither can, it is made again in each process. A file starts with the digest of what follows, so one
that was cut short or damaged is made again.
"""

import ctypes
import hashlib
import os
import sys
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from types import FunctionType
from typing import Any, NamedTuple

import llvmlite.binding as llvm

SYMBOL = "loop"
"""The name of the one function of an object file that is called from outside."""
DIGEST = hashlib.sha256().digest_size
_signature = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_char_p)


class Code(NamedTuple):
    """A loaded loop: `run(answer, fault, block)` is 0 when all went well. The engine holds its memory."""

    run: Any
    engine: Any


def machine_code(function: FunctionType, types: tuple[str, ...]) -> Code:
    """The machine code of a loop for arguments of these types, compiled where none is kept yet."""
    name = f"{function.__name__}-{_key(function, types)}.o"
    kept = next((code for folder in _folders() if (code := _read(folder / name))), None)
    if kept is None:
        from pipeline.files.loop_compiler import object_code

        kept = object_code(function, types, _machine(), SYMBOL)
        _keep(name, kept)
    return _loaded(kept)


def _loaded(code: bytes) -> Code:
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), _machine())
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()
    return Code(_signature(engine.get_function_address(SYMBOL)), engine)


def _machine() -> Any:
    """What code is made for: this processor. An engine takes it over, so each has its own."""
    _start()
    target = llvm.Target.from_default_triple()
    name, features = _processor()
    return target.create_target_machine(cpu=name, features=features, opt=3, jit=True)


@cache
def _start() -> None:
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()


@cache
def _processor() -> tuple[str, str]:
    return llvm.get_host_cpu_name(), llvm.get_host_cpu_features().flatten()


def _key(function: FunctionType, types: tuple[str, ...]) -> str:
    """A digest of all that the code hangs on: the module, how it is compiled, for which processor."""
    compiler = Path(__file__).with_name("loop_compiler.py")
    sources = (Path(function.__code__.co_filename), compiler, Path(__file__), _compiler_version())
    words = (function.__name__, types, _processor(), sys.version_info[:2], llvm.llvm_version_info)
    return hashlib.sha256(repr(words).encode() + b"".join(map(Path.read_bytes, sources))).hexdigest()[:24]


def _compiler_version() -> Path:
    """The file that states numba's version: asking for its metadata takes longer than loading the code."""
    found = find_spec("numba")
    assert found is not None
    assert found.origin is not None
    return Path(found.origin).with_name("_version.py")


def _folders() -> Iterator[Path]:
    """Where code is kept, the best place first."""
    if chosen := os.environ.get("NUMBA_CACHE_DIR"):  # who moves numba's files moves ours
        yield Path(chosen)
        return
    yield Path(__file__).with_name("__pycache__")
    home = {"win32": "~/AppData/Local", "darwin": "~/Library/Caches"}.get(sys.platform, "~/.cache")
    yield Path(home).expanduser() / "fretscene"


def _read(file: Path) -> bytes:
    """The code in a file; nothing where there is none or it is damaged."""
    try:
        whole = file.read_bytes()
    except OSError:
        return b""
    code = whole[DIGEST:]
    return code if hashlib.sha256(code).digest() == whole[:DIGEST] else b""


def _keep(name: str, code: bytes) -> None:
    """Write the code into the first folder that takes it, whole or not at all."""
    for folder in _folders():
        part = folder / f"{name}.{os.getpid()}.part"
        with suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
            part.write_bytes(hashlib.sha256(code).digest() + code)
            os.replace(part, folder / name)
            return
