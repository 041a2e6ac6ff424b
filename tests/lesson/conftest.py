"""A small lesson in a folder of its own, with a silent recording."""

import shutil
import wave
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.errors import Faulty
from pipeline.lesson.check import read_checked

DATA = Path(__file__).parent / "data"


def write_silence(path: Path, seconds: float, rate: int = 8000) -> None:
    """A mono wave file of silence."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(b"\0\0" * round(seconds * rate))


@pytest.fixture
def short(tmp_path: Path) -> Path:
    """The short lesson's script, in a folder with its recording."""
    write_silence(tmp_path / "climb.wav", 6)
    return Path(shutil.copy(DATA / "short.yaml", tmp_path / "lesson.yaml"))


Changed = Callable[..., list[str]]


@pytest.fixture
def changed(short: Path) -> Changed:
    """The faults of the short lesson after some of its text was replaced, without the folder's name."""

    def faults(*replacements: tuple[str, str]) -> list[str]:
        text = short.read_text("utf-8")
        for old, new in replacements:
            assert text.count(old) >= 1, old
            text = text.replace(old, new, 1)
        short.write_text(text, "utf-8")
        try:
            read_checked(short)
        except Faulty as error:
            return [str(fault).replace(f"{short.parent}/", "") for fault in error.faults]
        return []

    return faults
