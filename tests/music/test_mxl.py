"""Compressed MusicXML (W3C MusicXML 4.0, "Compressed .MXL files"): the score is found, a bad archive told."""

import io
import zipfile
from pathlib import Path

import pytest

from pipeline.errors import Faulty, Place
from pipeline.music.guitar import Guitar
from pipeline.music.musicxml_in import read_musicxml
from pipeline.music.musicxml_out import write_musicxml
from pipeline.music.mxl import CONTAINER
from pipeline.music.tabtext import read_tab
from pipeline.music.xmlread import LARGEST_BYTES

NAMES = (
    "<container><rootfiles><rootfile full-path='{}'/><rootfile full-path='p.pdf'/></rootfiles></container>"
)


def archive(files: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in files.items():
            made.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)  # at a fixed time
    return stream.getvalue()


def packed(name: str, data: bytes) -> bytes:
    return archive({"mimetype": b"x", CONTAINER: NAMES.format("score/a.xml").encode(), name: data})


@pytest.fixture(scope="module")
def score() -> bytes:
    fragment = read_tab("run", "E4 |-5-7-8-|", Guitar(), lambda row, column: Place("a", row, column))
    return write_musicxml(fragment).encode()


def test_the_first_root_file_is_the_score(score: bytes) -> None:
    assert read_musicxml(packed("score/a.xml", score), "a.mxl") == read_musicxml(score, "a.mxl")


def test_what_music21_compresses_is_read(score: bytes, tmp_path: Path) -> None:
    """The reference library writes its own archive of the same notes."""
    music21 = pytest.importorskip("music21")
    written = music21.converter.parseData(score.decode(), format="musicxml").write("mxl", tmp_path / "a.mxl")
    again = read_musicxml(Path(written).read_bytes(), "a.mxl").fragment
    assert [(n.onset, n.pitch) for n in again.notes] == [
        (n.onset, n.pitch) for n in read_musicxml(score, "a.xml").fragment.notes
    ]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (archive({"a.xml": b"<a/>"}), "the archive has no META-INF/container.xml"),
        (archive({CONTAINER: b"<container/>"}), "the archive names no score"),
        (packed("other.xml", b"<a/>"), "the archive has no score/a.xml"),
        (packed("score/a.xml", b"\0" * (LARGEST_BYTES + 1)), "score/a.xml is too large"),
        (packed("score/a.xml", b"<a/>")[:60], "the archive is damaged or encrypted"),
        (b"PK\x03\x04" + bytes(80), "the archive is damaged or encrypted"),
    ],
    ids=["no container", "no root", "no member", "too large", "cut short", "empty"],
)
def test_bad_archives_are_told_in_one_line(data: bytes, told: str) -> None:
    with pytest.raises(Faulty, match=told):
        read_musicxml(data, "a.mxl")


def test_a_damaged_member_is_told(score: bytes) -> None:
    data = bytearray(packed("score/a.xml", score))
    at = data.index(b"score/a.xml") + len("score/a.xml") + 40
    data[at : at + 20] = bytes(20)
    with pytest.raises(Faulty, match="damaged"):
        read_musicxml(bytes(data), "a.mxl")


def test_an_encrypted_archive_is_told(score: bytes) -> None:
    data = bytearray(packed("score/a.xml", score))
    for sign, flags in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = -1
        while (at := data.find(sign, at + 1)) >= 0:
            data[at + flags] |= 1
    with pytest.raises(Faulty, match="encrypted"):
        read_musicxml(bytes(data), "a.mxl")
