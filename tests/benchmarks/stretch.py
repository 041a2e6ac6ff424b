"""How well recordings are slowed: ours with and without onsets, and other permissive routes where installed.

    python -m tests.benchmarks.stretch [--phrases N] [--speeds 50 25]

Phrases of 6 to 16 notes a second with known onsets, played by the project's own strings through its amplifier
and, where fluidsynth is here, by sampled guitars that are not ours. Printed a route, medians over all notes:
`onset` how many ms late what is most like a clear attack comes (and 95 % of its size), `rise` how much longer
it takes, `cents` the pitch of the body, `level` its scatter against the source in dB, `LSD` the distance of
sixth-octave spectra in dB at the mapped moment, `speed` times real time on one core. A route without onsets
is given the constant delay that suits it best.
Others: libtsm (MIT), python-stretch (MIT; Signalsmith), librosa (ISC); `pip install` them to see their lines.
"""

import argparse
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from importlib import import_module
from importlib.util import find_spec

import numpy as np
import numpy.typing as npt
from scipy.ndimage import uniform_filter1d
from scipy.signal import butter, resample_poly, sosfilt

from pipeline.music.pitch import frequency
from pipeline.sound.amp import amplified
from pipeline.sound.guide import play_dry
from pipeline.sound.signal import Signal
from pipeline.sound.slowmap import stretch_map
from pipeline.sound.stretch import stretch
from pipeline.timing import Span, TimeMap
from tests.benchmarks import sampled
from tests.benchmarks.phrases import Phrase, phrases

RATE = 48000
CLEAR = 0.003
"""A note whose steepest rise lies within so many seconds of its onset has a clear attack."""
WIDTH = 1024
Wave = npt.NDArray[np.float64]
Slowed = tuple[Wave, Callable[[float], float]]
"""The output, and where a second of the source lies in it."""
Route = Callable[["Take", Fraction], Slowed]


@dataclass(frozen=True, eq=False)
class Take:
    """A recording, mono, and the seconds and pitches of its notes."""

    wave: Wave
    onsets: tuple[float, ...]
    pitches: tuple[int, ...]

    @property
    def signal(self) -> Signal:
        return Signal(self.wave.astype(np.float32)[:, None], RATE)


def own_takes(count: int) -> Iterator[Take]:
    """Phrases on the project's strings, every second one through the amplifier."""
    for number, phrase in enumerate(phrases(count, 300)):
        points = zip((note.onset for note in phrase.fragment.notes), phrase.seconds, strict=True)
        moments = TimeMap(
            "beat", "clip", tuple((beat, Fraction(round(s * RATE), RATE)) for beat, s in points)
        )
        signal = play_dry(phrase.fragment, moments, Fraction(phrase.length).limit_denominator(1000), RATE)
        signal = amplified(signal) if number % 2 else signal
        yield take_of(phrase, signal.samples[:, 0].astype(np.float64))


def sampled_takes(count: int) -> Iterator[Take]:
    """The same kind of phrases on sampled guitars; nothing where fluidsynth is not installed."""
    for number, phrase in enumerate(phrases(count if sampled.available() else 0, 500)):
        font = sampled.available()[number % len(sampled.available())]
        notes = sampled.bank(font, sampled.PROGRAMS[number % len(sampled.PROGRAMS)])
        wave = sampled.perform(phrase, notes, 0.01, np.random.default_rng(number))
        yield take_of(phrase, resample_poly(wave, 160, 147))


def take_of(phrase: Phrase, wave: Wave) -> Take:
    pitches = tuple(note.pitch or 0 for note in phrase.fragment.notes)
    return Take(wave / np.abs(wave).max() * 0.7, phrase.seconds, pitches)


def ours(take: Take, speed: Fraction) -> Slowed:
    anchors = tuple(Fraction(round(s * RATE), RATE) for s in take.onsets)
    return _ours(take, speed, anchors)


def ours_off(take: Take, speed: Fraction) -> Slowed:
    """With every onset 5 ms early or late."""
    rng = np.random.default_rng(1)
    anchors = tuple(Fraction(round((s + rng.choice((-0.005, 0.005))) * RATE), RATE) for s in take.onsets)
    return _ours(take, speed, anchors)


def ours_bare(take: Take, speed: Fraction) -> Slowed:
    return _ours(take, speed, ())


def _ours(take: Take, speed: Fraction, anchors: tuple[Fraction, ...]) -> Slowed:
    signal = take.signal
    span = Span("clip", Fraction(0), signal.duration)
    moments = stretch_map(span, speed, anchors, frozenset(), RATE)
    out = stretch(signal, span, speed, anchors, frozenset()).samples[:, 0].astype(np.float64)
    return out, lambda second: float(moments(Fraction(second)))


def libtsm_split(take: Take, speed: Fraction) -> Slowed:
    out = import_module("libtsm").hps_tsm(take.wave, float(1 / speed), Fs=RATE)
    return straight(take, np.asarray(out, np.float64)[:, 0], speed)


def libtsm_locked(take: Take, speed: Fraction) -> Slowed:
    out = import_module("libtsm").pv_tsm(take.wave, float(1 / speed), Fs=RATE, phase_locking=True)
    return straight(take, np.asarray(out, np.float64)[:, 0], speed)


def signalsmith(take: Take, speed: Fraction) -> Slowed:
    engine = import_module("python_stretch").Signalsmith.Stretch()
    engine.configure(1, 2048, 512)
    engine.setTimeFactor(float(speed))
    padded = np.pad(take.wave, (0, 8192)).astype(np.float32)
    return straight(take, np.asarray(engine.process(padded[None]), np.float64)[0], speed)


def librosa_vocoder(take: Take, speed: Fraction) -> Slowed:
    out = import_module("librosa").effects.time_stretch(take.wave, rate=float(speed))
    return straight(take, np.asarray(out, np.float64), speed)


def straight(take: Take, out: Wave, speed: Fraction) -> Slowed:
    """A route with a straight map; the constant delay that suits it best is taken off."""
    step = RATE // 500
    coarse = np.repeat(envelope(take.wave)[::step], round(1 / speed))
    slowed = envelope(out)[::step][: len(coarse)]
    size = 1 << (2 * len(coarse)).bit_length()
    likeness = np.fft.irfft(np.fft.rfft(slowed, size) * np.fft.rfft(coarse[: len(slowed)], size).conj())
    lags = np.r_[-50:101]
    late = int(lags[np.argmax(likeness[lags])]) * step / RATE
    return out, lambda second: second / float(speed) + late


ROUTES: dict[str, tuple[Route, str]] = {
    "ours": (ours, "numpy"),
    "ours, onsets 5 ms off": (ours_off, "numpy"),
    "ours, no onsets": (ours_bare, "numpy"),
    "libtsm, split": (libtsm_split, "libtsm"),
    "libtsm, locked": (libtsm_locked, "libtsm"),
    "Signalsmith 2048": (signalsmith, "python_stretch"),
    "librosa": (librosa_vocoder, "librosa"),
}


def envelope(wave: Wave) -> Wave:
    """The size of what lies above 1 kHz, smoothed over a millisecond."""
    high = sosfilt(butter(2, 1000, "highpass", fs=RATE, output="sos"), wave)
    return np.asarray(np.sqrt(uniform_filter1d(np.asarray(high) ** 2, 48) + 1e-12), dtype=np.float64)


def attack(size: Wave, near: int, reach: int) -> tuple[float, float]:
    """The sample of the steepest rise within `reach`, and the samples from 20 to 80 % of its top."""
    start, step = max(near - reach, 144), 144
    part = size[start : near + reach]
    rise = part[step:] - part[:-step]
    at = start + int(np.argmax(rise)) + step // 2
    piece = size[max(0, at - reach // 2) : at + reach // 2]
    top, floor = float(piece.max()), float(piece[: int(np.argmax(piece)) + 1].min())
    before = piece[: int(np.argmax(piece)) + 1]
    low = int(np.flatnonzero(before <= floor + 0.2 * (top - floor))[-1])
    high = low + int(np.argmax(before[low:] >= floor + 0.8 * (top - floor)))
    return float(at), float(max(high - low, 1))


def lateness(source: Wave, onset: float, out: Wave, moment: float, reach: float) -> float:
    """Seconds by which the place of the output that is most like the source's attack comes late."""
    first, near, spread = round((onset - 0.005) * RATE), round((moment - 0.005) * RATE), round(reach)
    shape = np.diff(source[first : first + round(0.02 * RATE)])
    field = np.diff(out[max(near - spread, 0) : near + spread + len(shape) + 1])
    power = uniform_filter1d(field**2, len(shape), origin=-(len(shape) // 2))[: len(field) - len(shape) + 1]
    likeness = np.correlate(field, shape, "valid") / np.sqrt(power + 1e-9 + 0.01 * power.max())
    return float(int(np.argmax(likeness)) + max(near - spread, 0) - near) / RATE


def pitch_of(wave: Wave, near: float) -> float:
    """The strongest place of a long spectrum within 60 cents of a frequency, in hertz; 0 where none is."""
    size = 1 << 18
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), size))
    low, high = int(near * 0.966 / RATE * size), int(near * 1.035 / RATE * size) + 1
    peak = low + int(np.argmax(spectrum[low:high]))
    a, b, c = np.log(spectrum[peak - 1 : peak + 2] + 1e-12)
    return float((peak + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / size)


def bands(wave: Wave) -> Wave:
    """Sixth-octave levels in dB from 80 Hz to 10 kHz, 60 dB deep."""
    power = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), 8192)) ** 2
    hertz = np.fft.rfftfreq(8192, 1 / RATE)
    number = np.floor(np.log2(np.maximum(hertz, 1) / 80) * 6).astype(int)
    inside = (number >= 0) & (number < 42)
    level = 10 * np.log10(np.bincount(number[inside], power[inside], 42) + 1e-12)
    return np.asarray(np.maximum(level, level.max() - 60), dtype=np.float64)


@dataclass
class Score:
    """What is gathered over all notes of all takes."""

    late: list[float]
    rise: list[float]
    cents: list[float]
    level: list[float]
    distance: list[float]
    seconds: float = 0.0
    heard: float = 0.0


def judge(take: Take, slowed: Slowed, speed: Fraction, score: Score) -> None:
    """Compare each note of the output with the same note of the source."""
    out, moments = slowed
    slower = float(1 / speed)
    source_size, out_size = envelope(take.wave), envelope(out)
    for onset, after, pitch in zip(take.onsets, take.onsets[1:], take.pitches, strict=False):
        note = after - onset
        reach = round(min(0.02, note * 0.4) * RATE)
        true, own_rise = attack(source_size, round(onset * RATE), reach)
        if abs(true - onset * RATE) < CLEAR * RATE:
            _, rise = attack(out_size, round(moments(onset) * RATE), round(reach * slower))
            score.rise.append(rise / own_rise)
            score.late.append(lateness(take.wave, onset, out, moments(onset), reach * slower) * 1000)
        _judge_body(take, slowed, onset, note, pitch, score)


def _judge_body(take: Take, slowed: Slowed, onset: float, note: float, pitch: int, score: Score) -> None:
    out, moments = slowed
    first, last = onset + 0.3 * note, onset + 0.9 * note
    body = take.wave[round(first * RATE) : round(last * RATE)]
    slow = out[round(moments(first) * RATE) : round(moments(last) * RATE)]
    hertz = frequency(pitch)
    score.cents.append(1200 * float(np.log2(pitch_of(slow, hertz) / pitch_of(body, hertz))))
    levels, distances = [], []
    for share in np.linspace(0.45, 0.85, 9):
        second = onset + share * note
        pairs = ((take.wave, round(second * RATE)), (out, round(moments(second) * RATE)))
        a, b = (wave[middle - WIDTH : middle + WIDTH] for wave, middle in pairs)
        levels.append(20 * np.log10((np.std(b) + 1e-9) / (np.std(a) + 1e-9)))
        distances.append(float(np.sqrt(np.mean((bands(a) - bands(b)) ** 2))))
    score.level.append(float(np.std(levels)))
    score.distance.append(float(np.median(distances)))


def report(name: str, takes: list[Take], speed: Fraction) -> None:
    print(f"\n{name}, {float(speed):.0%}")
    heads = ("onset", "95 %", "rise", "cents", "level", "LSD", "speed")
    print(f"{'route':<24}" + "".join(f"{head:>8}" for head in heads))
    for route, (play, module) in ROUTES.items():
        if find_spec(module) is None:
            continue
        score = Score([], [], [], [], [])
        play(takes[0], speed)
        for take in takes:
            began = time.process_time()
            out, moments = play(take, speed)
            score.seconds += time.process_time() - began
            score.heard += len(take.wave) / RATE
            wanted = round(len(take.wave) / float(speed)) + RATE
            judge(take, (np.pad(out, (0, max(0, wanted - len(out)))), moments), speed, score)
        print(f"{route:<24}" + "".join(f"{value:>8.2f}" for value in summary(score)))


def summary(score: Score) -> tuple[float, ...]:
    late = np.array(score.late)
    return (
        float(np.median(late)),
        float(np.percentile(np.abs(late), 95)),
        float(np.median(score.rise)),
        float(np.median(np.abs(score.cents))),
        float(np.median(score.level)),
        float(np.median(score.distance)),
        score.heard / score.seconds,
    )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--phrases", type=int, default=3)
    parser.add_argument("--speeds", type=int, nargs="+", default=[50, 25])
    options = parser.parse_args()
    kinds = {"own strings": own_takes, "sampled guitars": sampled_takes}
    for name, takes in ((name, list(make(options.phrases))) for name, make in kinds.items()):
        for percent in options.speeds if takes else ():
            report(name, takes, Fraction(percent, 100))


if __name__ == "__main__":
    main()
