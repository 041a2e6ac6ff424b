"""Clipping is counted in runs, whatever the blocks and the rate of the recording."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from pipeline.errors import Place
from pipeline.sound.clipping import RUN, Clipping, ClippingMeter
from pipeline.sound.decode import cautions, decode

PLACE = Place("lesson.yaml", 7, 11)


def wave_of(runs: dict[int, int], length: int = 1000) -> np.ndarray:
    """Silence with runs at full scale (first sample: how many), of alternating sign."""
    wave = np.zeros((length, 1))
    for number, (first, count) in enumerate(runs.items()):
        wave[first : first + count] = (-1) ** number
    return wave


def heard(wave: np.ndarray, size: int) -> Clipping | None:
    meter = ClippingMeter()
    for start in range(0, len(wave), size):
        meter.hear(wave[start : start + size])
    return meter.found


@pytest.mark.parametrize("size", [1, 3, 7, 100, 1000])
def test_runs_are_counted_whole_however_the_sound_is_cut(size: int) -> None:
    runs = {0: 5, 98: RUN, 200: RUN - 1, 297: 105, 996: 4}
    found = heard(wave_of(runs), size)
    assert found == Clipping(4, (5 + RUN + 105 + 4) / 1000)


def test_channels_are_counted_apart() -> None:
    left, right = wave_of({10: 2, 50: 6}), wave_of({12: 2, 53: 9})
    assert heard(np.hstack([left, right]), 52) == Clipping(2, 15 / 2000)


def test_peaks_that_only_touch_full_scale_are_no_clipping() -> None:
    wave = np.sin(2 * np.pi * 440 * np.arange(44100) / 44100)[:, None]
    assert heard(wave, 4000) is None


def test_what_is_told_names_places_and_share() -> None:
    assert str(Clipping(1, 0.5)) == "clipped in 1 place (50.00% of its samples)"
    assert str(Clipping(12, 1e-6)) == "clipped in 12 places (under 0.01% of its samples)"


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
@pytest.mark.parametrize("form", ["PCM_16", "PCM_24", "FLOAT"])
def test_a_clipped_recording_is_told_of_at_every_rate_and_depth(rate: int, form: str, tmp_path: Path) -> None:
    """Twelve peaks of a tone, cut off; resampled, they would be flat no more."""
    tone = np.sin(2 * np.pi * 30 * np.arange(round(0.2 * rate)) / rate)
    path = tmp_path / "take.wav"
    soundfile.write(path, np.clip(1.4 * tone, -1, 1), rate, form)
    signal = decode(path, PLACE)
    assert signal.clipping is not None
    assert signal.clipping.runs == 12
    assert signal.clipping.share == pytest.approx(np.mean(np.abs(1.4 * tone) >= 1), abs=0.01)
    [told] = cautions(path, signal)
    assert told.startswith("take.wav: the recording is clipped in 12 places (")


def test_a_kept_recording_knows_its_clipping_too(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    soundfile.write(path, np.clip(wave_of({100: 9}, 48000), -1, 1), 48000, "PCM_24")
    assert decode(path, PLACE, tmp_path / "kept.npy").clipping == Clipping(1, 9 / 48000)
