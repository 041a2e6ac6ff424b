"""The runner of ffmpeg: exact sound out of every format, clear faults, and nothing left behind."""

import os
import signal
import socket
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile

from pipeline import ffmpeg
from pipeline.errors import Faulty
from pipeline.media import kind_of, stated_length

RATE = 44100
SECONDS = 2


@pytest.fixture(scope="module")
def sound() -> np.ndarray:
    """Two seconds of a rising tone with a click at exactly one second; float32, stereo."""
    t = np.arange(RATE * SECONDS) / RATE
    left = (0.3 * np.sin(2 * np.pi * (200 * t + 100 * t * t))).astype(np.float32)
    left[RATE] = 0.9
    return np.stack([left, -left], axis=1)


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory, sound: np.ndarray) -> dict[str, Path]:
    """The same sound in every format, under names that need care."""
    folder = tmp_path_factory.mktemp("it's, a 'concat:\n name")
    wav = folder / "take one.wav"
    wavfile.write(wav, RATE, sound)
    made = {"wav": wav}
    coders = {
        "flac": ("flac", {"acodec": "flac"}),
        "ogg": ("ogg", {"acodec": "libvorbis"}),
        "mp3": ("mp3", {"acodec": "libmp3lame", "audio_bitrate": "192k"}),
        "m4a": ("mp4", {"acodec": "aac", "audio_bitrate": "192k", "movflags": "faststart"}),
    }
    for name, (muxer, options) in coders.items():
        made[name] = folder / f"a:b {name}.{name}"
        with ffmpeg.room() as room:
            ffmpeg.write(room.take(wav, "wav")["a:0"], made[name], muxer, **options)
    return made


FORMATS = ("wav", "flac", "ogg", "mp3", "m4a")


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_decodes_in_place(name: str, recordings: dict[str, Path], sound: np.ndarray) -> None:
    samples, rate = ffmpeg.decode_audio(recordings[name])
    assert (samples.dtype, rate, samples.shape[1]) == (np.float32, RATE, 2)
    lag = np.argmax(np.correlate(samples[:, 0], sound[RATE - 2000 : RATE + 2000, 0], "valid")) - (RATE - 2000)
    assert lag == 0, "the encoder's delay shows"
    if name in ("wav", "flac"):
        assert samples.shape == sound.shape
        assert np.abs(samples - sound).max() <= 2.0**-15


@pytest.mark.parametrize("name", ["wav", "flac", "mp3"])
def test_the_stated_length_is_exact(name: str, recordings: dict[str, Path]) -> None:
    kind = kind_of(recordings[name])
    assert kind == name
    assert stated_length(recordings[name], kind) == SECONDS


@pytest.mark.parametrize("name", FORMATS)
def test_a_half_copied_file_is_named(name: str, recordings: dict[str, Path], tmp_path: Path) -> None:
    half = tmp_path / f"half.{name}"
    whole = recordings[name].read_bytes()
    half.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(Faulty, match=r"half\.\w+: is cut off: .*; copy or export it again, whole"):
        ffmpeg.decode_audio(half)


@pytest.mark.parametrize(
    ("content", "wrong"),
    [
        (None, "cannot be read: No such file"),
        (b"", "is no sound file"),
        (b"hello, I am text", "is no sound file"),
        (b"RIFF\0\0\0\0WAVE", "cannot be read as sound"),
        (b"fLaC" + bytes(60), "cannot be read as sound"),
        (b"#EXTM3U\nfile:///etc/passwd\n", "is no sound file"),
    ],
)
def test_what_is_no_sound_is_one_clear_line(content: bytes | None, wrong: str, tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(Faulty, match=wrong) as caught:
        ffmpeg.decode_audio(path)
    assert str(caught.value).count("\n") == 0
    assert "file:" not in str(caught.value)


def test_a_folder_is_no_recording(tmp_path: Path) -> None:
    odd = tmp_path / "http:/"
    odd.mkdir()
    with pytest.raises(Faulty, match="Is a directory"):
        ffmpeg.decode_audio(odd)


def test_no_address_is_ever_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with socket.socket() as server:
        server.bind(("127.0.0.1", 0))
        server.listen()
        server.settimeout(0.2)
        address = Path(f"http://127.0.0.1:{server.getsockname()[1]}/take.wav")
        with pytest.raises(Faulty):
            ffmpeg.decode_audio(address)
        with pytest.raises(TimeoutError):
            server.accept()


def test_the_pip_binary_is_used_whatever_is_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("IMAGEIO_FFMPEG_EXE", "/bin/false")
    monkeypatch.setenv("PATH", "/nowhere")
    ffmpeg.executable.cache_clear()
    assert "imageio_ffmpeg" in ffmpeg.executable().parts
    assert ffmpeg.version().startswith("ffmpeg version ")


def test_a_hung_run_is_killed_and_said() -> None:
    endless = ["-f", "lavfi", "-re", "-i", "anullsrc", "-f", "null", "-"]
    began = time.monotonic()
    with pytest.raises(ffmpeg.Failed, match=r"no end after 0\.3 s"), ffmpeg.running(endless, timeout=0.3):
        pass
    assert time.monotonic() - began < 5


def test_a_failure_carries_the_end_of_the_log(tmp_path: Path) -> None:
    bad = tmp_path / "bad"
    bad.write_bytes(bytes(1000))
    with ffmpeg.room() as room:
        streams = room.take(bad, "flac")["a:0"]
        with pytest.raises(ffmpeg.Failed, match="Nothing was written") as caught:
            ffmpeg.write(streams, tmp_path / "out", "wav")
    assert "0x" not in str(caught.value)


def test_leaving_early_ends_the_child(recordings: dict[str, Path]) -> None:
    with ffmpeg.room() as room:
        pieces = ffmpeg.read_pieces(room.take(recordings["wav"], "wav")["a:0"], "f32le", 64)
        assert len(next(pieces)) == 64
        pieces.close()
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)


@pytest.mark.skipif(sys.platform != "linux", reason="the kernel's promise is Linux's")
def test_a_killed_parent_takes_ffmpeg_along() -> None:
    script = textwrap.dedent("""
        from pipeline import ffmpeg
        endless = ["-f", "lavfi", "-re", "-i", "anullsrc", "-f", "null", "-"]
        with ffmpeg.running(endless) as process:
            print(process.pid, flush=True)
            process.wait()
    """)
    parent = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True)
    assert parent.stdout
    with parent, parent.stdout:
        child = int(parent.stdout.readline())
        parent.send_signal(signal.SIGKILL)
        parent.wait()
    assert _gone(child, within=3.0)


def _gone(pid: int, within: float) -> bool:
    end = time.monotonic() + within
    while time.monotonic() < end:
        try:
            state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
        except (FileNotFoundError, ProcessLookupError):
            return True
        if state == "Z":
            return True
        time.sleep(0.02)
    return False
