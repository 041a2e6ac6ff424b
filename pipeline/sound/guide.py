"""The guide: a fragment played on modelled strings, where there is no recording or to compare with one.

Each string is one line of touches: a pick stops what rang and starts afresh, a hammered, pulled or slid note
takes over the vibration that is there. Strings stand side by side in a small room. The same call gives the
same samples every time.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache
from math import exp, pi

import numpy as np
from scipy.signal import lfilter, oaconvolve

from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.pitch import frequency
from pipeline.sound.gesture import PICKUP_MM, Wave, loss_of, moves, pitch_curve, touch_of
from pipeline.sound.signal import Samples, Signal
from pipeline.sound.string_line import Touched, lines
from pipeline.sound.string_model import Loss, Stage, plucked, ringing
from pipeline.timing import TimeMap

LEVEL = 0.22
"""Size of a plain pick stroke; the sum is scaled down where it would pass `CEILING`."""
CEILING = 0.89
RELEASE, RELEASE_LOSS = 0.06, Loss(90.0, 0.5)
"""A finger that lifts: so long and with such losses."""
UNMARKED = 0.18
"""How strongly a pinch harmonic lets the other partials through."""
_WIDTH = 0.35
_FADE = 0.004
_ROOM_SECONDS, _ROOM_LEVEL = 0.25, 0.025


def play(
    fragment: Fragment,
    moments: TimeMap,
    length: Fraction,
    rate: int = 48000,
    strengths: Sequence[float] = (),
) -> Signal:
    """The fragment in stereo and in a small room: a note sounds at second `moments(note.onset)`, the whole
    lasts `length` seconds. `strengths` scales the notes one by one; repeats are not unfolded.
    """
    strings = _strings(fragment, moments, length, rate, strengths)
    sides = np.zeros((2, round(length * rate)))
    for number, sound in strings.items():
        share = (number - 1) / max(1, fragment.guitar.string_count - 1)
        angle = np.pi / 4 * (1 + _WIDTH * (1 - 2 * min(share, 1.0)))
        sides[0] += sound * np.cos(angle)
        sides[1] += sound * np.sin(angle)
    mono = (sides[0] + sides[1])[None]
    sides += oaconvolve(mono, _room(rate), axes=1)[:, : sides.shape[1]]
    return Signal(_safe(sides, rate), rate)


def play_dry(
    fragment: Fragment,
    moments: TimeMap,
    length: Fraction,
    rate: int = 48000,
    strengths: Sequence[float] = (),
) -> Signal:
    """The same, mono and without a room: what the instrument's socket gives."""
    strings = _strings(fragment, moments, length, rate, strengths)
    total = sum(strings.values(), np.zeros(round(length * rate)))
    return Signal(_safe(total[None], rate), rate)


def _strings(
    fragment: Fragment, moments: TimeMap, length: Fraction, rate: int, strengths: Sequence[float]
) -> dict[int, Wave]:
    """The sound of each string over the whole length."""
    count, sounds = round(length * rate), {}
    for number, line in lines(fragment, moments, float(length)).items():
        canvas = np.zeros(count)
        for chain in _chains(line):
            start = round(chain[0].start * rate)
            sound = ringing(_stages(chain, fragment.guitar, rate, strengths), rate)
            _add(canvas, start, sound)
            for touched in chain:
                _add(canvas, round(touched.start * rate), _click(touched, rate))
        sounds[number] = canvas
    return sounds


def _add(canvas: Wave, start: int, sound: Wave) -> None:
    """Lay a sound on the canvas; what hangs over either end is lost."""
    skip = max(0, -start)
    piece = sound[skip : max(skip, len(canvas) - start)]
    canvas[start + skip : start + skip + len(piece)] += piece


def _chains(line: Sequence[Touched]) -> Iterator[list[Touched]]:
    """Notes of a string that follow each other without silence between them."""
    chain: list[Touched] = []
    for touched in line:
        if chain and touched.start > chain[-1].end + RELEASE:
            yield chain
            chain = []
        chain.append(touched)
    if chain:
        yield chain


def _stages(chain: list[Touched], guitar: Guitar, rate: int, strengths: Sequence[float]) -> Iterator[Stage]:
    """The stages of one chain; where the next touch comes late the string is let go in between."""
    phase = 0.0
    for place, touched in enumerate(chain):
        start, end = round(touched.start * rate), round(touched.end * rate)
        following = chain[place + 1] if place + 1 < len(chain) else None
        until = round(following.start * rate) if following else end + round(RELEASE * rate)
        angles = _angles(touched, following, until - start, rate, phase)
        phase = float(angles[-1])
        strength = strengths[touched.index] if touched.index < len(strengths) else 1.0
        added, kept = _touch(touched, guitar, strength)
        held = min(end, until) - start
        yield Stage(angles[:held], added, kept, loss_of(touched.note, touched.hertz))
        if until > end:
            yield Stage(angles[held:], np.zeros(0), 1.0, RELEASE_LOSS)


def _angles(touched: Touched, following: Touched | None, count: int, rate: int, phase: float) -> Wave:
    """The phase in radians, one a sample, going on from `phase`."""
    step = 2 * np.pi * touched.hertz / rate
    glide = touched.glide_to(following)
    if not moves(touched.note, glide):
        return np.asarray(phase + step * np.arange(1, count + 1), dtype=np.float64)
    curve = pitch_curve(touched.note, touched.whole, touched.played, count, rate, glide)
    angles: Wave = phase + np.cumsum(step * 2.0 ** (curve / 12))
    return angles


def _touch(touched: Touched, guitar: Guitar, strength: float) -> tuple[Wave, float]:
    """What a touch adds to each partial, and what it leaves of the old vibration."""
    note, touch = touched.note, touch_of(touched.note, touched.stroke)
    string_mm = guitar.scale_mm - guitar.fret_mm(touched.stopped - touched.open_pitch)
    times = touched.hertz / frequency(touched.stopped)
    place, pickup = touch.from_bridge_mm / string_mm * times, PICKUP_MM / string_mm * times
    added = plucked(touched.hertz, place, pickup, touch.dullness)
    if note.harmonic is not None and note.harmonic.kind == "pinch":
        added = _pinched(added, note.harmonic.partial)
    return added * (touch.level * LEVEL * strength), touch.kept


def _pinched(added: Wave, partial: int) -> Wave:
    """The partials that a touch at a node leaves: multiples of `partial`, and a little of the rest.

    Wherever the pickup stands, the harmonic is heard: the fragment says that it was.
    """
    order = np.arange(1, len(added) + 1)
    left = np.where(order % partial == 0, partial / order, UNMARKED * added / order)
    return np.asarray(left / max(1e-9, float(np.sqrt((left**2).sum()))), dtype=np.float64)


def _click(touched: Touched, rate: int) -> Wave:
    """The short noise of the pick or finger itself."""
    touch = touch_of(touched.note, touched.stroke)
    noise = np.random.default_rng(touched.index).standard_normal(round(0.008 * rate))
    pole = exp(-2 * pi * touch.dullness / rate)
    soft = lfilter([1 - pole, pole - 1], [1, -pole], noise)
    time = np.arange(len(noise)) / rate
    shape = np.exp(-time / 0.0015) * (1 - np.exp(-time / 0.0001))
    return np.asarray(0.12 * LEVEL * touch.click * soft * shape, dtype=np.float64)


@cache
def _room(rate: int) -> Wave:
    """Two different echoes (2, n) of a small room: noise that dies away and loses its treble."""
    rng = np.random.default_rng(20)
    time = np.arange(round(_ROOM_SECONDS * rate)) / rate
    noise = rng.standard_normal((2, len(time))) * np.exp(-time / 0.055) * (time > 0.006)
    echoes: Wave = lfilter([0.3], [1, -0.7], noise) - lfilter([0.01], [1, -0.99], noise)
    return _ROOM_LEVEL * echoes


def _safe(sides: Wave, rate: int) -> Samples:
    """Channels (channels, n) as samples (n, channels), under the ceiling and with a soft end."""
    peak = float(max(sides.max(initial=0.0), -sides.min(initial=0.0)))
    fade = min(round(_FADE * rate), sides.shape[1] // 2)
    if fade:
        sides[:, -fade:] *= np.linspace(1, 0, fade)
    return np.ascontiguousarray((sides * min(1.0, CEILING / max(peak, 1e-9))).T, dtype=np.float32)
