"""How fast and how true the guide plays.

    python -m tests.benchmarks.guide

Times real time on one core (median of five) for a lead line, a strummed ringing chord and a bending solo; the
tuning error in cents over every string and fret, and of harmonics 2 to 9.
"""

import time
from collections.abc import Callable
from fractions import Fraction

import numpy as np

from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import BendPoint, Harmonic, Note
from pipeline.music.pitch import frequency
from pipeline.sound.guide import play, play_dry
from pipeline.timing import TimeMap

RATE = 48000
GUITAR = Guitar()
SECONDS = TimeMap.linear("beat", "clip", Fraction(0), Fraction(0), Fraction(1))


def note(onset: Fraction, string: int, fret: int, duration: Fraction, **more: object) -> Note:
    return Note(onset, duration, GUITAR.pitch(string, fret), string, fret, **more)  # type: ignore[arg-type]


def fragment(*notes: Note) -> Fragment:
    return Fragment("benchmark", GUITAR, notes, (Measure(Fraction(0), Fraction(4)),))


def lead() -> Fragment:
    """Ten seconds of twelve notes a second."""
    places = [(1 + i // 3 % 4, 5 + i % 3 * 2) for i in range(120)]
    return fragment(*(note(Fraction(i, 12), s, f, Fraction(1, 12)) for i, (s, f) in enumerate(places)))


def chord() -> Fragment:
    """A chord on six strings that rings for ten seconds, struck every two."""
    frets = (0, 0, 1, 2, 2, 0)
    return fragment(
        *(
            note(Fraction(2 * n), string, fret, Fraction(2), let_ring=True)
            for n in range(5)
            for string, fret in enumerate(frets, start=1)
        )
    )


def solo() -> Fragment:
    """Twenty bent and shaken notes of half a second."""
    bend = (BendPoint(Fraction(0), Fraction(0)), BendPoint(Fraction(1, 3), Fraction(2)))
    return fragment(
        *(note(Fraction(i, 2), 2, 10 + i % 5, Fraction(1, 2), bend=bend, vibrato="wide") for i in range(20))
    )


def speed(played: Fragment) -> float:
    play(played, SECONDS, Fraction(1))
    taken = []
    for _ in range(5):
        began = time.process_time()
        play(played, SECONDS, Fraction(10))
        taken.append(time.process_time() - began)
    return 10 / float(np.median(taken))


def cents_off(played: Note, wanted: float) -> float:
    """How far the strongest place near a frequency lies from it."""
    wave = play_dry(fragment(played), SECONDS, Fraction(1), RATE).samples[2400:, 0].astype(float)
    size = 1 << 19
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), size))
    low, high = int(wanted * 0.97 / RATE * size), int(wanted * 1.03 / RATE * size)
    peak = low + int(np.argmax(spectrum[low:high]))
    a, b, c = np.log(spectrum[peak - 1 : peak + 2])
    return float(1200 * np.log2((peak + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / size / wanted))


def main() -> None:
    kinds: dict[str, Callable[[], Fragment]] = {"lead line": lead, "ringing chord": chord, "bends": solo}
    for name, make in kinds.items():
        print(f"{name:<16}{speed(make()):>8.0f} times real time")
    one = Fraction(1)
    frets = [(s, f) for s in range(1, 7) for f in range(GUITAR.highest_fret + 1)]
    tuning = [abs(cents_off(note(Fraction(0), s, f, one), frequency(GUITAR.pitch(s, f)))) for s, f in frets]
    print(f"{'tuning':<16}{max(tuning):>8.3f} cents at most over {len(tuning)} places")
    harmonics = [
        abs(
            cents_off(
                note(Fraction(0), 5, 0, one, harmonic=Harmonic("natural", k)),
                frequency(GUITAR.pitch(5, 0)) * k,
            )
        )
        for k in range(2, 10)
    ]
    print(f"{'harmonics':<16}{max(harmonics):>8.3f} cents at most, partials 2 to 9")


if __name__ == "__main__":
    main()
