"""When everything of a scene happens: passes, clicks, holds, excerpts, in exact seconds.

One map leads from the fragment's beats to the scene's seconds, and the excerpt's sound is laid by the same
map, so picture and sound cannot drift. Where a scene has a clip the map goes beat, clip second (marks or
tempo), excerpt second (`stretch_map`, which needs no sound), scene second; else the guide plays at the
fragment's tempo times the speed.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from pipeline.music.fragment import Fragment
from pipeline.sound.slowmap import stretch_map
from pipeline.timing import Rate, Span, TimeMap
from pipeline.views.stage import Pass

SOUND_RATE = 48000
"""Samples a second of every sound that is made."""
RUN_UP = Fraction(1, 50)
"""Seconds of the recording heard before the first beat, so that its attack is whole."""
HELD_RUN_UP = Fraction(1, 200)
"""The same after a hold, where the note before was heard already."""
RING = Fraction(3, 2)
"""Seconds of the recording after the last beat of a fragment's end, for the last note to ring."""
ZERO = Fraction(0)
NOTHING = Span("beat", ZERO, ZERO)


@dataclass(frozen=True)
class Following:
    """How a recording follows the fragment: beat to clip second, the clip's limits, where attacks lie.

    `loose` holds the indexes of anchors whose attack must not be copied (slides into a note).
    """

    seconds: TimeMap
    limits: Span
    anchors: tuple[Fraction, ...]
    loose: frozenset[int]
    passage: Span | None = None
    """Seconds of the clip that hold the whole passage and its ring, whatever part of it is played."""


@dataclass(frozen=True)
class Stop:
    """A hold: at a beat, for so many seconds, in one pass (from 1) or in all."""

    beat: Fraction
    lasting: Fraction
    number: int | None = None


@dataclass(frozen=True)
class Plan:
    """What a scene plays, before it has times."""

    fragment: Fragment | None
    beats: Span = NOTHING
    speeds: tuple[Fraction, ...] = (Fraction(1),)
    loops: int = 1
    count_in: int = 0
    pause: Fraction = ZERO
    lead: Fraction = ZERO
    tail: Fraction = ZERO
    stops: tuple[Stop, ...] = ()
    following: Following | None = None
    rings: bool = True
    """Whether the last beat is the fragment's end, so that its last note may ring on."""
    at_least: Fraction = ZERO


@dataclass(frozen=True)
class Click:
    """A click of the count-in, in scene seconds; accented on a bar's first beat."""

    moment: Fraction
    accent: bool


@dataclass(frozen=True)
class Piece:
    """A pass, or the part of one between two holds.

    `excerpt` is the clip's span that is heard (run-up and ring included) and `start` the scene second at
    which it begins; without a clip the span is None and `start` that of the beats.
    """

    number: int
    speed: Fraction
    beats: Span
    moments: TimeMap
    start: Fraction
    excerpt: Span | None = None
    clip_moments: TimeMap | None = None

    @property
    def span(self) -> Span:
        """When its beats sound, in scene seconds."""
        return Span("scene", self.moments(self.beats.start), self.moments(self.beats.end))

    @property
    def heard_until(self) -> Fraction:
        """The scene second at which the excerpt ends."""
        if self.excerpt is None:
            return self.span.end
        return self.start + self.excerpt.length / self.speed


@dataclass(frozen=True)
class Timeline:
    """A scene's exact times."""

    pieces: tuple[Piece, ...]
    clicks: tuple[Click, ...]
    frames: int
    duration: Fraction
    """`frames` whole frames, in seconds."""

    @property
    def passes(self) -> tuple[Pass, ...]:
        """What views are told of the pieces."""
        return tuple(Pass(piece.beats, piece.moments, piece.speed) for piece in self.pieces)

    def second_of(self, beat: Fraction | None, number: int) -> Fraction:
        """The scene second of a beat in a pass (from 1); None is the pass's end."""
        pieces = self.of_pass(number)
        chosen = next((one for one in pieces if beat is not None and beat in one.beats), pieces[-1])
        return chosen.moments(min(beat, chosen.beats.end) if beat is not None else chosen.beats.end)

    def of_pass(self, number: int) -> tuple[Piece, ...]:
        """The pieces of one pass, counted from 1."""
        return tuple(piece for piece in self.pieces if piece.number == number)


def laid_out(plan: Plan, rate: Rate) -> Timeline:
    """Lay a plan out in time; its length is rounded up to whole frames."""
    pieces: list[Piece] = []
    clicks: list[Click] = []
    now = plan.lead
    for number, speed, first in _passes(plan):
        if number > 1:
            now += plan.pause
        if first:
            clicks += _count_in(plan, speed, now)
            now += plan.count_in * _click_length(plan, speed)
        made = list(_pieces(plan, number, speed, now))
        pieces += made
        now = made[-1].span.end
    frames = rate.frames_in(max(now + plan.tail, plan.at_least))
    return Timeline(tuple(pieces), tuple(clicks), frames, rate.time_of(frames))


def _passes(plan: Plan) -> Iterator[tuple[int, Fraction, bool]]:
    """Number, speed, and whether the speed is new, of every pass."""
    if plan.fragment is None and plan.following is None:
        return
    number = 0
    for speed in plan.speeds:
        for loop in range(plan.loops):
            number += 1
            yield number, speed, loop == 0


def _pieces(plan: Plan, number: int, speed: Fraction, now: Fraction) -> Iterator[Piece]:
    """One pass, cut at its holds; each stop delays what follows it."""
    stops = sorted(
        (stop.beat, stop.lasting)
        for stop in plan.stops
        if stop.number in (None, number) and plan.beats.start <= stop.beat < plan.beats.end
    )
    start = plan.beats.start
    for beat, lasting in [*stops, (plan.beats.end, ZERO)]:
        if beat > start:
            piece = _piece(plan, number, speed, Span("beat", start, beat), now)
            yield piece
            now = piece.span.end
        now, start = now + lasting, beat


def _piece(plan: Plan, number: int, speed: Fraction, beats: Span, now: Fraction) -> Piece:
    if plan.following is None:
        tempo = plan.fragment.tempo if plan.fragment else Fraction(60)
        slope = Fraction(60) / (tempo * speed)
        moments = TimeMap.linear("beat", "scene", beats.start, now, slope)
        return Piece(number, speed, beats, moments, now)
    excerpt = _excerpt(plan, plan.following, beats, speed)
    stretched = stretch_map(excerpt, speed, plan.following.anchors, plan.following.loose, SOUND_RATE)
    first = stretched(plan.following.seconds(beats.start))
    start = max(ZERO, now - first)
    # The excerpt starts on a sample, so that the sound lies where the map says.
    start = Fraction(round(start * SOUND_RATE), SOUND_RATE)
    clip_moments = _to_scene(stretched, start)
    return Piece(
        number, speed, beats, plan.following.seconds.then(clip_moments), start, excerpt, clip_moments
    )


def _to_scene(stretched: TimeMap, start: Fraction) -> TimeMap:
    return TimeMap("clip", "scene", tuple((a, b + start) for a, b in stretched.points))


def _excerpt(plan: Plan, following: Following, beats: Span, speed: Fraction) -> Span:
    """The span of the clip that is heard for some beats, on whole samples."""
    first, last = following.seconds(beats.start), following.seconds(beats.end)
    ends = plan.rings and beats.end == plan.beats.end
    run_up = RUN_UP if beats.start == plan.beats.start else HELD_RUN_UP
    start = max(following.limits.start, first - run_up)
    end = min(following.limits.end, last + (RING * speed if ends else ZERO))
    return Span("clip", _on_sample(start), _on_sample(max(end, last)))


def _on_sample(second: Fraction) -> Fraction:
    return Fraction(round(second * SOUND_RATE), SOUND_RATE)


def _click_length(plan: Plan, speed: Fraction) -> Fraction:
    """Scene seconds of one click: a count of the meter at the pass's mean tempo."""
    if plan.fragment is None or not plan.count_in:
        return ZERO
    count = plan.fragment.measures[plan.fragment.measure_at(plan.beats.start)].count
    if plan.following is None:
        return count * 60 / (plan.fragment.tempo * speed)
    seconds = plan.following.seconds(plan.beats.end) - plan.following.seconds(plan.beats.start)
    return count * seconds / plan.beats.length / speed


def _count_in(plan: Plan, speed: Fraction, now: Fraction) -> Iterator[Click]:
    """Clicks that lead to the first beat; a bar's first beat is accented."""
    if plan.fragment is None:
        return
    measure = plan.fragment.measures[plan.fragment.measure_at(plan.beats.start)]
    missing = measure.beats * measure.count - measure.length if measure.start == 0 else ZERO
    phase = (plan.beats.start - measure.start + max(missing, ZERO)) / measure.count
    for index in range(plan.count_in):
        beat = phase - (plan.count_in - index)
        yield Click(now + index * _click_length(plan, speed), beat % measure.beats == 0)
