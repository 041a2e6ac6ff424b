"""How much memory an hour of sound takes on its way from a recording to a film.

    python -m tests.benchmarks.hour [minutes]

A recording in stereo is decoded, slowed to 80 % without onsets, mixed, written, measured, limited and handed
out to the muxer's feed. Printed a step: seconds, and the most memory during it: anonymous (what the program
holds itself) and resident (with the pages of mapped files, which the system takes back when it needs them).
Read from /proc/self/smaps_rollup, so Linux only.
"""

import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import numpy as np

from pipeline.errors import Place
from pipeline.files.mux import Feed
from pipeline.files.sound import read_blocks, write_flac, write_wav
from pipeline.lesson.heard import Recording
from pipeline.lesson.soundtrack import heard
from pipeline.sound.limit import limited
from pipeline.sound.loudness import level
from pipeline.sound.mix import Part, mix_blocks
from pipeline.sound.signal import Signal, blocks_of
from pipeline.sound.stretch import stretch
from pipeline.timing import Span

RATE = 48000


def memory() -> tuple[float, float]:
    """Anonymous and resident megabytes of this process."""
    lines = Path("/proc/self/smaps_rollup").read_text().splitlines()[1:]
    held = {line.split(":")[0]: int(line.split()[1]) / 1024 for line in lines}
    return held["Anonymous"], held["Rss"]


@contextmanager
def watched(step: str) -> Iterator[None]:
    """Print what a step took."""
    most, done, began = [0.0, 0.0], threading.Event(), time.perf_counter()

    def look() -> None:
        while not done.wait(0.05):
            most[:] = map(max, most, memory())

    thread = threading.Thread(target=look)
    thread.start()
    yield
    done.set()
    thread.join()
    print(f"{step:<28}{time.perf_counter() - began:>7.0f} s{most[0]:>8.0f} MB{most[1]:>8.0f} MB", flush=True)


def recorded(minutes: int) -> Iterator[Signal]:
    """Plucks in noise, a minute a block."""
    rng = np.random.default_rng(1)
    place = np.arange(RATE * 60) / RATE
    tone = 0.4 * np.sin(2 * np.pi * 196 * place) * np.exp(-(place % 0.5) * 6)
    for _ in range(minutes):
        noise = rng.normal(0, 0.01, (len(place), 2))
        yield Signal((tone[:, None] + noise).astype(np.float32), RATE)


def main() -> None:
    minutes = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    print(f"{minutes} minutes{'':<22}{'time':>6}{'anonymous':>12}{'resident':>10}")
    with tempfile.TemporaryDirectory() as folder:
        clip, wav = Path(folder) / "hour.flac", Path(folder) / "hour.wav"
        with watched("(writing the recording)"):
            write_flac(clip, recorded(minutes), bits=16)
        with watched("decode"):
            signal = heard(Recording(str(clip), "", Place("hour")))
        span, speed = Span("clip", Fraction(0), signal.duration), Fraction(4, 5)
        with watched("slow down to 80 %"):
            slow = stretch(signal, span, speed, (), frozenset())
        with watched("mix and write both"):
            parts = [Part(signal, Fraction(0)), Part(slow, Fraction(0), 0.7)]
            write_wav(wav, mix_blocks(parts, signal.duration))
        with watched("loudness"):
            level(read_blocks(wav))
        with watched("limit and feed"):
            feed = Feed(limited(blocks_of(read_blocks(wav)), -1.0))
            for _ in range(len(signal.samples) // 1024):
                feed.take(1024)
        assert len(signal.samples) == minutes * 60 * RATE


if __name__ == "__main__":
    main()
