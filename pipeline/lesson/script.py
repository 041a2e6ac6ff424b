"""The script as it is written: an episode of segments of scenes, every key with its type and its meaning.

`read_script` reads a file into these types and notes every fault of form. What one part says of another (a
scene naming a clip) is `check`'s to judge.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from pipeline.errors import Fault, Faulty, faulty
from pipeline.lesson.material import (
    ClipKeys,
    FootageKeys,
    FragmentKeys,
    FrameKeys,
    GuitarKeys,
    SpokenKeys,
    VoiceKeys,
)
from pipeline.lesson.mending import Gaps, Mended, read_mended
from pipeline.lesson.paper import HandoutKeys
from pipeline.lesson.shown import ViewKeys, view_line
from pipeline.lesson.values import At, Growth, Keys, Lasting, Name, NotEmpty, Percent, Range, Seconds, Words
from pipeline.source import Source, read_yaml

NONE = "none"
"""What a scene writes where its segment names a fragment or a clip and it wants none."""
ReadingName = Literal["written", "filled", "best", "second", "third", "fourth", "fifth"]
TransitionKind = Literal["cut", "dip", "dissolve"]

if TYPE_CHECKING:
    ViewLine = ViewKeys
else:
    ViewLine = view_line()


class HoldKeys(Keys):
    """A stop in the playing, to look at a moment."""

    at: At
    """The moment of the fragment."""
    lasting: Lasting
    """Seconds it stays."""
    in_pass: int | None = Field(default=None, ge=1)
    """Only in this pass, counted from 1; by default in every one."""


class ZoomKeys(Keys):
    """A closer look at one view, from one moment to another: it is drawn larger, alone on the frame."""

    into: str
    """The view, as named by its `show`."""
    at: At
    """The moment of the fragment at which it is closest."""
    until: At | None = None
    """The moment at which it goes back; by default the end of the pass."""
    by: Growth = Fraction(3, 2)
    """How many times larger its type and lines are."""
    in_pass: int | None = Field(default=None, ge=1)
    """Only in this pass, counted from 1; by default in every one."""


class TransitionKeys(Keys):
    """How a scene follows the one before it in the segment's film."""

    kind: TransitionKind = "cut"
    """`cut`: at once; `dip`: out to the ground and in again; `dissolve`: out of the last frame before."""
    lasting: Seconds = Fraction(1, 2)
    """Seconds it takes, within this scene's own time."""


def _one(key: str) -> Callable[[Any], Any]:
    """A short form: the value of one key instead of the whole mapping."""

    def full(value: Any) -> Any:
        return {key: value} if isinstance(value, str) else value

    return full


def _several(value: Any) -> Any:
    return (value,) if isinstance(value, str | int | float) and not isinstance(value, bool) else value


def _captions(value: Any) -> Any:
    lines = (value,) if isinstance(value, str | dict) else value
    if not isinstance(lines, tuple):
        return lines
    return tuple({"text": line} if isinstance(line, str) else line for line in lines)


Transition = Annotated[
    TransitionKeys,
    BeforeValidator(_one("kind"), json_schema_input_type=TransitionKeys | TransitionKind),
]
Voice = Annotated[VoiceKeys, BeforeValidator(_one("file"), json_schema_input_type=VoiceKeys | str)]
Speeds = Annotated[
    tuple[Percent, ...], BeforeValidator(_several, json_schema_input_type=tuple[Percent, ...] | Percent)
]
Spoken = Annotated[
    tuple[SpokenKeys, ...],
    BeforeValidator(_captions, json_schema_input_type=tuple[SpokenKeys | str, ...] | SpokenKeys | str),
]


class PlayingKeys(Keys):
    """What is played and how. These keys flow down: episode, segment, scene; the innermost one counts."""

    look: str | None = None
    """The look's name, or a look file of your own."""
    arrangement: str | None = None
    """How the views share the frame."""
    fragment: Name | None = None
    """The written passage that is played; `none` where a segment names one and a scene plays nothing."""
    clip: Name | None = None
    """The recording that is heard; without one (or with `none`) a plucked string plays the fragment. Where a
    scene names a clip and plays no fragment, the clip is heard whole."""
    speeds: Speeds | None = None
    """Percent of full speed, one pass each, such as `[100, 50, 25]` (10 to 100)."""
    count_in: int | None = Field(default=None, ge=0, le=32)
    """Clicks before each new speed."""
    loops: int | None = Field(default=None, ge=1, le=200)
    """How often each speed is played."""
    pause: Seconds | None = None
    """Seconds of stillness between passes."""
    lead: Seconds | None = None
    """Seconds of stillness before the first click or note."""
    tail: Seconds | None = None
    """Seconds of stillness after the last note."""
    transition: Transition | None = None
    """How a scene follows the one before it: `cut`, `dip`, `dissolve`, or with its length."""


class SceneKeys(PlayingKeys):
    """A scene: what is heard, said and shown over one span of the segment."""

    id: Name
    """Its name, unlike any other scene's; files are called after it."""
    title: Words | None = None
    """What it is about; the chapter's name in the film. Without one a title that it shows is taken."""
    bars: Range | None = None
    """Only these bars of the fragment, such as `2-3`."""
    notes: Range | None = None
    """Only these notes of the fragment, counted from 1, such as `5-16`."""
    readings: tuple[ReadingName, ...] | None = None
    """Answers to where it is played, the first shown everywhere: `written`, `filled` (open fingers and
    strokes are found), `best`, `second` and so on (all places are found)."""
    duration: Lasting | None = None
    """Seconds the scene lasts at least; needed where nothing is played."""
    views: Annotated[tuple[ViewLine, ...], NotEmpty]
    """What is shown, in the order of the arrangement."""
    spoken: Spoken = ()
    """Words that are spoken, as captions: one text, or a list with times."""
    voice: Voice | None = None
    """A recorded voice over it."""
    footage: FootageKeys | None = None
    """Film in it or under it."""
    holds: tuple[HoldKeys, ...] = ()
    """Stops in the playing."""
    zooms: tuple[ZoomKeys, ...] = ()
    """Closer looks."""


class PosterKeys(Keys):
    """The picture that stands for a segment's film."""

    scene: Name
    """The id of one of the segment's scenes."""
    second: Seconds | None = None
    """The second of that scene; by default its title, or a note in the middle of what it plays."""


Poster = Annotated[PosterKeys, BeforeValidator(_one("scene"), json_schema_input_type=PosterKeys | Name)]


class SegmentKeys(PlayingKeys):
    """A segment: scenes that make one video."""

    id: Name
    """Its name, unlike any other segment's; files are called after it."""
    title: Words
    """The video's title."""
    scenes: Annotated[tuple[SceneKeys, ...], NotEmpty]
    """Its scenes, in order."""
    poster: Poster | None = None
    """The picture that stands for its film: a scene, or a scene and a second; by default the first scene
    with a title, else the first that plays something."""


class Episode(PlayingKeys):
    """A whole lesson script."""

    title: Words
    """The lesson's title."""
    teacher: Words
    """Who teaches it."""
    language: str = Field(default="en", pattern=r"^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*$")
    """The language of its words, as a BCP 47 tag such as `en` or `de-CH`."""
    frame: FrameKeys = FrameKeys()
    """The film's frame."""
    guitar: GuitarKeys = GuitarKeys()
    """The instrument."""
    habits: str | None = None
    """What the player tends to do: the name of built-in habits, or a file of your own."""
    clips: dict[Name, ClipKeys] = Field(default_factory=dict)
    """The recordings, by name."""
    fragments: dict[Name, FragmentKeys] = Field(default_factory=dict)
    """The written passages, by name."""
    segments: Annotated[tuple[SegmentKeys, ...], NotEmpty]
    """The segments, in order."""
    handout: HandoutKeys | None = None
    """What the handout holds; by default every passage with its positions and a practice plan."""
    credits: tuple[Words, ...] = ()
    """Lines for the end of the handout and the film's description."""

    def scene(self, name: str) -> tuple[SegmentKeys, SceneKeys] | None:
        """A scene by its id, with its segment."""
        pairs = ((segment, scene) for segment in self.segments for scene in segment.scenes)
        return next((pair for pair in pairs if pair[1].id == name), None)


DEFAULTS: dict[str, Any] = {
    "look": "dusk",
    "speeds": (Fraction(100),),
    "count_in": 0,
    "loops": 1,
    "pause": Fraction(1),
    "lead": Fraction(1, 2),
    "tail": Fraction(1),
    "transition": TransitionKeys(),
}


def flowing(key: str, *levels: PlayingKeys) -> Any:
    """The value of a key that flows down: the first that is set, innermost level first, else the default."""
    for level in levels:
        value = getattr(level, key)
        if value is not None:
            return value
    return DEFAULTS.get(key)


@dataclass(frozen=True)
class Script:
    """A script that was read: where it lies, its source with all places, and the episode it describes.

    Where its form is wrong, `faults` say so, and what they concern is missing from the episode or stood in
    for, at the paths in `gaps`.
    """

    folder: Path
    source: Source = field(repr=False)
    episode: Episode
    allow_outside: bool = False
    """Whether files outside the script's folder may be read."""
    faults: tuple[Fault, ...] = ()
    gaps: Gaps = frozenset()


def read_script(path: Path, allow_outside: bool = False) -> Script:
    """Read what can be read of a script. Raises Faulty where that is nothing."""
    source = read_yaml(path, patient=True)
    read = _read(source)
    if read.model is None:
        raise Faulty((*source.faults, *read.faults))
    told = {fault.place for fault in source.faults}
    faults = (*source.faults, *(fault for fault in read.faults if fault.place not in told))
    return Script(path.resolve().parent, source, read.model, allow_outside, faults, read.gaps)


def episode_of(source: Source) -> Episode:
    """The episode in a YAML source. Raises Faulty with every fault of its form."""
    read = _read(source)
    if read.model is None or read.faults:
        raise Faulty(read.faults)
    return read.model


def _read(source: Source) -> Mended[Episode]:
    if not isinstance(source.data, dict):
        raise faulty(source.place(), "this is no script", "write keys such as title, teacher and segments")
    return read_mended(source, Episode)
