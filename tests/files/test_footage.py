"""Footage under a scene: the right picture at every moment, upright, filling the frame, in its colours."""

from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from pipeline import ffmpeg
from pipeline.errors import Faulty
from pipeline.files.boxes import IntBox
from pipeline.files.footage import footage, under
from pipeline.files.frames import Frame
from pipeline.files.video import DRAWN, write_film
from pipeline.timing import Rate, TimeMap

Bars = Callable[..., Iterator[Frame]]


def greys(count: int, size: tuple[int, int] = (64, 36)) -> Iterator[Frame]:
    canvas = np.full((size[1], size[0], 4), 255, dtype=np.uint8)
    for number in range(count):
        canvas[:, :, :3] = number * 8
        yield Frame(number, canvas, (IntBox(0, 0, *size),))


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """25 frames a second; picture n is grey of 8 n."""
    path = tmp_path_factory.mktemp("footage") / "it's a take: 1.mp4"
    write_film(path, greys(25), (64, 36), Rate(Fraction(25)), coding=DRAWN._replace(quality=1))
    return path


def shown(path: Path, moments: list[Fraction], size: tuple[int, int] = (64, 36)) -> list[int]:
    return [round(float(p[:, :, :3].mean()) / 8) for p in footage(path, moments, size)]


def test_each_moment_shows_its_picture(film: Path) -> None:
    assert shown(film, [Fraction(n, 25) for n in range(25)]) == list(range(25))
    just_before = [Fraction(n, 25) - Fraction(1, 10**6) for n in range(1, 10)]
    assert shown(film, just_before) == list(range(9))


def test_slowed_footage_holds_and_skips_nothing(film: Path) -> None:
    quarter = TimeMap.linear("scene", "clip", Fraction(0), Fraction(0), Fraction(1, 4))
    moments = [quarter(Fraction(n, 25)) for n in range(100)]
    assert shown(film, moments) == [n // 4 for n in range(100)]


def test_before_the_start_and_after_the_end_it_stands(film: Path) -> None:
    assert shown(film, [Fraction(-1), Fraction(0), Fraction(30), Fraction(31)]) == [0, 0, 24, 24]


def test_the_same_picture_is_the_same_array(film: Path) -> None:
    first, second, third = footage(film, [Fraction(0), Fraction(1, 100), Fraction(1, 25)], (64, 36))
    assert first is second
    assert third is not first


@pytest.mark.parametrize("size", [(36, 64), (100, 20), (17, 31)])
def test_it_fills_the_frame(size: tuple[int, int], film: Path) -> None:
    (picture,) = footage(film, [Fraction(1, 2)], size)
    assert picture.shape == (size[1], size[0], 4)
    assert (picture[:, :, 3] == 255).all()
    assert np.ptp(picture[:, :, 0]) <= 2, "no bars at the edges"


@pytest.mark.parametrize(("matrix", "height"), [(1, 36), (5, 36), (2, 36), (2, 720)])
def test_red_is_red_whatever_matrix_the_film_states(matrix: int, height: int, tmp_path: Path) -> None:
    """BT.709 red is 63 102 240, BT.601 red 81 90 240 (ITU-R BT.709-6, BT.601-7)."""
    codes = (63, 102, 240) if matrix == 1 or height >= 720 else (81, 90, 240)
    path = tmp_path / "red.mp4"
    with av.open(str(path), "w") as film:
        track = film.add_stream("libx264", rate=25, options={"crf": "1"})
        track.width, track.height, track.pix_fmt = 64, height, "yuv420p"
        track.codec_context.colorspace = matrix
        frame = av.VideoFrame(64, height, "yuv420p")
        for plane, code in zip(frame.planes, codes, strict=True):
            plane.update(bytes([code]) * plane.buffer_size)
        film.mux(track.encode(frame))
        film.mux(track.encode(None))
    (picture,) = footage(path, [Fraction(0)], (64, height))
    assert np.abs(np.median(picture[:, :, :3], axis=(0, 1)) - (255, 0, 0)).max() <= 3


@pytest.mark.parametrize("degrees", [0, 90, 180, 270])
def test_telephones_that_were_turned_are_shown_upright(degrees: int, tmp_path: Path) -> None:
    """Against ffmpeg's own turning: the corner that is white must be the same."""
    path = tmp_path / "turned.mp4"
    with av.open(str(path), "w") as film:
        track = film.add_stream("libx264", rate=25, options={"crf": "1"})
        track.width, track.height, track.pix_fmt = 64, 32, "yuv420p"
        track.set_display_rotation(degrees)
        pixels = np.zeros((32, 64, 3), dtype=np.uint8)
        pixels[:16, :32] = 255
        film.mux(track.encode(av.VideoFrame.from_ndarray(pixels)))
        film.mux(track.encode(None))
    size = (64, 32) if degrees % 180 == 0 else (32, 64)
    with ffmpeg.room() as room:
        stream = room.take(path, "mov")["v:0"]
        raw = next(ffmpeg.read_pieces(stream, "rawvideo", 64 * 32, pix_fmt="gray"))
    theirs = np.frombuffer(raw, dtype=np.uint8).reshape(size[1], size[0])
    (ours,) = footage(path, [Fraction(0)], size)
    assert np.abs(ours[:, :, 0].astype(int) - theirs).max() < 40
    assert (theirs > 128).mean() == pytest.approx(0.25, abs=0.02)


def test_overlays_lie_over_it_and_cost_what_changed(film: Path, moving_bar: Bars) -> None:
    moments = [Fraction(n, 50) for n in range(6)]
    ground, whole = np.zeros((36, 64, 4), np.uint8), IntBox(0, 0, 64, 36)
    laid = under(moving_bar(64, 36, 6, every=4), footage(film, moments, (64, 36)), ground, whole)
    areas = []
    for number, frame in enumerate(laid):
        areas.append(sum(box.area for box in frame.changed))
        grey = number // 2 * 8
        assert (frame.canvas[:, :, 3] == 255).all()
        assert frame.canvas[35, 60, :3] == pytest.approx([grey] * 3, abs=2)
        assert frame.canvas[20, 2 + number // 4 * 8, 0] == pytest.approx(128 + grey * 127 / 255, abs=2)
    assert areas == [64 * 36, 0, 64 * 36, 0, 64 * 36, 0]


def test_film_runs_in_its_room_and_the_ground_shows_where_it_is_over(film: Path, moving_bar: Bars) -> None:
    room = IntBox(40, 8, 60, 24)
    pictures = [*footage(film, [Fraction(n, 25) for n in range(4)], (room.width, room.height)), None]
    areas = []
    for number, frame in enumerate(under(moving_bar(64, 36, 5, every=9), pictures, _green(), room)):
        areas.append(sum(box.area for box in frame.changed))
        assert frame.canvas[2, 60].tolist() == [0, 200, 0, 200], "the ground lies beside it"
        seen = [number * 8] * 3 + [255] if number < 4 else [0, 200, 0, 200]
        assert frame.canvas[20, 50] == pytest.approx(seen, abs=2)
        assert frame.canvas[20, 2, 0] == 128, "the overlay lies over both"
    assert areas == [64 * 36, *[room.area] * 4]


def _green() -> np.ndarray:
    ground = np.zeros((36, 64, 4), np.uint8)
    ground[:] = (0, 200, 0, 200)
    return ground


def test_a_picture_that_would_fill_the_frame_only_as_a_giant_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "sliver.mp4"
    write_film(path, greys(2, (1600, 16)), (1600, 16), Rate(Fraction(25)))
    with pytest.raises(Faulty, match="has pictures of 1600x16; cut it"):
        shown(path, [Fraction(0)])


def test_a_half_copied_film_is_named(film: Path, tmp_path: Path) -> None:
    """Its index stands first, so it opens; left alone the last picture would just stand still."""
    half = tmp_path / "half.mp4"
    half.write_bytes(film.read_bytes()[:-300])
    with pytest.raises(Faulty, match=r"half\.mp4: is cut off"):
        list(footage(half, [Fraction(0)], (64, 36)))


@pytest.mark.parametrize(
    ("content", "wrong"),
    [
        (None, "cannot be read: No such file"),
        (b"some words", "is no film of a known kind"),
        (b"\0\0\0\x10ftypisom" + bytes(99), "cannot be read as film"),
        (b"#EXTM3U\nhttp://127.0.0.1/x", "is no film of a known kind"),
    ],
)
def test_what_is_no_film_is_one_clear_line(content: bytes | None, wrong: str, tmp_path: Path) -> None:
    path = tmp_path / "take.mp4"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(Faulty, match=wrong):
        list(footage(path, [Fraction(0)], (64, 36)))
