"""Bad moments: builds killed, a full disk, a lost store. Never half a file, and the next build is right."""

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ONLY = ("--only", "overlays", "--only", "sound", "--only", "captions", "--only", "credits")
KILLS = int(os.environ.get("FRETSCENE_KILLS", "4"))
"""How many builds are killed; a hundred take some minutes."""


def start(script: Path, out: Path, *more: str) -> subprocess.Popen[bytes]:
    """A build as a user starts one: beside the script, with a relative folder for what is made."""
    command = [sys.executable, "-m", "pipeline", "build", script.name]
    return subprocess.Popen(
        [*command, "--out", os.path.relpath(out, script.parent), *ONLY, *more],
        cwd=script.parent,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )


def finish(process: subprocess.Popen[bytes]) -> tuple[int, str]:
    _, said = process.communicate(timeout=120)
    return process.returncode, said.decode()


def outputs(out: Path) -> dict[str, bytes]:
    files = (path for path in (out / "lesson").rglob("*") if path.is_file())
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in files}


def children_of(session: int) -> list[int]:
    """Processes still alive that a killed build started: each worker leads a session of its own."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                words = (entry / "cmdline").read_bytes()
                parent = int((entry / "stat").read_text().rsplit(")", 1)[1].split()[1])
            except (OSError, ValueError):
                continue
            if b"pipeline.targets.worker" in words and parent in (session, 1):
                found.append(int(entry.name))
    return found


def test_killed_builds_leave_no_half_file_and_no_process(script: Path, tmp_path: Path) -> None:
    whole = tmp_path / "whole"
    code, said = finish(start(script, whole))
    assert code == 0, said
    right = outputs(whole)
    chance = random.Random(7)
    for _ in range(KILLS):
        out = tmp_path / "killed"
        shutil.rmtree(out, ignore_errors=True)
        process = start(script, out)
        time.sleep(chance.uniform(0.3, 3.0))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        for name, data in outputs(out).items():
            assert data == right[name], f"{name} is not whole"
        deadline = time.monotonic() + 5
        while children_of(process.pid) and time.monotonic() < deadline:
            time.sleep(0.05)
        assert not children_of(process.pid)
        code, said = finish(start(script, out))
        assert code == 0, said
        assert outputs(out) == right


def test_two_builds_of_one_script_give_the_same_bytes(script: Path, tmp_path: Path) -> None:
    for name in ("a", "b"):
        assert finish(start(script, tmp_path / name))[0] == 0
    assert outputs(tmp_path / "a") == outputs(tmp_path / "b")


def test_a_store_lost_midway_is_made_again(script: Path, tmp_path: Path) -> None:
    out = tmp_path / "build"
    assert finish(start(script, out))[0] == 0
    right = outputs(out)
    shutil.rmtree(out / ".store")
    assert finish(start(script, out))[0] == 0
    assert outputs(out) == right


def test_a_broken_output_is_noticed_and_mended(script: Path, tmp_path: Path) -> None:
    out = tmp_path / "build"
    assert finish(start(script, out))[0] == 0
    right = outputs(out)
    movie = out / "lesson/overlays/two.mov"
    stamp = movie.stat()
    data = bytearray(movie.read_bytes())
    data[len(data) // 2] ^= 1
    with open(movie, "r+b") as file:
        file.write(data)
    os.utime(movie, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    assert finish(start(script, out, "--verify"))[0] == 0
    assert outputs(out) == right


def test_a_folder_that_cannot_be_written_is_told_and_keeps_what_it_holds(
    script: Path, tmp_path: Path
) -> None:
    """On a disk that is read only: permissions alone do not stop root."""
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "tmpfs", str(disk)], check=False).returncode:
        pytest.skip("a disk cannot be mounted here")
    try:
        assert finish(start(script, disk / "build"))[0] == 0
        right = outputs(disk / "build")
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        script.write_text(script.read_text("utf-8").replace("Four notes.", "Five notes."), "utf-8")
        for folder in ("build", "another"):
            code, said = finish(start(script, disk / folder))
            assert code == 2
            assert f"disk/{folder}: the build folder cannot be written (Read-only file system)" in said
            assert said.count("\n") == 1
        assert outputs(disk / "build") == right
    finally:
        subprocess.run(["umount", str(disk)], check=False)


def test_a_full_disk_is_told_and_leaves_what_was_there(script: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", str(disk)], check=False)
    if mounted.returncode:
        pytest.skip("a small disk cannot be mounted here")
    try:
        (disk / "lesson").mkdir()
        (disk / "lesson/earlier.txt").write_text("kept", "utf-8")
        code, said = finish(start(script, disk))
        assert code == 2
        assert "Traceback" not in said
        assert f"{disk.name}/lesson" in said
        assert ".store" not in said, "an output is named, not a draft"
        assert (disk / "lesson/earlier.txt").read_text("utf-8") == "kept"
        for path in (disk / "lesson").rglob("*.mov"):
            assert path.stat().st_size > 0
    finally:
        subprocess.run(["umount", str(disk)], check=False)
