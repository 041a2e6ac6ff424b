"""A film shown out of order: at every moment the very picture that playing it from its start would show."""

import random
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from pipeline.files.showing import LEAP, Showing

RATE, COUNT = 10, 400
FORMS = {
    "closed groups": ("mp4", "libx264", {"x264-params": "keyint=50:open-gop=0:bframes=3"}),
    "open groups": ("mp4", "libx264", {"x264-params": "keyint=40:open-gop=1:bframes=3"}),
    "one key frame": ("mp4", "libx264", {"x264-params": "keyint=9999:scenecut=0"}),
    "no index": ("matroska", "libx264", {"x264-params": "keyint=50:bframes=2"}),
    "only key frames": ("mov", "prores_ks", {}),
}


@pytest.fixture(scope="module", params=FORMS)
def film(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Forty seconds at ten pictures a second, each of its own grey and place of a bar; 0.4 s are skipped."""
    kind, codec, options = FORMS[request.param]
    path = tmp_path_factory.mktemp("film") / "a.film"
    with av.open(str(path), "w", format=kind) as out:
        track = out.add_stream(codec, rate=RATE, options=options)
        track.width, track.height = 64, 48
        track.pix_fmt = "yuva444p10le" if codec == "prores_ks" else "yuv420p"
        for number in range(COUNT):
            picture = av.VideoFrame.from_ndarray(painted(number), format="rgb24")
            picture.pts = number if number < 200 else number + 4
            picture.time_base = Fraction(1, RATE)
            out.mux(track.encode(picture))
        out.mux(track.encode(None))
    return path


def painted(number: int) -> np.ndarray:
    """Grey of the number's lower part, and a bar for each of its bits."""
    pixels = np.full((48, 64, 3), 40 + number % 100, np.uint8)
    for bit in range(9):
        pixels[8:24, bit * 7 : bit * 7 + 6] = 235 if number >> bit & 1 else 16
    return pixels


def number_in(picture: object) -> int:
    grey = picture.to_ndarray(format="gray")  # type: ignore[attr-defined]
    return sum(1 << bit for bit in range(9) if grey[16, bit * 7 + 3] > 128)


def expected(moment: Fraction) -> int:
    """The last picture whose time has come; the first before any has, the last after all."""
    step = int(moment * RATE // 1)
    number = step if step < 200 else max(199, step - 4)
    return min(max(number, 0), COUNT - 1)


def test_pictures_come_in_any_order_as_if_it_were_played(film: Path) -> None:
    chance = random.Random(5)
    steps = [Fraction(chance.randrange(-50, 4500), 100) for _ in range(60)]
    runs = [Fraction(start, 10) + Fraction(n, 30) for start in (5, 150, 190, 20, 380) for n in range(12)]
    with Showing(film) as shown:
        for moment in [*steps, *runs, Fraction(60), Fraction(0), Fraction(399, 10)]:
            shown.turn_to(moment)
            assert number_in(shown.picture) == expected(moment), f"at {float(moment)}"


def test_the_same_picture_is_told_as_the_same(film: Path) -> None:
    with Showing(film) as shown:
        assert not shown.turn_to(Fraction(0))
        assert shown.turn_to(Fraction(1, 10))
        assert not shown.turn_to(Fraction(3, 20))


def test_a_leap_reads_no_more_than_a_group(film: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Far into a film only what lies between a key frame and the moment is decoded."""
    read = 0
    inner = Showing._decoded

    def counted(self: Showing) -> object:
        nonlocal read
        for one in inner(self):
            read += 1
            yield one

    monkeypatch.setattr(Showing, "_decoded", counted)
    with Showing(film) as shown:
        shown.turn_to(Fraction(LEAP * 3))
    with av.open(str(film)) as opened:
        keys = sum(packet.is_keyframe for packet in opened.demux(video=0) if packet.size)
    assert read < (COUNT if keys == 1 else 120)
