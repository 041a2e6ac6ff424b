"""Compiled loops: they take what they say and nothing else, and what is kept is never trusted."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pipeline.files import machine_code
from pipeline.files.blend import over
from pipeline.files.compiled import compiled


def _doubled(number: np.uint8) -> np.uint8:
    return np.uint8(2 * number)


@compiled("uint8[:, :]", "int64")
def double(numbers: Any, count: int) -> None:
    for row in range(numbers.shape[0]):
        for column in range(count):
            numbers[row, column] = _doubled(numbers[row, column])


@pytest.fixture
def empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    return tmp_path


def test_rows_may_be_padded_and_functions_of_the_module_are_compiled_in(empty_folder: Path) -> None:
    numbers = np.arange(12, dtype=np.uint8).reshape(3, 4)
    double(numbers[:, :3], 3)
    assert numbers.tolist() == [[0, 2, 4, 3], [8, 10, 12, 7], [16, 18, 20, 11]]


@pytest.mark.parametrize(
    "wrong",
    [
        np.zeros((4, 4), np.uint8),
        np.zeros((4, 4), np.int32),
        np.zeros((4, 4), np.uint32).T[1:],
        np.zeros((4, 8), np.uint32)[:, ::2],
        np.zeros((4, 8), np.uint32)[:, :4],
        np.zeros(16, np.uint32),
    ],
)
def test_another_array_than_was_said_is_refused(wrong: np.ndarray) -> None:
    right = np.zeros((4, 4), np.uint32)
    with pytest.raises(TypeError, match="is wanted, not"):
        over(right, wrong, 0, 0, 0, 0, 4, 4, np.uint32(255))


def test_an_array_in_the_place_of_a_freed_one_is_described_anew() -> None:
    canvas = np.zeros((8, 8), np.uint32)
    for size in range(1, 9):
        sprite = np.full((size, size), 0xFF000000 + size, np.uint32)
        over(canvas, sprite, 0, 0, 0, 0, size, size, np.uint32(255))
        assert (canvas[:size, :size] == 0xFF000000 + size).all()
        del sprite


def test_damaged_code_is_made_again(empty_folder: Path) -> None:
    function, types = double._function, double._types  # type: ignore[attr-defined]
    machine_code.machine_code(function, types)
    (kept,) = empty_folder.iterdir()
    whole = kept.read_bytes()
    kept.write_bytes(whole[:-9])
    machine_code.machine_code(function, types)
    assert list(empty_folder.iterdir()) == [kept]
    assert len(machine_code._read(kept)) > len(whole) // 2


def test_numba_is_not_loaded_where_code_is_kept() -> None:
    over(np.zeros((1, 1), np.uint32), np.zeros((1, 1), np.uint32), 0, 0, 0, 0, 1, 1, np.uint32(255))
    lines = [
        "import sys, numpy as np",
        "from pipeline.files.blend import over",
        "one = np.zeros((1, 1), np.uint32)",
        "over(one, one.copy(), 0, 0, 0, 0, 1, 1, np.uint32(255))",
        "sys.exit('numba' in sys.modules)",
    ]
    assert subprocess.run([sys.executable, "-c", "\n".join(lines)], check=False).returncode == 0
