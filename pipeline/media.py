"""What a sound or film file says of itself in its first bytes: its kind, and how long it claims to be.

Read without any decoder, so that ffmpeg can be told the demuxer (`-f`) instead of guessing one, and so that
a half-copied file is noticed: ffmpeg ends with status 0 on those.
Sources: RIFF/WAVE (IBM and Microsoft, 1991) and EBU Tech 3306 (RF64); RFC 9639 (FLAC) section 8.2; RFC 3533
(Ogg) section 6; ISO/IEC 11172-3 2.4.1.3 (MPEG audio header); ISO/IEC 14496-12 8.4.2 (media header). The
frame count that encoders put into the first frame of an MP3 is common practice, no source.
"""

import struct
from collections.abc import Container, Iterator
from fractions import Fraction
from pathlib import Path
from typing import BinaryIO

from pipeline.errors import Place, faulty

SIGNS = (
    (0, b"RIFF", "wav"),
    (0, b"RF64", "wav"),
    (0, b"fLaC", "flac"),
    (0, b"OggS", "ogg"),
    (4, b"ftyp", "mov"),
    (4, b"moov", "mov"),
    (4, b"wide", "mov"),
    (4, b"mdat", "mov"),
    (0, b"\x1a\x45\xdf\xa3", "matroska"),
    (0, b"FORM", "aiff"),
    (0, b"ID3", "mp3"),
)
"""Offset, bytes, and the demuxer's name in FFmpeg."""

SOUNDS = frozenset(kind for _, _, kind in SIGNS) | {"aac"}
"""Kinds that may hold sound."""
FILMS = ("mov", "matroska")
"""Kinds that may hold pictures."""

MPEG_RATES = {3: (44100, 48000, 32000), 2: (22050, 24000, 16000), 0: (11025, 12000, 8000)}


def kind_of(path: Path) -> str | None:
    """The demuxer for a file, by its first bytes; None where it is no sound or film we know."""
    with path.open("rb") as file:
        head = file.read(16)
    for offset, sign, kind in SIGNS:
        if head[offset : offset + len(sign)] == sign:
            return kind
    if len(head) > 1 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0:
        return "mp3" if head[1] & 0x06 else "aac"
    return None


def known_kind(path: Path, kinds: Container[str], called: str, thing: str, remedy: str) -> str:
    """The kind of a file that is to be one of some kinds, `called` a recording or a film. Raises Faulty."""
    try:
        kind = kind_of(path)
    except OSError as failure:
        reason = failure.strerror or "cannot be opened"
        raise faulty(Place(str(path)), f"cannot be read: {reason}", f"give the path of a {called}") from None
    if kind is None or kind not in kinds:
        raise faulty(Place(str(path)), f"is no {thing} of a known kind", remedy)
    return kind


def stated_length(path: Path, kind: str) -> Fraction | None:
    """The seconds of sound that a file claims to hold; None where it does not say.

    Raises EOFError where the file ends inside what it announces (a half-copied Ogg has no last page).
    """
    readers = {"wav": _wav, "flac": _flac, "ogg": _ogg, "mp3": _mp3, "mov": _mov}
    if kind not in readers:
        return None
    try:
        with path.open("rb") as file:
            return readers[kind](file)
    except (struct.error, ZeroDivisionError, IndexError, KeyError):
        return None


def holds_pictures(path: Path, kind: str) -> bool:
    """Whether a file of a kind can be shown as a film. Matroska is taken at its word."""
    if kind != "mov":
        return kind in FILMS
    with path.open("rb") as file:
        return any(_handler(file, media) == b"vide" for media in _media(file))


def _wav(file: BinaryIO) -> Fraction | None:
    size64, bytes_a_second = 0, 0
    file.seek(12)
    while len(head := file.read(8)) == 8:
        name, size = head[:4], struct.unpack("<I", head[4:])[0]
        if name == b"data":
            return Fraction(size64 if size == 0xFFFFFFFF else size, bytes_a_second)
        start = file.tell()
        if name == b"ds64":
            size64 = struct.unpack("<QQ", file.read(16))[1]
        if name == b"fmt ":
            bytes_a_second = struct.unpack("<HHII", file.read(12))[3]
        file.seek(start + size + size % 2)
    return None


def _flac(file: BinaryIO) -> Fraction | None:
    file.seek(18)
    packed = int.from_bytes(file.read(8), "big")
    rate, samples = packed >> 44, packed & ((1 << 36) - 1)
    return Fraction(samples, rate) if samples else None


def _ogg(file: BinaryIO) -> Fraction | None:
    """Ogg states no length, but its last page is marked as such."""
    file.seek(0, 2)
    file.seek(max(0, file.tell() - 70_000))
    tail = file.read()
    last = tail.rfind(b"OggS")
    if last < 0 or not tail[last + 5] & 4:
        raise EOFError("its last page is missing")
    return None


def _mp3(file: BinaryIO) -> Fraction | None:
    start = _after_tag(file.read(10))
    file.seek(start)
    frame = file.read(512)
    if len(frame) < 200 or frame[0] != 0xFF or frame[1] & 0xE0 != 0xE0:
        return None
    version, mono = frame[1] >> 3 & 3, frame[3] >> 6 == 3
    rate = MPEG_RATES[version][frame[2] >> 2 & 3]
    at = 4 + ((17 if mono else 32) if version == 3 else (9 if mono else 17))
    mark, flags, frames = struct.unpack(">4sII", frame[at : at + 12])
    if mark not in (b"Xing", b"Info") or not flags & 1:
        return None
    per_frame = 1152 if version == 3 else 576
    return Fraction(frames * per_frame - _padding(frame, at), rate)


def _padding(frame: bytes, at: int) -> int:
    """Samples of encoder delay and padding (two 12-bit numbers 141 bytes after the mark)."""
    packed = int.from_bytes(frame[at + 141 : at + 144], "big")
    return (packed >> 12) + (packed & 0xFFF)


def _after_tag(head: bytes) -> int:
    """Where the sound starts after an ID3v2 tag, whose size is four 7-bit numbers (id3.org, 2.4 §3.1)."""
    if head[:3] != b"ID3":
        return 0
    a, b, c, d = head[6:10]
    return 10 + (a << 21 | b << 14 | c << 7 | d) + (10 if head[5] & 0x10 else 0)


def _mov(file: BinaryIO) -> Fraction | None:
    """The length of the first sound track (`mdhd` of the `mdia` whose handler is `soun`)."""
    lengths = (_sound_media(file, media) for media in _media(file))
    return next((length for length in lengths if length), None)


def _media(file: BinaryIO) -> Iterator[tuple[int, int]]:
    """Where the `mdia` box of every track lies."""
    file.seek(0, 2)
    for start, end in _boxes(file, b"moov", 0, file.tell()):
        for track in _boxes(file, b"trak", start, end):
            yield from _boxes(file, b"mdia", *track)


def _handler(file: BinaryIO, media: tuple[int, int]) -> bytes:
    """What a track holds, such as `soun` or `vide`; nothing where it does not say."""
    for start, _ in _boxes(file, b"hdlr", *media):
        file.seek(start + 8)
        return file.read(4)
    return b""


def _sound_media(file: BinaryIO, media: tuple[int, int]) -> Fraction | None:
    if _handler(file, media) not in (b"soun", b""):
        return None
    for start, _ in _boxes(file, b"mdhd", *media):
        file.seek(start)
        wide = file.read(1) == b"\x01"
        file.seek(start + (20 if wide else 12))
        scale, length = struct.unpack(">IQ" if wide else ">II", file.read(12 if wide else 8))
        return Fraction(length, scale)
    return None


def _boxes(file: BinaryIO, name: bytes, at: int, end: int) -> Iterator[tuple[int, int]]:
    """Start and end of the contents of every box called `name` between two offsets."""
    while at + 8 <= end:
        file.seek(at)
        size, found = struct.unpack(">I4s", file.read(8))
        head = 8
        if size == 1:
            size, head = struct.unpack(">Q", file.read(8))[0], 16
        size = size or end - at
        if size < head:
            return
        if found == name:
            yield at + head, min(at + size, end)
        at += size
