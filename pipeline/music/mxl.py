"""Compressed MusicXML: the score out of an archive, never written to disk.

MusicXML 4.0 (W3C), "Compressed .MXL files": a zip archive in which META-INF/container.xml names the root
files, of which the first is the score.
"""

import io
import zipfile
import zlib

from pipeline.errors import Place, faulty
from pipeline.music.xmlread import LARGEST_BYTES, read_xml

SIGN = b"PK\x03\x04"
CONTAINER = "META-INF/container.xml"


def unpacked(data: bytes, file: str) -> bytes:
    """The score's bytes; what is no archive comes back as it is. Raises Faulty for an archive without one."""
    if not data.startswith(SIGN):
        return data
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            container = read_xml(_member(archive, CONTAINER, file), file)
            root = container.one("rootfiles", "rootfile")
            return _member(archive, root.get("full-path") if root else "", file)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError):
        raise faulty(
            Place(file), "the archive is damaged or encrypted", "export it again from where it came"
        ) from None


def _member(archive: zipfile.ZipFile, name: str, file: str) -> bytes:
    """A file of the archive; no more of it is unpacked than may be read, whatever size it claims."""
    if name not in archive.namelist():
        wrong = f"the archive has no {name[:60]}" if name else "the archive names no score"
        raise faulty(Place(file), wrong, "export it again from where it came")
    with archive.open(name) as member:
        found = member.read(LARGEST_BYTES + 1)
    if len(found) > LARGEST_BYTES:
        raise faulty(Place(file), f"{name[:60]} is too large", f"keep to {LARGEST_BYTES} bytes")
    return found
