"""Phrases played by sampled guitars that this project did not make: fluidsynth and the soundfonts of Debian.

Needs the program `fluidsynth` and a soundfont (packages fluidsynth, timgm6mb-soundfont, fluid-soundfont-gm),
for benchmarks alone. Each note of a bank is rendered once by itself and placed to the sample, so its true
moment is known: where the envelope of the lone note first passes a tenth of its attack's height. Beside it
stands a later one, where it passes half that height: listeners hear a tone begin 6 to 15 dB under its peak
(J. Vos and R. Rasch, "The perceptual onset of musical tones", Perception & Psychophysics 29, 1981; from
memory).
"""

import shutil
import subprocess
import tempfile
import warnings
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import mido
import numpy as np
import numpy.typing as npt
from scipy.io import wavfile

from tests.benchmarks.phrases import Phrase

RATE = 44100
FONTS = tuple(Path("/usr/share/sounds/sf2") / name for name in ("TimGM6mb.sf2", "FluidR3_GM.sf2"))
PROGRAMS = (24, 25, 26, 27, 29, 30)
"""General MIDI guitars from 0: nylon, steel, jazz, clean, overdriven, distorted."""
LOWEST, HIGHEST, SLOT = 40, 88, 2.0
Wave = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Sample:
    """A lone note: mono samples from its note-on, the sample of its start, and that of half its height."""

    wave: Wave
    start: int
    risen: int


def available() -> list[Path]:
    """The soundfonts that are here, none without fluidsynth."""
    return [font for font in FONTS if font.is_file()] if shutil.which("fluidsynth") else []


def render(song: mido.MidiFile, font: Path) -> Wave:
    """A MIDI file as mono samples, without reverb or chorus."""
    with tempfile.TemporaryDirectory() as folder:
        midi, wav = Path(folder) / "song.mid", Path(folder) / "song.wav"
        song.save(midi)
        switches = ["-ni", "-q", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE), "-O", "float"]
        command = ["fluidsynth", *switches, "-T", "wav", "-F", str(wav), str(font), str(midi)]
        subprocess.run(command, check=True, stdin=subprocess.DEVNULL, capture_output=True, timeout=120)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", wavfile.WavFileWarning)  # fluidsynth adds a chunk of its own
            _, samples = wavfile.read(wav)
    return np.asarray(samples, np.float64).mean(axis=1)


def song_of(events: list[tuple[float, mido.Message]]) -> mido.MidiFile:
    """A MIDI file of (second, message) pairs, half a millisecond a tick."""
    song = mido.MidiFile(ticks_per_beat=1000)
    track = mido.MidiTrack()
    song.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=500_000))
    last = 0
    for second, message in sorted(events, key=lambda event: event[0]):
        tick = round(second * 2000)
        track.append(message.copy(time=tick - last))
        last = tick
    return song


def audible(wave: Wave, share: float = 0.1) -> int:
    """The first sample at which the envelope passes a share of the highest of the first 60 ms."""
    envelope = np.abs(wave[: round(0.06 * RATE)])
    return int(np.argmax(envelope > share * envelope.max()))


@cache
def bank(font: Path, program: int) -> dict[int, Sample]:
    """Every note of the guitar's range by itself, held for its slot."""
    events = [(0.0, mido.Message("program_change", program=program))]
    for slot, pitch in enumerate(range(LOWEST, HIGHEST + 1)):
        at = 0.5 + slot * SLOT
        events.append((at, mido.Message("note_on", note=pitch, velocity=100)))
        events.append((at + SLOT - 0.4, mido.Message("note_off", note=pitch)))
    wave, notes = render(song_of(events), font), {}
    for slot, pitch in enumerate(range(LOWEST, HIGHEST + 1)):
        at = round((0.5 + slot * SLOT) * RATE)
        lone = wave[at : at + round((SLOT - 0.4) * RATE)]
        lone = lone / max(1e-9, np.abs(lone).max())
        notes[pitch] = Sample(lone, audible(lone), audible(lone, 0.5))
    return notes


def shaped(wave: Wave, length: float, fade: float, rise: float = 0.0) -> Wave:
    """The first `length` seconds, faded in over `rise` and out over `fade` seconds."""
    out = wave[: round((length + fade) * RATE)].copy()
    tail = min(len(out), round(fade * RATE))
    out[len(out) - tail :] *= np.linspace(1, 0, tail) ** 2
    head = round(rise * RATE)
    out[:head] *= np.linspace(0, 1, head)
    return out


def perform(
    phrase: Phrase, notes: dict[int, Sample], rings: float | list[float], random: np.random.Generator
) -> Wave:
    """The phrase with these samples; a note rings on for `rings` seconds after the next has begun.

    A slurred note enters without its attack: from 80 ms inside its sample, over a fade of 6 ms.
    """
    out = np.zeros(round(phrase.length * RATE) + RATE)
    starts = [*phrase.seconds, phrase.seconds[-1] + 0.6]
    for index, note in enumerate(phrase.fragment.notes):
        sample, level = notes[note.pitch or LOWEST], random.uniform(0.6, 1.0)
        long = starts[index + 1] - starts[index]
        ring = rings if isinstance(rings, float) else rings[index]
        if note.attack == "pick":
            wave, lead = sample.wave, sample.start
            part = shaped(wave, long + lead / RATE + ring, 0.02 if ring < 0.1 else 0.15)
        else:
            lead = round(0.003 * RATE)
            part = shaped(sample.wave[sample.start + round(0.08 * RATE) :], long + ring, 0.02, 0.006)
        at = round(starts[index] * RATE) - lead
        out[at : at + len(part)] += level * part
    return out[: round(phrase.length * RATE)]


def risen(phrase: Phrase, notes: dict[int, Sample]) -> tuple[float, ...]:
    """The seconds at which each note has come to half its height; a slurred one has no attack to wait for."""
    samples = [notes[note.pitch or LOWEST] for note in phrase.fragment.notes]
    waits = [
        (s.risen - s.start) / RATE if n.picked else 0.0
        for s, n in zip(samples, phrase.fragment.notes, strict=True)
    ]
    return tuple(second + wait for second, wait in zip(phrase.seconds, waits, strict=True))


def band(phrase: Phrase, font: Path, random: np.random.Generator) -> Wave:
    """Drums, bass and a keyboard's chords for the length of the phrase, all on the beat."""
    beat = 60.0 / float(phrase.fragment.tempo)
    events = [(0.0, mido.Message("program_change", program=33, channel=1))]
    events.append((0.0, mido.Message("program_change", program=4, channel=2)))
    root = 28 + int(random.integers(12))
    time, number = phrase.seconds[0] % beat, 0
    while time < phrase.length:
        hits = [42, 36 if number % 2 == 0 else 38]
        events += [(time, mido.Message("note_on", channel=9, note=n, velocity=90)) for n in hits]
        events.append((time + beat / 2, mido.Message("note_on", channel=9, note=42, velocity=70)))
        events.append((time, mido.Message("note_on", channel=1, note=root, velocity=90)))
        events.append((time + beat * 0.9, mido.Message("note_off", channel=1, note=root)))
        if number % 4 == 0:
            for note in (root + 24, root + 31, root + 36):
                events.append((time, mido.Message("note_on", channel=2, note=note, velocity=70)))
                events.append((time + beat * 3.8, mido.Message("note_off", channel=2, note=note)))
        time, number = time + beat, number + 1
    wave = render(song_of(events), font)
    return np.pad(wave, (0, max(0, round(phrase.length * RATE) - len(wave))))[: round(phrase.length * RATE)]
