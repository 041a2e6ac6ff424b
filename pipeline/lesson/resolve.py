"""From a checked script to a lesson: fragments chosen, times laid out, views placed, sounds listed."""

import hashlib
from dataclasses import replace
from fractions import Fraction
from functools import cache, partial
from pathlib import Path
from typing import Any

from pipeline.drawing.look import Look, load_look
from pipeline.errors import Faulty
from pipeline.files.images import is_image
from pipeline.lesson.answers import answers
from pipeline.lesson.check import Checked, read_checked
from pipeline.lesson.check_files import file_length, habits_called
from pipeline.lesson.filmed import with_film
from pipeline.lesson.heard import Recording
from pipeline.lesson.lesson import Lesson, Right, Segment
from pipeline.lesson.lines import markers
from pipeline.lesson.memory import Memory, keys_of
from pipeline.lesson.part import Part, part_of
from pipeline.lesson.placing import SOUND_VIEW, PictureFile, Playing, Seen, composition_of
from pipeline.lesson.plan import Levels, following_of, plan_of
from pipeline.lesson.poster import telling
from pipeline.lesson.proof import At, Proof
from pipeline.lesson.scene import Footage, Room, Run, Scene, Transition
from pipeline.lesson.script import SceneKeys, TransitionKeys, flowing
from pipeline.lesson.shown import ViewKeys, title_shown
from pipeline.lesson.soundings import soundings
from pipeline.lesson.spoken import captions
from pipeline.lesson.timeline import Timeline, laid_out
from pipeline.music.fragment import Fragment
from pipeline.music.passage import performed
from pipeline.reasoning.names import told_apart
from pipeline.reasoning.reading import Reading
from pipeline.timing import Rate, TimeMap
from pipeline.views.stage import Heard


def read_lesson(path: Path, allow_outside: bool = False) -> Lesson:
    """Read a script and resolve it. Raises Faulty with every fault at once."""
    return resolve(read_checked(path, allow_outside))


def resolve(checked: Checked, memory: Memory | None = None) -> Lesson:
    """The lesson that a script describes. Raises Faulty where a reading that it asks for is not to be had.

    Scenes that the memory knows are resolved only when more than their sketch is asked for.
    """
    return _Resolver(checked, memory).lesson()


class _Resolver:
    """Resolves one script."""

    def __init__(self, checked: Checked, memory: Memory | None) -> None:
        self.memory = memory
        self.scene_keys = keys_of(memory.given, checked.script.source.data) if memory else []
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
            self._poster(number, Segment(segment.id, segment.title, self.rate, tuple(self._scenes(number))))
            for number, segment in enumerate(episode.segments)
        )
        fragments = tuple((name, self._placed(name)) for name in self.fragments)
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
            fragments,
            episode.handout,
            episode.credits,
            tuple(dict.fromkeys(self._rights())),
            habits_called(episode.habits, self.script.folder),
        )

    def _poster(self, number: int, segment: Segment) -> Segment:
        """The segment with the poster that its script chooses; a fault where its scene is over by then."""
        keys = self.episode.segments[number].poster
        if keys is None:
            return segment
        scene = next(one for one in segment.scenes if one.id == keys.scene)
        length = self.rate.time_of(scene.frames)
        if keys.second is not None and keys.second >= length:
            wrong = f"{keys.scene!r} has no second {float(keys.second):g}"
            self.proof.add(
                ("segments", number, "poster", "second"), wrong, f"it lasts {float(length):.2f} seconds"
            )
        return replace(segment, chosen=(keys.scene, keys.second))

    def _placed(self, name: str) -> Fragment:
        """A passage as written, or in its best reading where its strings are open."""
        return answers(self.proof, ("fragments", name), self.fragments[name], None)[1]

    def _rights(self) -> list[Right]:
        """Whose recordings and films are in it, in the order of the script."""
        found = [Right(clip.file, "recording", clip.rights) for clip in self.episode.clips.values()]
        scenes = (scene for segment in self.episode.segments for scene in segment.scenes)
        found += (
            Right(one.file, "picture" if is_image(Path(one.file)) else "film", one.rights)
            for one in (scene.footage for scene in scenes)
            if one is not None
        )
        return found

    def _scenes(self, number: int) -> list[Scene]:
        segment = self.episode.segments[number]
        makers = [
            partial(self._scene, ("segments", number, "scenes", index), Levels(self.episode, segment, scene))
            for index, scene in enumerate(segment.scenes)
        ]
        if self.memory is None:
            return [make() for make in makers]
        named = zip(self.scene_keys[number], makers, strict=True)
        return [self.memory.scene(key, self.rate, make) for key, make in named]

    def _scene(self, at: At, levels: Levels) -> Scene:
        keys, look = levels.scene, self._look(levels)
        playing = self._playing(at, levels)
        times = playing.times
        shown = Seen(self._heard(playing, keys.views), self._picture(at, levels))
        composition, room = composition_of(levels, playing, look, shown), None
        if keys.footage is not None and shown.picture is None:
            composition, room = with_film(composition)
        voice = self._recording((*at, "voice", "file"), keys.voice.file) if keys.voice else None
        return Scene(
            keys.id,
            keys.title or title_shown(keys.views),
            self.rate,
            times.frames,
            look,
            composition,
            playing.fragment,
            times.passes if playing.part else (),
            soundings(levels, playing.fragment, times, playing.following, playing.recording, voice),
            tuple(click.moment for click in times.clicks),
            captions(keys.spoken),
            markers(playing.part, times.pieces),
            self._footage(at, levels, times, room),
            _transition(levels.value("transition")),
            times.pieces[0].span.start if times.pieces else times.duration / 2,
            telling(composition, times.passes if playing.part else (), playing.fragment, times.duration),
        )

    def _look(self, levels: Levels) -> Look:
        return _look(str(levels.value("look")), self.script.folder)

    def _playing(self, at: At, levels: Levels) -> Playing:
        length = file_length(self.script.folder / levels.clip[1].file) if levels.clip else None
        part, readings = self._part(at, levels)
        times = laid_out(plan_of(levels, part, length, self._at_least(levels.scene)), self.rate)
        following = following_of(levels, part, length)
        fragment = part.fragment if part else None
        return Playing(part, fragment, readings, following, self._clip(levels), times)

    def _part(self, at: At, levels: Levels) -> tuple[Part | None, tuple[Reading, ...]]:
        """What is played, in the reading that is shown, and the readings of it."""
        if levels.fragment is None:
            return None, ()
        whole = self.played[levels.fragment]
        readings, whole = answers(self.proof, (*at, "readings"), whole, levels.scene.readings)
        part = part_of(levels.scene, whole)
        return part, told_apart([part.reading(reading) for reading in readings])

    def _clip(self, levels: Levels) -> Recording | None:
        """The recording a scene plays."""
        if levels.clip is None:
            return None
        name, keys = levels.clip
        return self._recording(("clips", name, "file"), keys.file, keys.rights)

    def _heard(self, playing: Playing, views: tuple[ViewKeys, ...]) -> Heard | None:
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

    def _footage(self, at: At, levels: Levels, times: Timeline, room: Room | None) -> Footage | None:
        keys = levels.scene.footage
        if keys is None or is_image(Path(keys.file)):
            return None
        recording = self._recording((*at, "footage", "file"), keys.file, keys.rights)
        along = [piece for piece in times.pieces if piece.clip_moments is not None]
        if not keys.slowed or not along:
            own_speed = TimeMap("scene", "clip", ((Fraction(0), keys.start),))
            return Footage(recording, (Run(Fraction(0), times.duration, own_speed),), room)
        runs = (
            Run(piece.start, piece.heard_until, piece.clip_moments.inverse.shifted(keys.start))
            for piece in along
            if piece.clip_moments is not None
        )
        return Footage(recording, tuple(runs), room)

    def _picture(self, at: At, levels: Levels) -> PictureFile | None:
        """The picture that the scene's `footage` view holds."""
        keys = levels.scene.footage
        if keys is None or not is_image(Path(keys.file)):
            return None
        return PictureFile(self.script.folder / keys.file, self.script.source.place((*at, "footage", "file")))

    def _recording(self, at: At, file: str, rights: str = "") -> Recording:
        path = self.script.folder / file
        details = path.stat()
        digest = _file_digest(path, details.st_mtime_ns, details.st_size)
        return Recording(str(path), digest, self.script.source.place(at), rights)


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
