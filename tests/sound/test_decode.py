"""Recordings of every format: a click stays where it is; what will not do is refused in one line."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from pipeline import ffmpeg
from pipeline.errors import Faulty, Place
from pipeline.files.sound import write_wav
from pipeline.sound.decode import RATE, cautions, decode, kept
from pipeline.sound.signal import Signal

PLACE = Place("lesson.yaml", 7, 11)


def click(rate: int = RATE, channels: int = 1, seconds: float = 2.0) -> Signal:
    """A burst of 5 kHz at 1.000 s over a quiet tone."""
    time = np.arange(round(seconds * rate)) / rate
    wave = 0.02 * np.sin(2 * np.pi * 220 * time)
    late = time - 1
    wave += (late >= 0) * 0.7 * np.sin(2 * np.pi * 5000 * late) * np.exp(-late.clip(0) / 0.003)
    return Signal(np.repeat(wave.astype(np.float32)[:, None], channels, axis=1), rate)


@pytest.fixture
def coded(tmp_path: Path) -> Callable[..., Path]:
    """Codes the click with the ffmpeg that the program uses."""

    def make(suffix: str, kind: str, signal: Signal | None = None, **options: object) -> Path:
        source, path = tmp_path / "click.wav", tmp_path / f"click.{suffix}"
        write_wav(source, signal or click())
        with ffmpeg.room() as room:
            ffmpeg.write(room.take(source, "wav"), path, kind, **options)
        return path

    return make


def found(signal: Signal) -> float:
    """The second at which the click is, by its likeness to the true one (sub-sample by a parabola)."""
    wave, true = signal.samples.mean(axis=1), click().samples[RATE - 480 : RATE + 960, 0]
    likeness = np.correlate(wave[RATE - 6000 : RATE + 6000], true, "valid")
    return (int(np.argmax(likeness)) + RATE - 6000 + 480) / RATE


FORMATS = [
    ("flac", "flac", {}),
    ("ogg", "ogg", {"acodec": "libvorbis", "qscale:a": 6}),
    ("opus", "ogg", {"acodec": "libopus", "audio_bitrate": "128k"}),
    ("mp3", "mp3", {"acodec": "libmp3lame", "audio_bitrate": "192k"}),
    ("m4a", "mp4", {"acodec": "aac", "audio_bitrate": "192k"}),
]


@pytest.mark.parametrize(("suffix", "kind", "options"), FORMATS)
def test_a_click_at_one_second_is_found_there(
    suffix: str, kind: str, options: dict[str, object], coded: Callable[..., Path]
) -> None:
    signal = decode(coded(suffix, kind, **options), PLACE)
    assert signal.rate == RATE
    assert abs(found(signal) - 1) < 0.0005
    assert abs(float(signal.duration) - 2) < 0.03


@pytest.mark.parametrize("rate", [8000, 44100, 48000, 96000])
@pytest.mark.parametrize("channels", [1, 2])
def test_any_rate_becomes_ours_without_moving_the_click(rate: int, channels: int, tmp_path: Path) -> None:
    signal = decode(write_wav(tmp_path / "a.wav", click(rate, channels)), PLACE)
    assert (signal.rate, signal.channels) == (RATE, channels)
    assert len(signal.samples) == 2 * RATE
    assert abs(found(signal) - 1) < 0.0005


@pytest.mark.parametrize("form", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
@pytest.mark.parametrize("rate", [44100, 96000])
def test_every_depth_is_read_as_the_same_sound(form: str, rate: int, tmp_path: Path) -> None:
    import soundfile

    path, sound = tmp_path / "deep.wav", click(rate)
    soundfile.write(path, sound.samples, rate, form)
    signal = decode(path, PLACE)
    plain = decode(write_wav(tmp_path / "plain.wav", sound), PLACE)
    assert abs(found(signal) - 1) < 0.0005
    assert np.abs(signal.samples - plain.samples).max() < (0.02 if form == "PCM_U8" else 1e-4)


def test_resampling_keeps_a_tone_and_lets_nothing_fold(tmp_path: Path) -> None:
    time = np.arange(2 * 96000) / 96000
    for hertz, left in ((1000, 1.0), (18000, 1.0), (30000, 0.0)):
        wave = np.sin(2 * np.pi * hertz * time)[:, None].astype(np.float32) * 0.5
        signal = decode(write_wav(tmp_path / "b.wav", Signal(wave + np.float32(0.001), 96000)), PLACE)
        level = np.std(signal.samples[4800:-4800]) / (0.5 / np.sqrt(2))
        assert level == pytest.approx(left, abs=0.001)


def test_pieces_join_without_a_seam(tmp_path: Path) -> None:
    time = np.arange(21 * 44100) / 44100
    wave = (0.5 * np.sin(2 * np.pi * 997 * time)).astype(np.float32)[:, None]
    signal = decode(write_wav(tmp_path / "c.wav", Signal(wave, 44100)), PLACE)
    ours = 0.5 * np.sin(2 * np.pi * 997 * np.arange(21 * RATE) / RATE)
    assert np.abs(signal.samples[4800:-4800, 0] - ours[4800:-4800]).max() < 1e-4


def test_kept_samples_are_mapped_and_equal(tmp_path: Path) -> None:
    path, keep = write_wav(tmp_path / "d.wav", click(44100, 2)), tmp_path / "kept.npy"
    mapped = decode(path, PLACE, keep)
    assert isinstance(mapped.samples, np.memmap)
    assert np.array_equal(mapped.samples, decode(path, PLACE).samples)
    assert np.array_equal(kept(keep).samples, mapped.samples)


def test_nothing_is_kept_of_what_is_refused(tmp_path: Path) -> None:
    silent = write_wav(tmp_path / "s.wav", Signal(np.zeros((RATE, 1), np.float32), RATE))
    with pytest.raises(Faulty):
        decode(silent, PLACE, tmp_path / "kept.npy")
    assert not (tmp_path / "kept.npy").exists()


def test_many_channels_become_one(tmp_path: Path) -> None:
    assert decode(write_wav(tmp_path / "e.wav", click(RATE, 6)), PLACE).channels == 1


def one_line(path: Path) -> str:
    with pytest.raises(Faulty) as caught:
        decode(path, PLACE)
    assert len(caught.value.faults) == 1
    line = str(caught.value)
    assert line.startswith("lesson.yaml:7:11: ")
    assert "\n" not in line
    return line


@pytest.mark.parametrize("suffix", ["wav", "flac", "ogg", "opus", "mp3", "m4a"])
def test_half_a_file_is_named_as_cut_off(suffix: str, coded: Callable[..., Path]) -> None:
    kinds = {"mp3": "mp3", "m4a": "mp4", "opus": "ogg"}
    whole = coded(suffix if suffix != "wav" else "w.wav", kinds.get(suffix, suffix))
    half = whole.with_name(f"half.{suffix}")
    half.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    assert half.name in one_line(half)


def test_what_is_no_recording_is_refused_in_one_line(tmp_path: Path) -> None:
    assert "missing.wav" in one_line(tmp_path / "missing.wav")
    text = tmp_path / "notes.mp3"
    text.write_text("no sound at all\n" * 50)
    assert "notes.mp3" in one_line(text)
    empty = tmp_path / "empty.wav"
    empty.write_bytes(b"")
    assert "empty.wav" in one_line(empty)
    silent = write_wav(tmp_path / "silent.wav", Signal(np.zeros((RATE, 1), np.float32), RATE))
    assert "silent" in one_line(silent)
    assert "expected" in one_line(silent)
    assert "directory" in one_line(tmp_path)


def test_numbers_that_are_no_sound_are_refused(tmp_path: Path) -> None:
    import soundfile

    for value in (np.nan, np.inf, 1e6):
        path = tmp_path / "float.wav"
        wave = click().samples.copy()
        wave[1000] = value
        soundfile.write(path, wave, RATE, "FLOAT")
        assert "no sound" in one_line(path)


def test_late_and_clipped_recordings_are_told_of(coded: Callable[..., Path], tmp_path: Path) -> None:
    bare = coded("aac", "adts", acodec="aac")
    assert "23 ms" in cautions(bare, decode(bare, PLACE))[0]
    untold = coded("mp3", "mp3", acodec="libmp3lame", write_xing=0)
    assert "25 ms" in cautions(untold, decode(untold, PLACE))[0]
    told = coded("mp3", "mp3", acodec="libmp3lame")
    assert cautions(told, decode(told, PLACE)) == []
    loud = Signal(np.clip(click().samples * 3, -1, 1), RATE)
    path = write_wav(tmp_path / "loud.wav", loud)
    assert "clipped" in cautions(path, decode(path, PLACE))[0]
