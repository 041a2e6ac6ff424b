"""What is heard in a scene, as plain data: excerpts, the guide, clicks, a voice; each with its second.

Nothing here is sound yet; `soundtrack` makes it.
"""

from dataclasses import dataclass, field
from fractions import Fraction

from pipeline.errors import Place
from pipeline.music.fragment import Fragment
from pipeline.timing import Span, TimeMap


@dataclass(frozen=True)
class Recording:
    """A sound or film file: where it is, the digest of its bytes, and where the script names it."""

    path: str = field(compare=False)
    digest: str
    place: Place = field(compare=False)
    rights: str = ""


@dataclass(frozen=True)
class ExcerptSound:
    """A span of a recording at a speed, from a scene second on, faded in and out over so many seconds."""

    recording: Recording
    span: Span
    speed: Fraction
    anchors: tuple[Fraction, ...]
    loose: frozenset[int]
    start: Fraction
    gain: Fraction
    fade_in: Fraction
    fade_out: Fraction
    passage: Span
    """Seconds of the recording whose loudness sets the gain that all excerpts of the passage share."""


@dataclass(frozen=True)
class GuideSound:
    """The fragment on plucked strings, from a scene second on; `moments` maps beats to seconds after it.

    What is played at one `speed` shares a gain.
    """

    fragment: Fragment
    moments: TimeMap
    start: Fraction
    length: Fraction
    fade_out: Fraction
    speed: Fraction = Fraction(1)


@dataclass(frozen=True)
class ClickSound:
    """One click of the count-in at a scene second."""

    start: Fraction
    accent: bool


@dataclass(frozen=True)
class VoiceSound:
    """A recorded voice from a scene second on."""

    recording: Recording
    start: Fraction
    gain: Fraction


Sounding = ExcerptSound | GuideSound | ClickSound | VoiceSound
