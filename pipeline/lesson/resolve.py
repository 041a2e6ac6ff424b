"""From a checked script to a lesson: fragments chosen, times laid out, views placed, sounds listed."""

import hashlib
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from pipeline.drawing.look import Look, load_look
from pipeline.drawing.picture import Box
from pipeline.errors import Faulty
from pipeline.lesson.answers import answers
from pipeline.lesson.arrange import Composition, Placed, Zoom
from pipeline.lesson.check import Checked, read_checked
from pipeline.lesson.check_files import file_length, habits_called
from pipeline.lesson.heard import Recording
from pipeline.lesson.lesson import Lesson, Right, Segment
from pipeline.lesson.lines import captions, markers
from pipeline.lesson.part import Part, part_of
from pipeline.lesson.plan import Levels, following_of, plan_of
from pipeline.lesson.proof import At, Proof
from pipeline.lesson.rooms import boxes
from pipeline.lesson.scene import Footage, Scene, Transition
from pipeline.lesson.script import SceneKeys, TransitionKeys, flowing
from pipeline.lesson.shown import ViewKeys
from pipeline.lesson.soundings import soundings
from pipeline.lesson.timeline import Following, Timeline, laid_out
from pipeline.lesson.values import Moment
from pipeline.music.fragment import Fragment
from pipeline.music.passage import performed
from pipeline.reasoning.reading import Reading
from pipeline.timing import Rate, TimeMap
from pipeline.views.stage import Heard, Pass, Stage

DEFAULT_ARRANGEMENT = "stack"
SOUND_VIEW = "sound"
"""The view that draws what is heard."""


def read_lesson(path: Path, allow_outside: bool = False) -> Lesson:
    """Read a script and resolve it. Raises Faulty with every fault at once."""
    return resolve(read_checked(path, allow_outside))


def resolve(checked: Checked) -> Lesson:
    """The lesson that a script describes. Raises Faulty where a reading that it asks for is not to be had."""
    return _Resolver(checked).lesson()


@dataclass(frozen=True)
class _Playing:
    """What a scene plays, laid out in time."""

    part: Part | None
    fragment: Fragment | None
    """The part's fragment in the reading that is shown."""
    readings: tuple[Reading, ...]
    following: Following | None
    recording: Recording | None
    times: Timeline


class _Resolver:
    """Resolves one script."""

    def __init__(self, checked: Checked) -> None:
        self.script = checked.script
        self.episode = checked.script.episode
        self.fragments = checked.fragments
        self.played = {name: performed(fragment) for name, fragment in checked.fragments.items()}
        self.proof = Proof(checked.script)
        self.rate = Rate(self.episode.frame.rate)

    def lesson(self) -> Lesson:
        """Everything."""
        episode = self.episode
        width, height = episode.frame.size
        segments = tuple(
            Segment(segment.id, segment.title, self.rate, tuple(self._scenes(number)))
            for number, segment in enumerate(episode.segments)
        )
        self.proof.stop_if_faulty()
        return Lesson(
            episode.title,
            episode.teacher,
            episode.language,
            self.rate,
            width,
            height,
            _look(str(flowing("look", episode)), self.script.folder),
            segments,
            tuple(self.fragments.items()),
            episode.handout,
            episode.credits,
            tuple(dict.fromkeys(self._rights())),
            habits_called(episode.habits, self.script.folder),
        )

    def _rights(self) -> list[Right]:
        """Whose recordings and films are in it, in the order of the script."""
        found = [Right(clip.file, "recording", clip.rights) for clip in self.episode.clips.values()]
        scenes = (scene for segment in self.episode.segments for scene in segment.scenes)
        found += (
            Right(scene.footage.file, "film", scene.footage.rights) for scene in scenes if scene.footage
        )
        return found

    def _scenes(self, number: int) -> list[Scene]:
        segment = self.episode.segments[number]
        return [
            self._scene(("segments", number, "scenes", index), Levels(self.episode, segment, scene))
            for index, scene in enumerate(segment.scenes)
        ]

    def _scene(self, at: At, levels: Levels) -> Scene:
        keys, look = levels.scene, self._look(levels)
        playing = self._playing(at, levels)
        times = playing.times
        composition = Composition(
            *self.episode.frame.size,
            self._placed(levels, playing, look),
            self._zooms(keys, playing, look),
        )
        voice = self._recording((*at, "voice", "file"), keys.voice.file) if keys.voice else None
        return Scene(
            keys.id,
            keys.title or "",
            self.rate,
            times.frames,
            look,
            composition,
            playing.fragment,
            times.passes,
            soundings(levels, playing.fragment, times, playing.following, playing.recording, voice),
            tuple(click.moment for click in times.clicks),
            captions(keys.spoken),
            markers(playing.part, times.pieces),
            self._footage(at, levels, times),
            _transition(levels.value("transition")),
            times.pieces[0].span.start if times.pieces else times.duration / 2,
        )

    def _look(self, levels: Levels) -> Look:
        return _look(str(levels.value("look")), self.script.folder)

    def _playing(self, at: At, levels: Levels) -> _Playing:
        at_least = self._at_least(levels.scene)
        if levels.fragment is None:
            times = laid_out(plan_of(levels, None, None, at_least), self.rate)
            return _Playing(None, None, (), None, None, times)
        whole = self.played[levels.fragment]
        readings, whole = answers(self.proof, (*at, "readings"), whole, levels.scene.readings)
        part = part_of(levels.scene, whole)
        length = file_length(self.script.folder / levels.clip[1].file) if levels.clip else None
        times = laid_out(plan_of(levels, part, length, at_least), self.rate)
        of_part = tuple(part.reading(reading) for reading in readings)
        following = following_of(levels, part, length)
        return _Playing(part, part.fragment, of_part, following, self._clip(levels), times)

    def _clip(self, levels: Levels) -> Recording | None:
        """The recording a scene plays."""
        if levels.clip is None:
            return None
        name, keys = levels.clip
        return self._recording(("clips", name, "file"), keys.file, keys.rights)

    def _heard(self, playing: _Playing, views: tuple[ViewKeys, ...]) -> Heard | None:
        """The sound that a view draws; decoded only where there is such a view."""
        if playing.part is None or playing.fragment is None or all(view.show != SOUND_VIEW for view in views):
            return None
        from pipeline.lesson.listen import heard_excerpt, heard_guide
        from pipeline.lesson.soundtrack import heard

        if playing.recording is None or playing.following is None:
            return heard_guide(playing.fragment, playing.part.beats, playing.times.pieces)
        try:
            return heard_excerpt(playing.recording, heard(playing.recording), playing.times.pieces)
        except Faulty as error:
            self.proof.take(error)
            return None

    def _at_least(self, keys: SceneKeys) -> Fraction:
        """How long a scene must last for its words, its voice and its stated duration."""
        ends = [keys.duration or Fraction(0), *(line.end for line in captions(keys.spoken))]
        if keys.voice is not None:
            length = file_length(self.script.folder / keys.voice.file)
            ends.append(keys.voice.at + (length or Fraction(0)))
        return max(ends)

    def _placed(self, levels: Levels, playing: _Playing, look: Look) -> tuple[Placed, ...]:
        """Every view in its box: those that take room as arranged, the others over the safe area."""
        width, height = self.episode.frame.size
        views = levels.scene.views
        arrangement = str(levels.value("arrangement") or DEFAULT_ARRANGEMENT)
        arranged = [view for view in views if not view.lies_over]
        rooms = iter(boxes(arrangement, width, height, [view.share for view in arranged]))
        placed, heard = [], self._heard(playing, views)
        for view in views:
            box = boxes("stack", width, height, [1.0])[0] if view.lies_over else next(rooms)
            since, until = self._shown(view, playing)
            sound = heard if view.show == SOUND_VIEW else None
            stage = _stage(playing, look, box, height, (since, until), sound)
            placed.append(Placed(view.show, view.made(), stage, box, since, until))
        return tuple(placed)

    def _shown(self, view: ViewKeys, playing: _Playing) -> tuple[Fraction, Fraction]:
        """The scene seconds between which a view is shown."""
        duration = playing.times.duration
        since = _second(view.since, playing) if view.since is not None else Fraction(0)
        until = _second(view.until, playing) if view.until is not None else duration
        return min(since, duration), max(min(until, duration), min(since, duration))

    def _zooms(self, keys: SceneKeys, playing: _Playing, look: Look) -> tuple[Zoom, ...]:
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
                found.append(Zoom(names.index(zoom.into), start, end, float(zoom.by), glide))
        return tuple(sorted(found, key=lambda zoom: zoom.start))

    def _footage(self, at: At, levels: Levels, times: Timeline) -> Footage | None:
        keys = levels.scene.footage
        if keys is None:
            return None
        recording = self._recording((*at, "footage", "file"), keys.file, keys.rights)
        along = [piece for piece in times.pieces if piece.clip_moments is not None]
        if not keys.slowed or not along:
            return Footage(
                recording, ((Fraction(0), TimeMap("scene", "clip", ((Fraction(0), keys.start),))),)
            )
        maps = []
        for piece in along:
            assert piece.clip_moments is not None
            maps.append((piece.start, piece.clip_moments.inverse.shifted(keys.start)))
        return Footage(recording, ((Fraction(0), maps[0][1]), *maps[1:]))

    def _recording(self, at: At, file: str, rights: str = "") -> Recording:
        path = self.script.folder / file
        details = path.stat()
        digest = _file_digest(path, details.st_mtime_ns, details.st_size)
        return Recording(str(path), digest, self.script.source.place(at), rights)


def _second(when: Moment | Fraction, playing: _Playing) -> Fraction:
    if isinstance(when, Fraction) or playing.part is None:
        return when if isinstance(when, Fraction) else Fraction(0)
    return playing.times.second_of(playing.part.beat(when), 1)


def _stage(
    playing: _Playing,
    look: Look,
    box: Box,
    height: int,
    shown: tuple[Fraction, Fraction],
    heard: Heard | None,
) -> Stage:
    """The stage of a view; its seconds count from when the view comes."""
    since, until = shown
    passes = tuple(Pass(one.beats, one.moments.shifted(-since), one.speed) for one in playing.times.passes)
    clicks = tuple(click.moment - since for click in playing.times.clicks)
    sound = replace(heard, moments=tuple(one.shifted(-since) for one in heard.moments)) if heard else None
    size, lasting = (round(box.width), round(box.height)), until - since
    return Stage(*size, look, lasting, playing.fragment, passes, clicks, playing.readings, sound, height)


def _transition(keys: Any) -> Transition:
    assert isinstance(keys, TransitionKeys)
    return Transition(keys.kind, keys.lasting if keys.kind != "cut" else Fraction(0))


@cache
def _look(name: str, folder: Path) -> Look:
    return load_look(folder / name if name.endswith(".yaml") else name)


@cache
def _file_digest(path: Path, changed: int, size: int) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
