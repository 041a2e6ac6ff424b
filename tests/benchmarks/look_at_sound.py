"""Spectrograms of the demo's excerpt at 100, 50 and 25 %, for people to look at.

    python -m tests.benchmarks.look_at_sound [folder]

One PNG a speed, each note of the first bar drawn as wide as it lasts, with the starts of the notes as ticks
under it; written to build/ by default.
"""

import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image

from pipeline.errors import Place
from pipeline.lesson.beats import clip_map
from pipeline.lesson.script import read_script
from pipeline.lesson.tools import find_notes
from pipeline.sound.decode import decode
from pipeline.sound.slowmap import stretch_map
from pipeline.sound.stretch import stretch
from pipeline.timing import Span

DEMO = Path(__file__).parents[2] / "scenes" / "kestrel" / "kestrel.yaml"
SPEEDS = (100, 50, 25)
WINDOW, WIDTH, HEIGHT, TICK, DEPTH_DB = 1024, 1800, 420, 14, 70.0
HIGHEST_HZ = 8000
Wave = npt.NDArray[np.float64]


def spectrogram(wave: Wave, rate: int) -> Wave:
    """Levels in dB under the loudest, (HEIGHT, WIDTH), from HIGHEST_HZ at the top down to 0."""
    padded = np.pad(wave, WINDOW)
    places = np.linspace(0, len(wave), WIDTH).astype(int) + WINDOW // 2
    frames = padded[places[:, None] + np.arange(WINDOW)] * np.hanning(WINDOW)
    size = np.abs(np.fft.rfft(frames, 4 * WINDOW)).T
    rows = np.linspace(HIGHEST_HZ / rate * 4 * WINDOW, 1, HEIGHT).astype(int)
    return np.asarray(20 * np.log10(size[rows] / size.max() + 1e-9), dtype=np.float64)


def picture(levels: Wave, starts: Wave) -> Image.Image:
    """The levels in grey, loud is dark, and a tick under each start (a share of the width)."""
    grey = 255 * (1 - np.clip(1 + levels / DEPTH_DB, 0, 1))
    whole = np.full((HEIGHT + TICK, WIDTH), 255.0)
    whole[:HEIGHT] = grey
    for share in starts:
        at = round(share * WIDTH)
        whole[HEIGHT + 2 :, max(0, at - 1) : at + 1] = 0
    return Image.fromarray(whole.astype(np.uint8))


def main() -> None:
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "build")
    folder.mkdir(parents=True, exist_ok=True)
    clip = read_script(DEMO).episode.clips["take"]
    fragment = find_notes(DEMO, "take", "kestrel", keep_marks=True).fragment
    moments = clip_map(clip, fragment)
    assert moments is not None
    signal = decode(DEMO.parent / clip.file, Place("the demo"))
    anchors = tuple(second for _, second in moments.points)
    span = Span("clip", moments(Fraction(0)) - Fraction(1, 20), moments(Fraction(4)))
    inside = [second for second in anchors if second in span]
    for percent in SPEEDS:
        speed = Fraction(percent, 100)
        slow = stretch(signal, span, speed, anchors, frozenset())
        mapped = stretch_map(span, speed, anchors, frozenset(), signal.rate)
        starts = np.array([float(mapped(second) / slow.duration) for second in inside])
        path = folder / f"spectrogram_{percent}.png"
        picture(spectrogram(slow.samples.mean(axis=1, dtype=np.float64), slow.rate), starts).save(path)
        print(path)


if __name__ == "__main__":
    main()
