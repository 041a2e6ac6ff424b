"""Which sounds a scene is made of, and when: the excerpts or the guide, the clicks, the voice."""

from collections.abc import Iterator
from fractions import Fraction

from pipeline.lesson.heard import ClickSound, ExcerptSound, GuideSound, Recording, Sounding, VoiceSound
from pipeline.lesson.plan import Levels
from pipeline.lesson.timeline import Following, Piece, Timeline
from pipeline.music.fragment import Fragment
from pipeline.timing import TimeMap

SHORT_FADE = Fraction(1, 200)
EDGE_FADE = Fraction(1, 1000)
"""Where a sound must begin at once."""
RUN_UP_FADE = Fraction(1, 100)
RING_FADE = Fraction(1, 2)
GUIDE_RING = Fraction(3, 2)
"""Seconds the guide's last note may ring on."""


def soundings(
    levels: Levels,
    fragment: Fragment | None,
    times: Timeline,
    following: Following | None,
    recording: Recording | None,
    voice: Recording | None,
) -> tuple[Sounding, ...]:
    """Every sound of a scene, in order of time."""
    found: list[Sounding] = [ClickSound(click.moment, click.accent) for click in times.clicks]
    found += _played(levels, fragment, times, following, recording)
    keys = levels.scene.voice
    if keys is not None and voice is not None:
        found.append(VoiceSound(voice, keys.at, keys.gain))
    return tuple(sorted(found, key=lambda sound: sound.start))


def _played(
    levels: Levels,
    fragment: Fragment | None,
    times: Timeline,
    following: Following | None,
    recording: Recording | None,
) -> Iterator[Sounding]:
    for piece in times.pieces:
        if piece.excerpt is None or recording is None or following is None or levels.clip is None:
            if fragment is not None:
                yield _guide(fragment, piece, times)
            continue
        rings = piece.heard_until - piece.span.end
        yield ExcerptSound(
            recording,
            piece.excerpt,
            piece.speed,
            following.anchors,
            following.loose,
            piece.start,
            levels.clip[1].gain,
            min(RUN_UP_FADE, max(EDGE_FADE, piece.span.start - piece.start)),
            min(RING_FADE, max(SHORT_FADE, rings)),
            following.passage or following.limits,
        )


def _guide(fragment: Fragment, piece: Piece, times: Timeline) -> GuideSound:
    """The guide over a piece: its notes alone, the last one left to ring where the pass ends there."""
    notes = tuple(note for note in fragment.notes if note.onset in piece.beats)
    start = piece.span.start
    moments = TimeMap("beat", "excerpt", tuple((a, b - start) for a, b in piece.moments.points))
    ends = piece is times.of_pass(piece.number)[-1]
    length = piece.span.length + (GUIDE_RING if ends else Fraction(0))
    fade = RING_FADE if ends else SHORT_FADE
    return GuideSound(fragment.with_notes(notes), moments, start, length, fade, piece.speed)
