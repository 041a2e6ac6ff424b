"""Files appear whole or not at all, and what killed runs left is cleared away."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.errors import Faulty
from pipeline.files.place import digest, placed, sweep


def test_a_file_appears_only_when_it_is_done(tmp_path: Path) -> None:
    final = tmp_path / "new" / "a [x].txt"
    with placed(final) as part:
        part.write_text("half")
        assert not final.exists()
        assert part.parent == final.parent
        part.write_text("whole")
    assert final.read_text() == "whole"
    assert os.listdir(final.parent) == [final.name]


def test_after_an_error_the_earlier_file_stands(tmp_path: Path) -> None:
    final = tmp_path / "a.txt"
    final.write_text("earlier")
    with pytest.raises(KeyError), placed(final) as part:  # noqa: PT012
        part.write_text("half")
        raise KeyError("a defect")
    assert final.read_text() == "earlier"
    assert os.listdir(tmp_path) == ["a.txt"]


@pytest.mark.parametrize(
    ("number", "remedy"),
    [(errno.ENOSPC, "make room on that disk"), (errno.EROFS, "choose an output folder that can be written")],
)
def test_what_the_disk_refuses_is_one_line_with_a_remedy(number: int, remedy: str, tmp_path: Path) -> None:
    with (
        pytest.raises(Faulty, match=rf"a\.txt: could not be written: .*; {remedy}"),
        placed(tmp_path / "a.txt"),
    ):
        raise OSError(number, os.strerror(number))


def test_other_errors_are_no_fault_of_the_disk(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError), placed(tmp_path / "a.txt"):
        raise FileNotFoundError(errno.ENOENT, "gone", "some recording.wav")


def test_nothing_written_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(Faulty, match="could not be written: No such file"), placed(tmp_path / "a.txt"):
        pass


def test_a_folder_in_the_way_is_said(tmp_path: Path) -> None:
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(Faulty, match="could not be written"), placed(tmp_path / "a.txt") as part:
        part.write_text("x")


def test_a_device_is_not_replaced(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for final in (tmp_path / "pipe", Path(".")):
        with pytest.raises(Faulty, match="a folder or a device"), placed(final):
            pass
    assert (tmp_path / "pipe").is_fifo()


def test_what_dead_runs_left_goes_and_what_living_ones_write_stays(tmp_path: Path) -> None:
    gone = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, check=True
    )
    dead = tmp_path / f".a [x].mov.{int(gone.stdout)}-00ff.part"
    alive = tmp_path / f".a [x].mov.{os.getpid()}-00ff.part"
    other = tmp_path / f".b.mov.{int(gone.stdout)}-00ff.part"
    strange = tmp_path / ".a [x].mov.somebody.part"
    for part in (dead, alive, other, strange):
        part.write_text("half")
    with placed(tmp_path / "a [x].mov") as mine:
        mine.write_text("whole")
    assert sorted(os.listdir(tmp_path)) == sorted([alive.name, other.name, strange.name, "a [x].mov"])
    assert sweep(tmp_path) == [other]


def test_digest_is_blake2b(tmp_path: Path) -> None:
    """RFC 7693, 16 bytes, of nothing: the value is from memory."""
    (tmp_path / "a").write_bytes(b"")
    assert digest(tmp_path / "a") == "cae66941d9efbd404e4d88758ea67670"
