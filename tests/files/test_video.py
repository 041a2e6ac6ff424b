"""Films as they are decoded again: exact in frames, length, colour and alpha; whole or not there at all."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from pipeline import ffmpeg
from pipeline.errors import Faulty
from pipeline.files.boxes import IntBox
from pipeline.files.film_facts import film_facts, shortcoming
from pipeline.files.frames import Frame
from pipeline.files.place import sweep
from pipeline.files.video import DRAWN, FILMED, write_film
from pipeline.sound.signal import Signal
from pipeline.timing import Rate
from tests.files.overlays import write_overlay

Bars = Callable[..., Iterator[Frame]]
OPAQUE = (0, 0, 0, 255)
RATES = [Fraction(24000, 1001), Fraction(25), Fraction(30000, 1001), Fraction(60000, 1001), Fraction(15)]
FINE = DRAWN._replace(quality=1)
CODECS = ("prores", "qtrle", "png")
SAMPLE = 1 / 40_000
"""Seconds: less than two samples at 44.1 kHz."""


def tone(seconds: float, rate: int = 48000) -> Signal:
    t = np.arange(round(seconds * rate))[:, None] / rate
    return Signal((0.2 * np.sin(2 * np.pi * t * np.array([[220, 330]]))).astype(np.float32), rate)


def still(pixels: np.ndarray) -> Iterator[Frame]:
    """Two equal frames of straight R, G, B, A pixels."""
    alpha = pixels[:, :, 3:].astype(np.uint16)
    canvas = np.concatenate([(pixels[:, :, :3] * alpha + 127) // 255, alpha], axis=2).astype(np.uint8)
    height, width, _ = canvas.shape
    yield Frame(0, canvas, (IntBox(0, 0, width, height),))
    yield Frame(1, canvas, ())


def decoded(path: Path, layout: str | None = None) -> list[np.ndarray]:
    with av.open(str(path)) as film:
        return [frame.to_ndarray(format=layout) for frame in film.decode(video=0)]


@pytest.mark.parametrize("rate", RATES, ids=str)
@pytest.mark.parametrize("kind", ["mov", "mp4"])
def test_frames_and_both_lengths_are_exact(
    rate: Fraction, kind: str, tmp_path: Path, moving_bar: Bars
) -> None:
    path, count = tmp_path / f"a.{kind}", 31
    if kind == "mov":
        write_overlay(path, moving_bar(64, 36, count), (64, 36), Rate(rate), tone(3))
    else:
        write_film(path, moving_bar(64, 36, count, ground=OPAQUE), (64, 36), Rate(rate), tone(3))
    facts = film_facts(path, kind)
    assert (facts.frames, facts.length, facts.size) == (count, count / rate, (64, 36))
    assert facts.sound_length is not None
    assert abs(facts.sound_length - count / rate) <= Fraction(1, 2 * 48000)
    samples, _ = ffmpeg.decode_audio(path)
    assert len(samples) == round(count / rate * 48000)
    assert len(decoded(path, "gray")) == count


def test_every_frame_starts_at_its_exact_time(tmp_path: Path, moving_bar: Bars) -> None:
    rate = Fraction(24000, 1001)
    write_film(tmp_path / "a.mp4", moving_bar(64, 36, 50, ground=OPAQUE), (64, 36), Rate(rate))
    with av.open(str(tmp_path / "a.mp4")) as film:
        times = [frame.pts * frame.time_base for frame in film.decode(video=0)]
    assert times == [number / rate for number in range(50)]


@pytest.mark.parametrize(("seconds", "tail"), [(0.5, 0.0), (9.0, 0.2)])
def test_sound_is_filled_or_cut_to_the_picture(
    seconds: float, tail: float, tmp_path: Path, moving_bar: Bars
) -> None:
    path = tmp_path / "a.mov"
    write_overlay(path, moving_bar(64, 36, 25), (64, 36), Rate(Fraction(25)), tone(seconds))
    samples, rate = ffmpeg.decode_audio(path)
    assert len(samples) == rate
    assert np.abs(samples[: rate // 4] - tone(1).samples[: rate // 4]).max() <= 2.0**-23
    assert np.abs(samples[-100:]).max() == pytest.approx(tail, abs=0.01)


def test_sound_keeps_its_place_through_aac(tmp_path: Path, moving_bar: Bars) -> None:
    sound = tone(2)
    sound.samples[:] = 0
    sound.samples[24000] = 0.9
    path = tmp_path / "a.mp4"
    write_film(path, moving_bar(64, 36, 50, ground=OPAQUE), (64, 36), Rate(Fraction(25)), sound)
    samples, _ = ffmpeg.decode_audio(path)
    assert np.abs(samples[:, 0]).argmax() == 24000


COLOURS = {
    "white": ((255, 255, 255), (235, 128, 128)),
    "yellow": ((255, 255, 0), (219, 16, 138)),
    "cyan": ((0, 255, 255), (188, 154, 16)),
    "green": ((0, 255, 0), (173, 42, 26)),
    "magenta": ((255, 0, 255), (78, 214, 230)),
    "red": ((255, 0, 0), (63, 102, 240)),
    "blue": ((0, 0, 255), (32, 240, 118)),
    "black": ((0, 0, 0), (16, 128, 128)),
}
"""ITU-R BT.709-6 items 3.2 and 4.6 in 8 bits, limited range; colour-science 0.4.7 gives the same codes."""


@pytest.mark.parametrize("name", COLOURS)
def test_h264_carries_bt709(name: str, tmp_path: Path) -> None:
    colour, expected = COLOURS[name]
    pixels = np.full((32, 32, 4), (*colour, 255), dtype=np.uint8)
    write_film(tmp_path / "a.mp4", still(pixels), (32, 32), Rate(Fraction(25)), coding=FINE)
    assert film_facts(tmp_path / "a.mp4", "mp4").colours == (1, 1, 1, 1)
    for frame in decoded(tmp_path / "a.mp4"):
        y, cb, cr = frame[:32], frame[32:40], frame[40:48]
        found = [int(np.median(plane)) for plane in (y, cb, cr)]
        assert np.abs(np.subtract(found, expected)).max() <= 1
        assert np.ptp(y) <= 1


@pytest.mark.parametrize("name", COLOURS)
def test_prores_carries_bt709(name: str, tmp_path: Path) -> None:
    colour, expected = COLOURS[name]
    pixels = np.full((32, 32, 4), (*colour, 255), dtype=np.uint8)
    write_overlay(tmp_path / "a.mov", still(pixels), (32, 32), Rate(Fraction(25)))
    assert film_facts(tmp_path / "a.mov", "mov").colours == (1, 1, 1, 1)
    with av.open(str(tmp_path / "a.mov")) as film:
        for frame in film.decode(video=0):
            planes = [np.frombuffer(p, np.uint16).reshape(p.height, -1)[:, :32] for p in frame.planes]
            found = [float(np.median(plane)) / 16 for plane in planes[:3]]
            assert np.abs(np.subtract(found, expected)).max() <= 1


def ramp() -> np.ndarray:
    """Alpha 0 to 255 over grey, red and blue."""
    pixels = np.zeros((48, 256, 4), dtype=np.uint8)
    for row, colour in enumerate(((128, 128, 128), (255, 0, 0), (0, 0, 255))):
        pixels[row * 16 : row * 16 + 16, :, :3] = colour
    pixels[:, :, 3] = np.arange(256)
    return pixels


def test_prores_alpha_comes_back_within_one_step(tmp_path: Path) -> None:
    """Tolerance: measured with FFmpeg 5.1.9 on the same ramp, 16 bits of alpha."""
    write_overlay(tmp_path / "a.mov", still(ramp()), (256, 48), Rate(Fraction(25)))
    with av.open(str(tmp_path / "a.mov")) as film:
        for frame in film.decode(video=0):
            assert frame.format.name == "yuva444p12le"
            alpha = np.frombuffer(frame.planes[3], np.uint16).reshape(48, -1)[:, :256]
            assert np.abs(alpha / 4095 * 255 - ramp()[:, :, 3]).max() <= 1


@pytest.mark.parametrize("codec", ["qtrle", "png"])
def test_lossless_overlays_are_exact(codec: str, tmp_path: Path) -> None:
    wanted = ramp()
    wanted[wanted[:, :, 3] == 0] = 0
    premultiplied = (wanted[:, :, :3] * wanted[:, :, 3:].astype(np.uint16) + 127) // 255
    write_overlay(tmp_path / "a.mov", still(ramp()), (256, 48), Rate(Fraction(25)), codec=codec)  # type: ignore[arg-type]
    for frame in decoded(tmp_path / "a.mov", "rgba"):
        assert (frame[:, :, 3] == wanted[:, :, 3]).all()
        again = (frame[:, :, :3] * frame[:, :, 3:].astype(np.uint16) + 127) // 255
        assert (again == premultiplied).all(), "laid over black the colours are those of the canvas"


@pytest.mark.parametrize("codec", CODECS)
def test_still_frames_cost_a_packet_and_decode_the_same(codec: str, tmp_path: Path, moving_bar: Bars) -> None:
    """Frames that say nothing changed, against the same frames that say everything did."""

    def whole() -> Iterator[Frame]:
        for frame in moving_bar(96, 54, 20, every=8):
            yield Frame(frame.number, frame.canvas, (IntBox(0, 0, 96, 54),))

    fast, plain = tmp_path / "fast.mov", tmp_path / "plain.mov"
    for path, frames in ((fast, moving_bar(96, 54, 20, every=8)), (plain, whole())):
        write_overlay(path, frames, (96, 54), Rate(Fraction(30)), codec=codec)  # type: ignore[arg-type]
    assert fast.read_bytes() == plain.read_bytes()


def test_h264_reads_the_lasting_frame_as_it_was(tmp_path: Path, moving_bar: Bars) -> None:
    """x264 looks ahead: what changes later must not reach back."""
    path = tmp_path / "a.mp4"
    fine = FILMED._replace(quality=1)
    write_film(path, moving_bar(128, 32, 12, ground=OPAQUE), (128, 32), Rate(Fraction(25)), coding=fine)
    for number, frame in enumerate(decoded(path, "gray")):
        bright = np.flatnonzero(frame[10] > 15)
        wanted = number * 8 % 120
        inside = [x for x in bright if not 32 <= x < 64]
        assert set(range(wanted, wanted + 8)) - set(range(32, 64)) <= set(inside)
        assert all(wanted - 2 <= x < wanted + 10 for x in inside)


@pytest.mark.parametrize("kind", ["mov", "mp4"])
def test_the_same_bytes_every_time(kind: str, tmp_path: Path, moving_bar: Bars) -> None:
    write = write_overlay if kind == "mov" else write_film
    made = [
        write(
            tmp_path / f"{n}.{kind}", moving_bar(64, 36, 30, ground=OPAQUE), (64, 36), Rate(RATES[0]), tone(2)
        )
        for n in range(2)
    ]
    assert made[0].digest == made[1].digest
    assert made[0].path.read_bytes() == made[1].path.read_bytes()


def test_the_overlay_says_that_its_alpha_is_straight(tmp_path: Path, moving_bar: Bars) -> None:
    write_overlay(tmp_path / "a.mov", moving_bar(64, 36, 2), (64, 36), Rate(Fraction(25)))
    assert film_facts(tmp_path / "a.mov", "mov").comment == "alpha=straight"


@pytest.mark.parametrize("kind", ["mov", "mp4"])
def test_a_full_disk_is_said_and_leaves_the_earlier_film(
    kind: str, small_disk: Path, moving_bar: Bars
) -> None:
    path, rate = small_disk / f"scene.{kind}", Rate(Fraction(25))
    write = write_overlay if kind == "mov" else write_film
    first = write(path, moving_bar(64, 36, 3, ground=OPAQUE), (64, 36), rate)
    with pytest.raises(
        Faulty, match=rf"scene\.{kind}: could not be written: No space left on device; make room"
    ):
        write(path, noise(640, 360, 60), (640, 360), rate)
    assert path.read_bytes()
    assert [p.name for p in small_disk.iterdir()] == [path.name]
    assert film_facts(path, kind).frames == first.frames


def noise(width: int, height: int, count: int) -> Iterator[Frame]:
    rng = np.random.default_rng(5)
    for number in range(count):
        canvas = rng.integers(0, 256, (height, width, 4), dtype=np.uint8)
        canvas[:, :, 3] = 255
        yield Frame(number, canvas, (IntBox(0, 0, width, height),))


def test_a_defect_while_drawing_leaves_nothing(tmp_path: Path, moving_bar: Bars) -> None:
    def broken() -> Iterator[Frame]:
        yield from moving_bar(64, 36, 5)
        raise ZeroDivisionError("a defect of a view")

    with pytest.raises(ZeroDivisionError):
        write_overlay(tmp_path / "a.mov", broken(), (64, 36), Rate(Fraction(25)))
    assert list(tmp_path.iterdir()) == []


def test_a_short_film_is_noticed(tmp_path: Path, moving_bar: Bars) -> None:
    rate = Rate(Fraction(25))
    write_overlay(tmp_path / "a.mov", moving_bar(64, 36, 5), (64, 36), rate)
    facts = film_facts(tmp_path / "a.mov", "mov")
    assert shortcoming(facts, 5, rate) is None
    assert shortcoming(facts, 6, rate) == "5 frames stand in it, 6 were to be written"


def test_a_film_cut_off_on_the_disk_is_noticed(tmp_path: Path, moving_bar: Bars) -> None:
    """With the index first a player shows such a film as if nothing were missing."""
    path, rate = tmp_path / "a.mp4", Rate(Fraction(25))
    write_film(path, moving_bar(64, 36, 30, ground=OPAQUE), (64, 36), rate)
    os.truncate(path, path.stat().st_size - 200)
    lacking = shortcoming(film_facts(path, "mp4"), 30, rate)
    assert lacking is not None
    assert lacking.endswith("30 were to be written")


KILLED = """
    import sys, time
    from fractions import Fraction
    from pathlib import Path
    import numpy as np
    from pipeline.files.boxes import IntBox
    from pipeline.files.frames import Frame
    from pipeline.files.video import write_film
    from pipeline.timing import Rate
    from tests.files.overlays import write_overlay

    def frames():
        canvas = np.zeros((36, 64, 4), np.uint8)
        for n in range(10_000):
            canvas[:] = n % 256
            if n == 40:
                print("under way", flush=True)
            time.sleep(0.001)
            yield Frame(n, canvas, (IntBox(0, 0, 64, 36),))

    write = write_film if sys.argv[1].endswith("mp4") else write_overlay
    write(Path(sys.argv[1]), frames(), (64, 36), Rate(Fraction(25)))
"""


@pytest.mark.parametrize("name", ["scene.mov", "scene.mp4"])
def test_a_kill_leaves_no_film_under_the_final_name(name: str, tmp_path: Path) -> None:
    command = [sys.executable, "-c", textwrap.dedent(KILLED), str(tmp_path / name)]
    writer = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert writer.stdout
    with writer, writer.stdout:
        assert writer.stdout.readline() == "under way\n"
        time.sleep(0.02)
        writer.send_signal(signal.SIGKILL)
        assert writer.wait() == -signal.SIGKILL
    assert not (tmp_path / name).exists()
    assert len(sweep(tmp_path)) == 1
    assert os.listdir(tmp_path) == []
