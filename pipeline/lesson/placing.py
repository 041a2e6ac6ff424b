"""Where a scene's views stand, when each is shown, what its stage holds, and the zooms into them."""

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from pipeline.drawing.look import Look
from pipeline.drawing.picture import Box
from pipeline.errors import Place
from pipeline.files.images import read_image
from pipeline.lesson.allotted import allotted, needed, whole_room
from pipeline.lesson.arrange import Composition, Placed, Zoom, closer_look
from pipeline.lesson.heard import Recording
from pipeline.lesson.part import Part
from pipeline.lesson.plan import Levels
from pipeline.lesson.rooms import Need, type_height
from pipeline.lesson.script import SceneKeys
from pipeline.lesson.shown import ViewKeys
from pipeline.lesson.timeline import Following, Timeline
from pipeline.lesson.values import Moment
from pipeline.music.fragment import Fragment, Measure
from pipeline.reasoning.reading import Reading
from pipeline.views.footage import Footage as FootageView
from pipeline.views.stage import Heard, Pass, Stage

DEFAULT_ARRANGEMENT = "stack"
SOUND_VIEW = "sound"
"""The view that draws what is heard."""
ON_THE_NECK = ("nodes", "scalemap")
"""Views that need a guitar, and no passage."""


@dataclass(frozen=True)
class Playing:
    """What a scene plays, laid out in time."""

    part: Part | None
    fragment: Fragment | None
    """The part's fragment in the reading that is shown."""
    readings: tuple[Reading, ...]
    following: Following | None
    recording: Recording | None
    times: Timeline


@dataclass(frozen=True)
class PictureFile:
    """A picture that the footage view holds, and where the script names it."""

    path: Path
    place: Place


@dataclass(frozen=True)
class Seen:
    """What single views draw beside the music: the excerpt's sound, a picture."""

    heard: Heard | None = None
    picture: PictureFile | None = None


def composition_of(levels: Levels, playing: Playing, look: Look, seen: Seen) -> Composition:
    """A scene's views on the frame. Raises Faulty for a picture that cannot be read."""
    placed = _placed(levels, playing, look, seen)
    size = levels.episode.frame.size
    return Composition(*size, placed, _zooms(levels.scene, playing, look, placed, whole_room(size)))


def _placed(levels: Levels, playing: Playing, look: Look, seen: Seen) -> tuple[Placed, ...]:
    """Every view in its box: those that take room as arranged, the others over the safe area."""
    width, height = levels.episode.frame.size
    views = levels.scene.views
    arrangement = str(levels.value("arrangement") or DEFAULT_ARRANGEMENT)

    def stage_in(view: ViewKeys, box: Box) -> Stage:
        sound = seen.heard if view.show == SOUND_VIEW else None
        stage = _stage(playing, look, box, type_height(width, height), _shown(view, playing), sound)
        silent = view.show in ON_THE_NECK and stage.fragment is None
        return replace(stage, fragment=_silent(levels)) if silent else stage

    def need_of(view: ViewKeys, wide: float) -> Need:
        return needed(view.made(), stage_in(view, Box(0.0, 0.0, wide, 1.0)))

    placed = []
    for view, box in zip(views, allotted(arrangement, (width, height), views, need_of), strict=True):
        since, until = _shown(view, playing)
        made, stage = view.made(), stage_in(view, box)
        if isinstance(made, FootageView) and seen.picture is not None:
            made, stage = _pictured(made, stage, seen.picture)
        placed.append(Placed(view.show, made, stage, box, since, until))
    return tuple(placed)


def _silent(levels: Levels) -> Fragment:
    """The episode's guitar with nothing played on it, for what is shown of a neck alone."""
    whole = Measure(Fraction(0), Fraction(4), 4, 4)
    return Fragment("", levels.episode.guitar.made(), (), (whole,), Fraction(120))


def _pictured(view: FootageView, stage: Stage, file: PictureFile) -> tuple[FootageView, Stage]:
    """The view with the picture in it, in the picture's own shape where the script states none."""
    pixels = read_image(file.path, file.place, (stage.width, stage.height), view.shape)
    return replace(view, shape=view.shape or pixels.width / pixels.height), replace(stage, footage=pixels)


def _shown(view: ViewKeys, playing: Playing) -> tuple[Fraction, Fraction]:
    """The scene seconds between which a view is shown."""
    duration = playing.times.duration
    since = _second(view.since, playing) if view.since is not None else Fraction(0)
    until = _second(view.until, playing) if view.until is not None else duration
    return min(since, duration), max(min(until, duration), min(since, duration))


def _zooms(keys: SceneKeys, playing: Playing, look: Look, placed: tuple[Placed, ...],
           room: Box) -> tuple[Zoom, ...]:  # fmt: skip
    """Every zoom in every pass it is for, in order of time."""
    names = [view.show for view in keys.views]
    glide = Fraction(look.seconds("page")).limit_denominator(1000)
    found = []
    for zoom in keys.zooms:
        for number in {piece.number for piece in playing.times.pieces}:
            if playing.part is None or zoom.in_pass not in (None, number):
                continue
            start = playing.times.second_of(playing.part.beat(zoom.at), number)
            until = playing.part.beat(zoom.until) if zoom.until else None
            end = playing.times.second_of(until, number)
            view, by = names.index(zoom.into), float(zoom.by)
            closer = closer_look(placed[view], room, by)
            found.append(Zoom(view, start, end, by, glide, closer))
    return tuple(sorted(found, key=lambda zoom: zoom.start))


def _second(when: Moment | Fraction, playing: Playing) -> Fraction:
    if isinstance(when, Fraction) or playing.part is None:
        return when if isinstance(when, Fraction) else Fraction(0)
    return playing.times.second_of(playing.part.beat(when), 1)


def _stage(
    playing: Playing,
    look: Look,
    box: Box,
    height: int,
    shown: tuple[Fraction, Fraction],
    heard: Heard | None,
) -> Stage:
    """The stage of a view; its seconds count from when the view comes."""
    since, until = shown
    played = playing.times.passes if playing.part else ()
    passes = tuple(Pass(one.beats, one.moments.shifted(-since), one.speed) for one in played)
    clicks = tuple(click.moment - since for click in playing.times.clicks)
    sound = replace(heard, moments=tuple(one.shifted(-since) for one in heard.moments)) if heard else None
    size, lasting = (round(box.width), round(box.height)), until - since
    return Stage(*size, look, lasting, playing.fragment, passes, clicks, playing.readings, sound, height)
