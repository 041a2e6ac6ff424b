"""Hammer-ons, slides, bends, vibrato, slips and pinch harmonics on sampled guitars that are not ours.

A soundfont has no such gestures, so they are played as a keyboard player would: one key press a stroke, and
everything until the next stroke by the pitch wheel and the expression pedal of that key. Each stroke is
rendered by itself and placed to the sample, as in `sampled`, of which it needs the same program and banks.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import log2
from pathlib import Path

import mido
import numpy as np

from pipeline.music.note import Note
from tests.benchmarks.phrases import Phrase
from tests.benchmarks.sampled import RATE, Wave, audible, render, shaped, song_of

WHEEL_SEMITONES = 24.0
"""What the pitch wheel reaches each way (RPN 0, General MIDI)."""
STEP_S, LEAD_S, TAIL_S = 0.002, 0.2, 0.4
JUMP_S = 0.005
"""What a finger takes to come down or to leave."""
LAST_S, FADE_S, RING_S, RING_FADE_S = 0.6, 0.02, 0.3, 0.15
SLURRED = ("hammer", "pull", "slide")


@dataclass(frozen=True)
class Stroke:
    """Notes of one key press: numbers in the phrase, seconds from the stroke to each and to the end, and
    whether the last one rings on."""

    numbers: tuple[int, ...]
    starts: tuple[float, ...]
    length: float
    rings: bool


def strokes(phrase: Phrase) -> Iterator[Stroke]:
    """The notes of a phrase by key press: a slurred note belongs to the one before."""
    notes, ends = phrase.fragment.notes, [*phrase.seconds[1:], phrase.seconds[-1] + LAST_S]
    firsts = [n for n, note in enumerate(notes) if n == 0 or note.attack not in SLURRED]
    for first, after in pairwise([*firsts, len(notes)]):
        numbers, at = tuple(range(first, after)), phrase.seconds[first]
        starts = tuple(phrase.seconds[n] - at for n in numbers)
        yield Stroke(numbers, starts, ends[after - 1] - at, notes[after - 1].let_ring)


def perform(phrase: Phrase, font: Path, program: int, random: np.random.Generator) -> Wave:
    """The phrase on one bank, mono at `RATE`; bends, slides and vibrato are shaped by chance."""
    played = list(strokes(phrase))
    waves = pressed(phrase, played, font, program, random)
    out = np.zeros(round(phrase.length * RATE) + RATE)
    for stroke, wave in zip(played, waves, strict=True):
        lead = audible(wave)
        ring, fade = (RING_S, RING_FADE_S) if stroke.rings else (0.0, FADE_S)
        part = shaped(wave, stroke.length + lead / RATE + ring, fade)
        at = max(0, round(phrase.seconds[stroke.numbers[0]] * RATE) - lead)
        out[at : at + len(part)] += part
    return out[: round(phrase.length * RATE)] / max(1e-9, float(np.abs(out).max()))


def pressed(
    phrase: Phrase, played: list[Stroke], font: Path, program: int, random: np.random.Generator
) -> list[Wave]:
    """Each stroke by itself, from its key press on."""
    events = [(0.0, mido.Message("program_change", program=program)), *wide_wheel()]
    at, slots = LEAD_S, []
    for stroke in played:
        notes = [phrase.fragment.notes[n] for n in stroke.numbers]
        lasting = stroke.length + RING_S + TAIL_S
        events += [(at + second, message) for second, message in key_press(notes, stroke, lasting, random)]
        slots.append((at, at + lasting))
        at += lasting + 1.0
    wave = render(song_of(events), font)
    return [wave[round(start * RATE) : round(end * RATE)] for start, end in slots]


def wide_wheel() -> list[tuple[float, mido.Message]]:
    """Messages that set the reach of the pitch wheel."""
    pairs = ((101, 0), (100, 0), (6, round(WHEEL_SEMITONES)), (38, 0))
    return [(0.01, mido.Message("control_change", control=c, value=v)) for c, v in pairs]


def key_press(
    notes: list[Note], stroke: Stroke, lasting: float, random: np.random.Generator
) -> Iterator[tuple[float, mido.Message]]:
    """The messages of one stroke, in seconds from it."""
    key = sounding(notes[0])
    curve = course(notes, stroke, lasting, random) - round(key)
    levels = pedal(notes, stroke, lasting, random)
    yield -0.1, mido.Message("pitchwheel", pitch=wheel(curve[0]))
    yield -0.1, mido.Message("control_change", control=11, value=int(levels[0]))
    yield 0.0, mido.Message("note_on", note=round(key), velocity=int(random.integers(75, 116)))
    for number in range(1, len(curve)):
        if curve[number] != curve[number - 1]:
            yield number * STEP_S, mido.Message("pitchwheel", pitch=wheel(curve[number]))
        if levels[number] != levels[number - 1]:
            yield number * STEP_S, mido.Message("control_change", control=11, value=int(levels[number]))
    yield lasting, mido.Message("note_off", note=round(key))


def wheel(semitones: float) -> int:
    """The wheel's place for an interval."""
    return int(np.clip(round(semitones / WHEEL_SEMITONES * 8192), -8192, 8191))


def sounding(note: Note) -> float:
    """The pitch that is heard; a pinch harmonic is heard at its partial alone."""
    pitch = float(note.pitch or 0)
    pinched = note.harmonic is not None and note.harmonic.kind == "pinch"
    return pitch + 12 * log2(note.harmonic.partial) if pinched and note.harmonic else pitch


def pedal(notes: list[Note], stroke: Stroke, lasting: float, random: np.random.Generator) -> Wave:
    """The pedal's value at each step: full at the stroke, anything down to -4 dB from a slurred note on."""
    times = np.arange(0, lasting, STEP_S)
    values = np.full(len(times), 127.0)
    for start in stroke.starts[1:]:
        values[times >= start] = random.integers(100, 128)
    return values


def course(notes: list[Note], stroke: Stroke, lasting: float, random: np.random.Generator) -> Wave:
    """The pitch at each step of a stroke."""
    times = np.arange(0, lasting, STEP_S)
    pitch = np.full(len(times), sounding(notes[0]))
    ends = [*stroke.starts[1:], stroke.length]
    for number, (note, start, end) in enumerate(zip(notes, stroke.starts, ends, strict=True)):
        if number:
            last = ends[number - 1] - stroke.starts[number - 1]
            pitch = reached(pitch, times, note, start, last, random)
        pitch = pitch + gesture(note, times - start, end - start, random)
    return np.asarray(pitch, np.float64)


def reached(
    pitch: Wave, times: Wave, note: Note, start: float, last: float, random: np.random.Generator
) -> Wave:
    """The course with a slurred note put on: a jump, or a slide that arrives at its start.

    One slide in two is smooth, one goes fret by fret, as the frets of a neck make it.
    """
    before, apart = float(pitch[-1]), sounding(note) - float(pitch[-1])
    if note.attack != "slide":
        return pitch + apart * np.clip((times - start) / JUMP_S, 0, 1)
    glide = min(random.uniform(0.04, 0.11), 0.5 * last)
    share = eased((times - start + glide) / glide)
    fretted = np.floor(share * abs(apart) + 1e-9) / max(1.0, abs(apart))
    way = fretted if random.random() < 0.5 else share
    return np.asarray(np.where(times < start - glide, pitch, before + apart * way), np.float64)


def gesture(note: Note, times: Wave, length: float, random: np.random.Generator) -> Wave:
    """What bend, vibrato and slip add to a note, `times` from its start; nothing before it."""
    shift = np.zeros(len(times))
    if note.bend:
        begins, takes = random.uniform(0.05, 0.25) * length, random.uniform(0.25, 0.4) * length
        shift += float(note.bend[-1].semitones) * eased((times - begins) / takes)
    if note.vibrato != "none":
        depth, hertz = random.uniform(0.15, 0.7), random.uniform(4.5, 7.0)
        swing = np.sin(2 * np.pi * hertz * np.maximum(times - 0.08, 0))
        shift += depth * (swing if random.random() < 0.5 else swing**2)
    if note.slide_in:
        away = random.choice((-3, -2, -1, 1, 2)) * (times >= 0)
        shift += away * (1 - eased(times / min(random.uniform(0.03, 0.07), 0.5 * length)))
    return shift


def eased(share: Wave) -> Wave:
    """From 0 to 1, slow at both ends."""
    part = np.clip(share, 0, 1)
    return np.asarray(part * part * (3 - 2 * part), np.float64)
