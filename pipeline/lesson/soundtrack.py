"""A scene's sound: what `heard` lists, decoded, slowed, played and mixed, exact to the sample.

Each source is brought to one loudness first (`sound/matching`). A scene alone has the number of samples
nearest to its frames' length. In a segment each scene ends at the sample nearest to its last frame's end, so
an hour of scenes is still right to the sample.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache, lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.errors import Fault, faulty
from pipeline.lesson.heard import ClickSound, ExcerptSound, GuideSound, Recording, Sounding, VoiceSound
from pipeline.lesson.lesson import Segment
from pipeline.lesson.scene import Scene
from pipeline.lesson.timeline import SOUND_RATE
from pipeline.sound.click import click
from pipeline.sound.decode import decode
from pipeline.sound.guide import play
from pipeline.sound.matching import SOURCE_LUFS, click_gain, matching_gain
from pipeline.sound.mix import FADE, Part, mix_blocks, mixed
from pipeline.sound.signal import Signal
from pipeline.sound.stretch import stretch
from pipeline.timing import Span

Listen = Callable[[Recording], Signal]
"""How a recording is got; the default decodes it, a builder may keep decoded ones."""
SAMPLE = Fraction(1, SOUND_RATE)


@lru_cache(maxsize=4)
def heard(recording: Recording) -> Signal:
    """A recording decoded whole into a file that is mapped and has no name any more (where the system
    lets go of mapped files only later, it stays in the folder for such files). Raises Faulty at the place
    where the script names it.
    """
    with TemporaryDirectory(prefix="fretscene-", ignore_cleanup_errors=True) as folder:
        return decode(Path(recording.path), recording.place, Path(folder) / "sound.npy")


class Listener:
    """Gets recordings as `heard` does, and keeps what authors should know of those that can be used."""

    def __init__(self) -> None:
        self.cautions: list[Fault] = []

    def __call__(self, recording: Recording) -> Signal:
        signal = heard(recording)
        if signal.clipping:
            told = f"caution: {Path(recording.path).name} is {signal.clipping}"
            remedy = "record it again with less gain: slowed down, clipping is heard more"
            self.cautions.append(Fault(recording.place, told, remedy))
        return signal


def soundtrack(scene: Scene, listen: Listen = heard, samples: int | None = None) -> Signal:
    """The scene's sound in stereo at 48 kHz, `samples` long (its frames' length by default).

    Raises Faulty for a recording that cannot be used.
    """
    length = scene.duration if samples is None else samples * SAMPLE
    return mixed(parts(scene, listen), length)


def sound_blocks(scene: Scene, listen: Listen = heard) -> Iterator[Signal]:
    """The same in blocks of ten seconds, of which an hour needs little memory."""
    return mix_blocks(parts(scene, listen), scene.duration)


def segment_sounds(segment: Segment, listen: Listen = heard) -> Iterator[Signal]:
    """The sound of each scene of a segment; end to end they last the segment's length to the sample."""
    for start, scene in segment.starts():
        first, last = (round(second * SOUND_RATE) for second in (start, start + scene.duration))
        yield soundtrack(scene, listen, last - first)


def parts(scene: Scene, listen: Listen = heard) -> list[Part]:
    """Everything that sounds in a scene, matched in loudness and laid at its second.

    What is played several times is made once.
    """
    once = cache(listen)
    made: dict[Sounding, Signal] = {}
    for sound in scene.sounds:
        if _alike(sound) not in made:
            made[_alike(sound)] = _signal(sound, once)
    gains = _Gains(made, once)
    return [_part(sound, made[_alike(sound)], gains(sound)) for sound in scene.sounds]


def _alike(sound: Sounding) -> Sounding:
    """The sound wherever it stands."""
    return replace(sound, start=Fraction(0))


class _Gains:
    """The factor for each sound of a scene: one for all excerpts of a passage, one for each speed of the
    guide, one for a voice. A gain in decibels that the script asks for stands on top.
    """

    def __init__(self, made: dict[Sounding, Signal], listen: Listen) -> None:
        self._made, self._listen = made, listen
        self._guide, self._recorded = cache(self._guide_gain), cache(self._recorded_gain)

    def __call__(self, sound: Sounding) -> float:
        if isinstance(sound, ClickSound):
            return click_gain(SOURCE_LUFS)
        if isinstance(sound, GuideSound):
            return self._guide(sound.speed)
        passage = sound.passage if isinstance(sound, ExcerptSound) else None
        return self._recorded(sound.recording, passage) * float(10.0 ** (float(sound.gain) / 20.0))

    def _guide_gain(self, speed: Fraction) -> float:
        made = self._made.items()
        return matching_gain(*(one for of, one in made if isinstance(of, GuideSound) and of.speed == speed))

    def _recorded_gain(self, recording: Recording, passage: Span | None) -> float:
        signal = self._listen(recording)
        if passage is None:
            return matching_gain(signal)
        return matching_gain(signal.cut(passage.start, min(passage.end, signal.duration)))


def _signal(sound: Sounding, listen: Listen) -> Signal:
    if isinstance(sound, ClickSound):
        return Signal(click(sound.accent), SOUND_RATE)
    if isinstance(sound, GuideSound):
        return play(sound.fragment, sound.moments, sound.length, SOUND_RATE)
    recording = listen(sound.recording)
    if isinstance(sound, VoiceSound):
        return recording
    _reaching(sound, recording.duration)
    span = Span("clip", sound.span.start, min(sound.span.end, recording.duration))
    return stretch(recording, span, sound.speed, sound.anchors, sound.loose)


def _reaching(sound: ExcerptSound, duration: Fraction) -> None:
    """Raise Faulty where a recording that does not state its length ends before what is played of it."""
    needed = max(
        (a for a in sound.anchors if sound.span.start <= a < sound.span.end), default=sound.span.start
    )
    if needed >= duration:
        name = Path(sound.recording.path).name
        wrong = f"{name} ends at {float(duration):.3f} s, before the note at {float(needed):.3f} s"
        raise faulty(sound.recording.place, wrong, "play fewer bars, or mend its span or its marks")


def _part(sound: Sounding, signal: Signal, gain: float) -> Part:
    if isinstance(sound, ClickSound):
        return Part(signal, sound.start, gain, Fraction(0), role="click")
    if isinstance(sound, GuideSound):
        return Part(signal, sound.start, gain, Fraction(0), sound.fade_out)
    if isinstance(sound, VoiceSound):
        return Part(signal, sound.start, gain, FADE, FADE, "voice")
    return Part(signal, sound.start, gain, sound.fade_in, sound.fade_out)
