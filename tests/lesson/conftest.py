"""A small lesson in a folder of its own, with a silent recording."""

import shutil
import struct
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


FilmHead = Callable[..., None]


@pytest.fixture
def film_head() -> FilmHead:
    """A function that writes the head of a film with one track, of pictures or of another kind
    (ISO/IEC 14496-12: `hdlr` in `mdia` in `trak` in `moov`)."""

    def write(path: Path, handler: bytes = b"vide") -> None:
        inner = b"\0" * 8 + handler + b"\0" * 13
        for name in (b"hdlr", b"mdia", b"trak", b"moov"):
            inner = struct.pack(">I4s", len(inner) + 8, name) + inner
        path.write_bytes(struct.pack(">I4s4s4x", 16, b"ftyp", b"isom") + inner)

    return write


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
