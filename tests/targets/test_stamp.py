"""The short way: nothing is read again where nothing has changed, and anything that has is noticed."""

import os
import shutil
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.targets.stamp import inputs_of, unchanged, write_stamp
from pipeline.targets.wish import Wish


@pytest.fixture
def wish(tmp_path: Path) -> Wish:
    (tmp_path / "lesson").mkdir()
    script = tmp_path / "lesson" / "lesson.yaml"
    script.write_text("title: x\n", "utf-8")
    (tmp_path / "lesson" / "sound.wav").write_bytes(b"sound")
    wish = Wish((script,), tmp_path / "build")
    output = tmp_path / "build" / "lesson" / "a.txt"
    output.parent.mkdir(parents=True)
    output.write_text("made", "utf-8")
    write_stamp(wish, [output], inputs_of(wish))
    return wish


def test_an_equal_build_is_known_to_stand(wish: Wish) -> None:
    assert unchanged(wish) == 1


@pytest.mark.parametrize("name", ["lesson/lesson.yaml", "lesson/sound.wav", "build/lesson/a.txt"])
def test_a_changed_or_lost_file_is_noticed_even_with_the_clock_set_back(wish: Wish, name: str) -> None:
    file = wish.folder.parent / name
    stamp = file.stat()
    os.utime(file, ns=(stamp.st_atime_ns, stamp.st_mtime_ns - 10**12))
    assert unchanged(wish) is None
    file.unlink()
    assert unchanged(wish) is None


def test_a_new_file_beside_the_script_is_noticed(wish: Wish) -> None:
    (wish.scripts[0].parent / "look.yaml").write_text("x", "utf-8")
    assert unchanged(wish) is None


def test_another_wish_has_another_stamp(wish: Wish) -> None:
    assert unchanged(Wish(wish.scripts, wish.folder, draft=True)) is None
    assert unchanged(Wish(wish.scripts, wish.folder, verify=True)) is None


def test_a_file_changed_while_building_is_not_stamped(wish: Wish) -> None:
    before = inputs_of(wish)
    shutil.rmtree(wish.folder)
    wish.scripts[0].write_text("title: changed\n", "utf-8")
    wish.folder.mkdir()
    write_stamp(wish, [], before)
    assert unchanged(wish) is None


def test_a_second_build_says_so_and_loads_nothing_heavy(tmp_path: Path, checkout: Path) -> None:
    script = shutil.copy(checkout / "scenes" / "views" / "words.yaml", tmp_path / "words.yaml")
    command = ["build", str(script), "--only", "credits", "--out", str(tmp_path / "build")]
    assert main(command) == 0
    import subprocess
    import sys

    code = (
        f"import sys\nfrom pipeline.cli import main\nmain({command!r})\n"
        "print([name for name in ('pydantic', 'numpy', 'yaml') if name in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "nothing to make" in said
    assert said.strip().endswith("[]")
