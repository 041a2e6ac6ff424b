"""A scene's sound: what `heard` lists, decoded, slowed, played and mixed, exact to the sample.

A scene alone has the number of samples nearest to its frames' length. In a segment each scene ends at the
sample nearest to its last frame's end, so an hour of scenes is still right to the sample.
"""

from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from pipeline.lesson.heard import ClickSound, ExcerptSound, GuideSound, Recording, Sounding, VoiceSound
from pipeline.lesson.lesson import Segment
from pipeline.lesson.scene import Scene
from pipeline.lesson.timeline import SOUND_RATE
from pipeline.sound.click import click
from pipeline.sound.decode import decode
from pipeline.sound.guide import play
from pipeline.sound.mix import FADE, Part, mixed
from pipeline.sound.signal import Signal
from pipeline.sound.stretch import stretch
from pipeline.timing import Span

Listen = Callable[[Recording], Signal]
"""How a recording is got; the default decodes it, a builder may keep decoded ones."""
SAMPLE = Fraction(1, SOUND_RATE)


@lru_cache(maxsize=4)
def heard(recording: Recording) -> Signal:
    """A recording decoded whole. Raises Faulty at the place where the script names it."""
    return decode(Path(recording.path), recording.place)


def soundtrack(scene: Scene, listen: Listen = heard, samples: int | None = None) -> Signal:
    """The scene's sound in stereo at 48 kHz, `samples` long (its frames' length by default).

    Raises Faulty for a recording that cannot be used.
    """
    length = scene.duration if samples is None else samples * SAMPLE
    return mixed(parts(scene, listen), length)


def segment_sounds(segment: Segment, listen: Listen = heard) -> Iterator[Signal]:
    """The sound of each scene of a segment; end to end they last the segment's length to the sample."""
    for start, scene in segment.starts():
        first, last = (round(second * SOUND_RATE) for second in (start, start + scene.duration))
        yield soundtrack(scene, listen, last - first)


def parts(scene: Scene, listen: Listen = heard) -> list[Part]:
    """Everything that sounds in a scene, laid at its second."""
    return [_part(sound, listen) for sound in scene.sounds]


def _part(sound: Sounding, listen: Listen) -> Part:
    if isinstance(sound, ClickSound):
        return Part(Signal(click(sound.accent), SOUND_RATE), sound.start, role="click", fade_in=Fraction(0))
    if isinstance(sound, GuideSound):
        played = play(sound.fragment, sound.moments, sound.length, SOUND_RATE)
        return Part(played, sound.start, fade_in=Fraction(0), fade_out=sound.fade_out)
    if isinstance(sound, VoiceSound):
        return Part(listen(sound.recording), sound.start, _factor(sound.gain), FADE, FADE, "voice")
    return _excerpt(sound, listen)


def _excerpt(sound: ExcerptSound, listen: Listen) -> Part:
    recording = listen(sound.recording)
    span = Span("clip", sound.span.start, min(sound.span.end, recording.duration))
    slowed = stretch(recording, span, sound.speed, sound.anchors, sound.loose)
    return Part(slowed, sound.start, _factor(sound.gain), sound.fade_in, sound.fade_out)


def _factor(decibels: Fraction) -> float:
    return float(10.0 ** (float(decibels) / 20.0))
