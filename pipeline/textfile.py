"""Plain files read whole: bytes up to a limit, and UTF-8 text without characters that nobody sees."""

import re
from pathlib import Path

from pipeline.errors import Place, faulty

MOST_BYTES = 16 * 1024 * 1024
HIDDEN = re.compile(
    "[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)
"""Characters that nobody sees, or that are no text."""


def read_text(path: Path, name: str | None = None) -> str:
    """A file's UTF-8 text, its line ends made plain. Raises Faulty."""
    file = name or str(path)
    raw = read_bytes(path, name)
    text = _decoded(raw, file)
    refuse_controls(text, file)
    return text


def read_bytes(path: Path, name: str | None = None, most: int = MOST_BYTES) -> bytes:
    """A plain file's bytes, `most` of them; a device or a pipe has no end. Raises Faulty."""
    file = name or str(path)
    try:
        if path.exists() and not path.is_dir() and not path.is_file():
            raise faulty(Place(file), "this is a device or a pipe", "name a file")
        with path.open("rb") as opened:
            raw = opened.read(most + 1)
    except OSError as error:
        raise faulty(Place(file), *_os_wording(error)) from None
    if len(raw) > most:
        raise faulty(Place(file), "the file is too large", f"keep it under {most // 2**20} MB")
    return raw


def _os_wording(error: OSError) -> tuple[str, str]:
    if isinstance(error, FileNotFoundError):
        return "there is no such file", "check the path"
    if isinstance(error, IsADirectoryError):
        return "this is a folder", "name a file in it"
    return f"the file cannot be read ({error.strerror})", "check its permissions"


def _decoded(raw: bytes, file: str) -> str:
    """UTF-8, with or without a byte order mark; Windows line ends become plain ones."""
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8", "replace")
        place = Place(file, before.count("\n") + 1, len(before) - before.rfind("\n"))
        raise faulty(place, "the text is not UTF-8", "save the file as UTF-8") from None


def refuse_controls(text: str, file: str) -> None:
    """Raises Faulty where a control or another invisible character stands in the text of `file`."""
    found = HIDDEN.search(text)
    if found is None:
        return
    at = found.start()
    place = Place(file, text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
    raise faulty(place, f"an invisible character (U+{ord(found.group()):04X}) stands here", "remove it")
