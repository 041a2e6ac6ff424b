"""Sound files: exact numbers, tags, equal bytes, nothing half-written."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from pipeline.files.sound import write_flac, write_wav
from pipeline.sound.signal import Signal

RATE = 48000


@pytest.fixture
def noise() -> Signal:
    wave = np.random.default_rng(1).uniform(-1, 1, (RATE, 2)).astype(np.float32)
    return Signal(wave, RATE)


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("write", [write_wav, write_flac])
def test_numbers_are_rounded_and_read_back_by_another_program(
    write, bits, noise: Signal, tmp_path: Path
) -> None:  # type: ignore[no-untyped-def]
    path = write(tmp_path / "sound", noise, bits)
    read, rate = soundfile.read(path)
    assert rate == RATE
    assert np.abs(read - np.clip(noise.samples, -1, 1 - 2.0 ** (1 - bits))).max() <= 2.0**-bits + 1e-9
    assert f"PCM_{bits}" == soundfile.info(path).subtype


@pytest.mark.parametrize("write", [write_wav, write_flac])
def test_equal_signals_give_equal_bytes_and_tags_are_kept(write, noise: Signal, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    tags = {"title": "Phrase – 50 %", "comment": "♩ = 60", "tracknumber": "2"}
    one, two = (write(tmp_path / name, noise, tags=tags) for name in ("one", "two"))
    assert one.read_bytes() == two.read_bytes()
    with soundfile.SoundFile(one) as file:
        assert file.title == tags["title"]
        assert file.comment == tags["comment"]


def test_blocks_give_the_same_file_as_the_whole(noise: Signal, tmp_path: Path) -> None:
    def blocks() -> Iterator[Signal]:
        for start in range(0, RATE, 7000):
            yield Signal(noise.samples[start : start + 7000], RATE)

    whole, pieces = write_wav(tmp_path / "a.wav", noise), write_wav(tmp_path / "b.wav", blocks())
    assert whole.read_bytes() == pieces.read_bytes()


def test_too_loud_is_cut_at_full_scale(tmp_path: Path) -> None:
    loud = Signal(np.array([[2.0], [-2.0], [1.0]], np.float32), RATE)
    read, _ = soundfile.read(write_wav(tmp_path / "loud.wav", loud))
    assert read[1] == -1
    assert read[0] == read[2] == pytest.approx(1, abs=1e-6)


def test_an_unknown_tag_or_a_failure_leaves_the_old_file(noise: Signal, tmp_path: Path) -> None:
    path = write_wav(tmp_path / "kept.wav", noise)
    before = path.read_bytes()
    with pytest.raises(ValueError, match="tag"):
        write_wav(path, noise, tags={"mood": "blue"})

    def broken() -> Iterator[Signal]:
        yield noise
        raise RuntimeError("stopped")

    with pytest.raises(RuntimeError):
        write_wav(path, broken())
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["kept.wav"]
