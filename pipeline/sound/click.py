"""Clicks of a metronome on every count of the meter, with an accent on one; a count-in before a passage."""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import cache

import numpy as np

from pipeline.music.fragment import Measure
from pipeline.sound.signal import Samples, Signal
from pipeline.timing import TimeMap

RATE = 48000
SECONDS = 0.04
HERTZ, ACCENT_HERTZ = 1100.0, 1650.0
SIZE, ACCENT_SIZE = 0.3, 0.5


def counts(measure: Measure) -> Iterator[tuple[Fraction, bool]]:
    """The beats of a measure's counts and whether each is one; a pick-up bar has only its last counts."""
    missing = measure.beats * measure.count - measure.length if measure.pickup else Fraction(0)
    number = -(-missing // measure.count)
    at = measure.start + number * measure.count - missing
    while at < measure.end:
        yield at, number == 0
        number, at = number + 1, at + measure.count


def clicks(measures: Iterable[Measure], moments: TimeMap, length: Fraction, rate: int = RATE) -> Signal:
    """Mono clicks on every count of the measures, at second `moments(beat)`, over `length` seconds."""
    beats = [count for measure in measures for count in counts(measure)]
    return _laid([(moments(beat), accent) for beat, accent in beats], length, rate)


def count_in_length(measure: Measure, second_a_beat: Fraction, bars: int = 1) -> Fraction:
    """Seconds of a count-in: whole bars, and before a pick-up bar also what that bar lacks."""
    whole = measure.beats * measure.count
    return (bars * whole + (whole - measure.length if measure.pickup else 0)) * second_a_beat


def count_in(measure: Measure, second_a_beat: Fraction, bars: int = 1, rate: int = RATE) -> Signal:
    """Mono clicks that lead to the start of a measure; the passage begins where this signal ends."""
    length = count_in_length(measure, second_a_beat, bars)
    step = measure.count * second_a_beat
    number = -(-length // step)
    marks = [(i * step, i % measure.beats == 0) for i in range(number)]
    return _laid(marks, length, rate)


def _laid(marks: Iterable[tuple[Fraction, bool]], length: Fraction, rate: int) -> Signal:
    out = np.zeros((round(length * rate), 1), np.float32)
    for second, accent in marks:
        at = round(second * rate)
        if 0 <= at < len(out):
            piece = click(accent, rate)[: len(out) - at]
            out[at : at + len(piece)] += piece
    return Signal(out, rate)


@cache
def click(accent: bool, rate: int = RATE) -> Samples:
    """One click: a short tone that dies away at once; the accent is higher and louder."""
    hertz, size = (ACCENT_HERTZ, ACCENT_SIZE) if accent else (HERTZ, SIZE)
    time = np.arange(round(SECONDS * rate)) / rate
    fall = np.exp(-time / 0.006) * (1 - time / SECONDS)
    tone = size * np.sin(2 * np.pi * hertz * time) * fall
    return tone.astype(np.float32)[:, None]
