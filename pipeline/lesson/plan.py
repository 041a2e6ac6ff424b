"""From a scene's keys to its times: what flows down, which beats are played, how the recording follows."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from pipeline.lesson.material import ClipKeys
from pipeline.lesson.part import Part
from pipeline.lesson.script import NONE, Episode, PlayingKeys, SceneKeys, SegmentKeys, flowing
from pipeline.lesson.timeline import NOTHING, RING, Following, Plan, Stop
from pipeline.timing import Span, TimeMap

NEVER = Fraction(10**6)
"""A clip whose file does not say how long it is ends here."""


@dataclass(frozen=True)
class Levels:
    """A scene among what flows down to it."""

    episode: Episode
    segment: SegmentKeys
    scene: SceneKeys

    @cached_property
    def innermost_first(self) -> tuple[PlayingKeys, ...]:
        return self.scene, self.segment, self.episode

    def value(self, key: str) -> object:
        """The value of a key that flows down."""
        return flowing(key, *self.innermost_first)

    def number(self, key: str) -> Fraction:
        """The value of a key that is a number."""
        value = self.value(key)
        assert isinstance(value, int | Fraction)
        return Fraction(value)

    @property
    def fragment(self) -> str | None:
        """The name of the passage that is played."""
        value = self.value("fragment")
        return str(value) if value not in (None, NONE) else None

    @property
    def clip(self) -> tuple[str, ClipKeys] | None:
        """The recording that is heard, with its name; without a fragment only one the scene itself names."""
        name = self.value("clip") if self.fragment is not None else self.scene.clip
        if name is None or name == NONE:
            return None
        return str(name), self.episode.clips[str(name)]

    @property
    def speeds(self) -> tuple[Fraction, ...]:
        """One speed a pass; 1 is full speed."""
        value = self.value("speeds")
        assert isinstance(value, tuple)
        return tuple(percent / 100 for percent in value)


def plan_of(levels: Levels, part: Part | None, length: Fraction | None, at_least: Fraction) -> Plan:
    """The plan of a scene. `length` is how long the clip's file is, where it says."""
    holds = levels.scene.holds if part else ()
    stops = tuple(Stop(part.beat(hold.at), hold.lasting, hold.in_pass) for hold in holds if part)
    following = following_of(levels, part, length)
    return Plan(
        part.fragment if part else None,
        part.beats if part else _whole(following),
        levels.speeds,
        int(levels.number("loops")),
        int(levels.number("count_in")),
        levels.number("pause"),
        levels.number("lead"),
        levels.number("tail"),
        stops,
        following,
        part is not None and part.start + part.beats.end == part.whole.length,
        at_least,
    )


def _whole(following: Following | None) -> Span:
    """Without a passage a clip is played whole, its seconds taken for beats."""
    return Span("beat", Fraction(0), following.limits.length) if following else NOTHING


def following_of(levels: Levels, part: Part | None, length: Fraction | None) -> Following | None:
    """How a scene's recording follows its part of the passage; its own seconds where nothing is written."""
    if levels.clip is None:
        return None
    _, clip = levels.clip
    limits = Span("clip", *(clip.span or (Fraction(0), length or NEVER)))
    if part is None:
        straight = TimeMap.linear("beat", "clip", Fraction(0), limits.start, Fraction(1))
        return Following(straight, limits, (), frozenset())
    seconds = part.seconds(clip)
    if seconds is None:
        return None
    onsets: dict[Fraction, bool] = {}
    for note in part.fragment.notes:
        if not note.grace and note.attack != "tie":
            onsets[note.onset] = onsets.get(note.onset, True) and note.attack == "slide"
    ordered = sorted(onsets)
    loose = frozenset(index for index, onset in enumerate(ordered) if onsets[onset])
    anchors = tuple(seconds(onset) for onset in ordered)
    return Following(seconds, limits, anchors, loose, _passage(part, seconds, limits))


def _passage(part: Part, seconds: TimeMap, limits: Span) -> Span | None:
    """The clip's seconds of the whole passage and its last note's ring, as far as the clip goes."""
    start = max(limits.start, seconds(-part.start))
    end = min(limits.end, seconds(part.whole.length - part.start) + RING)
    return Span("clip", start, end) if start < end else None
