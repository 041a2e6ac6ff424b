"""Picture meets sound: every note of a built scene, decoded from the finished overlay, at three speeds.

Measured on the file that an editor would get: the first frame in which a note's fret is lit, and the moment
at which its sound sets in, must agree within one frame. The recording is made here, of bursts whose starts
are known to the sample; it is invented data.
"""

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from pipeline.drawing.bounds import bounds
from pipeline.drawing.picture import Box, Group
from pipeline.files.sound import write_wav
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.scene import Scene
from pipeline.sound.signal import Signal
from pipeline.targets.build import build
from pipeline.targets.wish import Choice, Wish

RATE = 48000
FRETS = (5, 7, 8, 5, 7, 9, 5, 7, 9, 6, 8, 10)
JITTER = (0, 7, -5, 3, -8, 6, 2, -4, 8, -6, 5, -2)  # milliseconds off the beat
BEAT = Fraction(1, 8)  # seconds: eight notes a second
LEAD = Fraction(3, 10)

SCRIPT = """
title: Sync
teacher: Nobody
frame: {{size: 640x360, rate: {rate}}}
fragments:
  run:
    tempo: 120
    meter: 3/4
    text: |
      count   1  &  2  &  3  &    1  &  2  &  3  &
           1|-------------------|-5--7--9--6--8--10-|
           2|-5--7--8--5--7--9--|-------------------|
clips:
  take:
    file: take.wav
    rights: made by this test
    marks:
{marks}
segments:
  - id: only
    title: Sync
    fragment: run
    clip: take
    scenes:
      - id: run
        speeds: [100, 50, 25]
        views: [{{show: tab}}]
"""


def onsets() -> list[Fraction]:
    """The second of the recording at which each note starts: a quarter of a beat apart, a little uneven."""
    return [LEAD + 2 * BEAT * n + Fraction(off, 1000) for n, off in enumerate(JITTER)]


def recording() -> Signal:
    """A burst for each note: a tone that dies away before the next one."""
    samples = np.zeros((round((onsets()[-1] + 1) * RATE), 1), dtype=np.float32)
    time = np.arange(round(0.16 * RATE)) / RATE
    for number, second in enumerate(onsets()):
        tone = np.sin(2 * np.pi * (300 + 40 * number) * time) * np.exp(-time / 0.018)
        first = round(second * RATE)
        samples[first : first + len(tone), 0] += 0.5 * tone
    return Signal(samples, RATE)


@dataclass
class Finished:
    """A decoded overlay."""

    alpha: np.ndarray
    lit: np.ndarray
    sound: np.ndarray
    rate: Fraction


@pytest.fixture(scope="module", params=["25", "30000/1001"])
def finished(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Scene, Finished]:
    folder = tmp_path_factory.mktemp("sync")
    write_wav(folder / "take.wav", recording())
    beats = [f"      {1 + n // 6}:{1 + n % 6 // 2}{'+1/2' if n % 2 else ''}: {float(second)}"
             for n, second in enumerate(onsets())]  # fmt: skip
    script = folder / "sync.yaml"
    script.write_text(SCRIPT.format(rate=request.param, marks="\n".join(beats)), "utf-8")
    built = build(Wish((script,), folder / "build", Choice(("overlays",)), jobs=2))
    assert not built.failed, [*built.faults, *(str(f) for one in built.outcomes for f in one.faults)]
    scene = read_lesson(script).scene("run")
    return scene, decoded(folder / "build" / "sync" / "overlays" / "run.mov", Fraction(request.param))


def decoded(path: Path, rate: Fraction) -> Finished:
    """Every frame's alpha and how strongly each pixel is of the colour of a lit note, and the sound."""
    import av

    alphas, lit = [], []
    with av.open(str(path)) as film:
        for frame in film.decode(video=0):
            pixels = frame.reformat(format="rgba").to_ndarray().astype(int)
            alphas.append(pixels[:, :, 3].astype(np.uint8))
            near = np.abs(pixels[:, :, :3] - (0xFF, 0xB6, 0x50)).max(axis=2) < 40
            lit.append(near & (pixels[:, :, 3] > 200))
    with av.open(str(path)) as film:
        blocks = [block.to_ndarray() for block in film.decode(audio=0)]
    sound = np.concatenate([b.reshape(-1, 2) for b in blocks]).astype(float)
    return Finished(np.array(alphas), np.array(lit), sound / np.abs(sound).max(), rate)


def note_box(scene: Scene, index: int, second: Fraction) -> Box:
    """Where the frame shows a note while it is lit."""
    picture = scene.picture(second)
    for mark in picture.marks:
        if isinstance(mark, Group) and mark.name == f"note {index} sounding":
            return bounds(mark)
    raise AssertionError(f"note {index} is not lit at {float(second)} s")


def first_lit_frame(film: Finished, box: Box, near: Fraction) -> int:
    """The first frame around a second in which much of the fret's mark is of the lit colour."""
    side = box.height  # the fret stands at the left; what is right of it is the string that rings
    rows = slice(int(box.y + side * 0.1), int(box.y + side * 0.9))
    part = film.lit[:, rows, int(box.x + side * 0.1) : int(box.x + side * 0.8)]
    shares = part.mean(axis=(1, 2))
    window = range(max(0, int((near - 1) * film.rate)), min(len(shares), int((near + 1) * film.rate)))
    return next(number for number in window if shares[number] > 0.3)


def onset_in(sound: np.ndarray, near: Fraction) -> float:
    """The second at which the level jumps, found within 80 ms of where it is looked for."""
    first = round((near - Fraction(8, 100)) * RATE)
    piece = np.abs(sound[first : first + round(0.16 * RATE)]).max(axis=1)
    loud = piece > 0.35 * piece.max()
    return (first + int(np.argmax(loud))) / RATE


@pytest.mark.parametrize("speed", [0, 1, 2], ids=["100 %", "50 %", "25 %"])
def test_every_note_is_lit_when_it_sounds(finished: tuple[Scene, Finished], speed: int) -> None:
    scene, film = finished
    one = scene.passes[speed]
    assert scene.fragment is not None
    assert len(scene.fragment.notes) == len(FRETS)
    for index, note in enumerate(scene.fragment.notes):
        second = one.moments(note.onset)
        shown = first_lit_frame(film, note_box(scene, index, second + Fraction(1, 100)), second)
        heard = onset_in(film.sound, second)
        assert abs(shown / film.rate - Fraction(heard)) <= 1 / film.rate, (index, speed)


def test_picture_and_sound_have_the_same_length(finished: tuple[Scene, Finished]) -> None:
    scene, film = finished
    assert len(film.alpha) == scene.frames
    assert len(film.sound) == round(scene.frames * RATE / film.rate)


def test_alpha_is_what_the_picture_says(finished: tuple[Scene, Finished]) -> None:
    """ProRes 4444 keeps alpha within 2 of 255 (measured; see the notes on the format in DEVELOPERS.md)."""
    from pipeline.files.raster import rasterise

    scene, film = finished
    for number in (0, scene.frames // 3, scene.frames - 1):
        drawn = rasterise(scene.frame(number))[:, :, 3].astype(int)
        assert np.abs(drawn - film.alpha[number]).max() <= 2
