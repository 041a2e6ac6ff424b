"""A scene's sound: exact to the sample, onsets where the picture has them, drift-free over a segment."""

import wave
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile

from pipeline.errors import Faulty
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.soundtrack import heard, parts, segment_sounds, soundtrack

F = Fraction

RATE = 48000
NOTES = [0.5 + 0.25 * k for k in range(8)]
"""Seconds of the file at which the eight notes of the first bar sound, by the script's marks."""


def write_plucks(path: Path) -> None:
    """Eight short tones of rising pitch that start at once and die away."""
    sound = np.zeros(6 * RATE)
    for index, second in enumerate(NOTES):
        time = np.arange(round(0.2 * RATE)) / RATE
        tone = 0.5 * np.cos(2 * np.pi * (300 + 80 * index) * time) * np.exp(-time * 12)
        at = round(second * RATE)
        sound[at : at + len(tone)] += tone
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((sound * 32767).astype("<i2").tobytes())


@pytest.fixture
def sounding(short: Path) -> Path:
    write_plucks(short.parent / "climb.wav")
    return short


def test_a_scene_has_the_samples_of_its_frames(sounding: Path) -> None:
    scene = read_lesson(sounding).scene("four")
    signal = soundtrack(scene)
    assert signal.rate == RATE
    assert signal.samples.shape == (round(scene.frames * F(1001, 30000) * RATE), 2)


def test_every_onset_sounds_when_the_picture_shows_it(sounding: Path) -> None:
    """The first sample over a tenth of full scale after quiet lies within a frame of the note's second."""
    scene = read_lesson(sounding).scene("whole")
    loud = np.abs(soundtrack(scene).samples).max(axis=1) > 0.1
    frame = float(1 / scene.rate.value)
    for one in scene.passes:
        for note in scene.fragment.notes if scene.fragment else ():
            if note.onset not in one.beats or note.onset >= 4:
                continue
            at = float(one.moments(note.onset))
            near = loud[round((at - frame) * RATE) : round((at + frame) * RATE)]
            assert near.any(), (float(one.speed), at)
            first = np.flatnonzero(near)[0] / RATE - frame
            assert abs(first) < 0.003, (float(one.speed), float(note.onset), first)


def test_a_hold_is_silent(sounding: Path) -> None:
    scene = read_lesson(sounding).scene("whole")
    held, after = scene.passes[1], scene.passes[2]
    samples = soundtrack(scene).samples
    quiet = samples[round(float(held.span.end) * RATE) : round((float(after.span.start) - 0.05) * RATE)]
    assert np.abs(quiet).max() < 1e-4


def test_a_segments_sounds_last_its_frames_to_the_sample(sounding: Path) -> None:
    segment = read_lesson(sounding).segment("first")
    assert sum(len(sound.samples) for sound in segment_sounds(segment)) == round(segment.duration * RATE)


def test_a_silent_recording_is_told_at_its_line(short: Path) -> None:
    heard.cache_clear()
    with pytest.raises(Faulty, match=r"lesson\.yaml:13:11: climb\.wav is silent"):
        soundtrack(read_lesson(short).scene("whole"))


def test_a_recording_that_ends_before_the_notes_is_told_even_where_it_states_no_length(short: Path) -> None:
    """Ogg states no length (RFC 3533), so that it is known only when it is decoded."""
    tone = 0.3 * np.cos(2 * np.pi * 300 * np.arange(RATE) / RATE)
    soundfile.write(short.parent / "climb.ogg", tone, RATE)
    short.write_text(short.read_text("utf-8").replace("climb.wav", "climb.ogg"), "utf-8")
    with pytest.raises(Faulty, match=r"yaml:\d+:\d+: climb.ogg ends at [01].\d+ s, before the note at"):
        soundtrack(read_lesson(short).scene("whole"))


def test_loops_are_made_once(short: Path) -> None:
    scene = read_lesson(short).scene("second-bar")
    guides = [part for part in parts(scene) if part.role == "excerpt"]
    assert len(guides) == 2
    assert guides[0].signal is guides[1].signal
    assert guides[1].at - guides[0].at == 4
