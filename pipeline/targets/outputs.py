"""Which targets a lesson has: overlays, sound, stills, films, captions, handouts, the timeline, credits.

The order is the order of making: what is needed comes before what needs it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.files.captions import Caption, srt, webvtt
from pipeline.files.spans import chunk_spans
from pipeline.lesson.credits import credit_sheet
from pipeline.lesson.lesson import Lesson, Segment
from pipeline.lesson.paper import papers_of
from pipeline.lesson.plain import plain
from pipeline.lesson.scene import Scene
from pipeline.targets.payloads import Stretch, poster_path
from pipeline.targets.target import Target
from pipeline.targets.wish import Choice

ENDINGS = {"prores": ".mov", "qtrle": ".mov", "png": ".mov", "frames": ""}
FRAME_COST, SOUND_COST = 1.0, 0.25  # guesses at the work a frame of each takes, for the estimate only


def outputs(lesson: Lesson, folder: str, choice: Choice) -> list[Target]:
    """The targets of a lesson, below `folder` of the build folder."""
    return _Listing(lesson, folder, choice).everything()


@dataclass
class _Listing:
    lesson: Lesson
    folder: str
    choice: Choice
    found: dict[str, Target] = field(default_factory=dict)

    def everything(self) -> list[Target]:
        for segment in self.lesson.segments:
            for scene in segment.scenes:
                if self._wants_scene(segment, scene):
                    self._scene(scene)
        whole = not self.choice.scenes
        for segment in self.lesson.segments:
            if whole and (not self.choice.segments or segment.id in self.choice.segments):
                self._segment(segment)
        if not self.choice.part:
            self._lesson()
        return list(self.found.values())

    def _wants_scene(self, segment: Segment, scene: Scene) -> bool:
        if self.choice.scenes:
            return scene.id in self.choice.scenes
        return not self.choice.segments or segment.id in self.choice.segments

    def _wants(self, kind: str) -> bool:
        return kind in self.choice.kinds

    def _add(self, name: str, kind: str, path: str | None, parts: Any, **others: Any) -> str:
        """Add a target unless it is there; returns its id."""
        name = f"{self.folder}/{name}"
        place = None if path is None else f"{self.folder}/{path}"
        self.found.setdefault(name, Target(name, kind, place, parts, **others))
        return name

    def _scene(self, scene: Scene) -> None:
        """Film first: it takes longest, and the first worker has loaded what it needs."""
        if self._wants("overlays"):
            self._overlay(scene)
        if self._wants("previews"):
            self._preview(scene)
        if self._wants("sound"):
            self._sound(scene)
        if self._wants("stills"):
            for kind in ("svg", "png"):
                parts = [scene.seen, plain(scene.still_at)]
                path = f"stills/{scene.id}.{kind}"
                self._add(f"still/{scene.id}.{kind}", "still", path, parts, payload=(scene, kind))

    def _preview(self, scene: Scene) -> None:
        """One scene as a film with its sound, to look at."""
        needs = (self._picture(scene), self._sound(scene))
        path = f"previews/{scene.id}.mp4"
        self._add(f"preview/{scene.id}", "preview", path, [], payload=scene, needs=needs)

    def _sound(self, scene: Scene) -> str:
        name = f"{self.folder}/sound/{scene.id}"
        if name in self.found:
            return name
        cost = scene.frames * SOUND_COST
        path = f"sound/{scene.id}.wav"
        return self._add(f"sound/{scene.id}", "sound", path, scene.heard, payload=scene, cost=cost)

    def _overlay(self, scene: Scene) -> None:
        alpha = self.choice.alpha
        path = f"overlays/{scene.id}{ENDINGS[alpha]}"
        parts = [scene.seen, alpha]
        whole = Stretch(scene, 0, scene.frames, alpha)
        if alpha == "frames":
            cost = scene.frames * FRAME_COST
            self._add(f"overlay/{scene.id}", "overlay", path, parts, payload=whole, cost=cost)
            return
        pieces = self._stretches("overlay", scene, parts, passing=True)
        sound = self._sound(scene)
        kind = "joined-overlay"
        self._add(f"overlay/{scene.id}", kind, path, parts, payload=whole, needs=(*pieces, sound))

    def _picture(self, scene: Scene) -> str:
        """The scene's opaque picture without sound; it stays in the store."""
        parts = [scene.filmed]
        pieces = self._stretches("picture", scene, parts)
        if len(pieces) == 1:
            return pieces[0]
        return self._add(
            f"picture/{scene.id}", "joined-picture", None, parts, payload=scene, needs=tuple(pieces)
        )

    def _stretches(self, kind: str, scene: Scene, parts: Any, passing: bool = False) -> list[str]:
        names = []
        for first, last in chunk_spans(scene.frames, scene.rate):
            stretch = Stretch(scene, first, last, self.choice.alpha)
            name = f"{kind}/{scene.id}/{first}"
            cost = (last - first) * FRAME_COST
            others = {"payload": stretch, "cost": cost, "passing": passing}
            names.append(self._add(name, kind, None, [parts, first, last], **others))
        return names

    def _segment(self, segment: Segment) -> None:
        if self._wants("captions") and segment.captions:
            cues = [Caption(cue.start, cue.end, cue.text) for cue in segment.captions]
            for ending, text in (("vtt", webvtt(cues)), ("srt", srt(cues))):
                path = f"films/{segment.id}.{ending}"
                self._add(f"captions/{segment.id}.{ending}", "text", path, text, payload=text)
        if self._wants("posters"):
            self._poster(segment)
        if self._wants("films"):
            self._film(segment)

    def _poster(self, segment: Segment) -> None:
        scene, frame = segment.poster
        one = Stretch(scene, frame, frame + 1)
        path = poster_path(segment)
        self._add(f"poster/{segment.id}", "poster", path, [scene.filmed, frame], payload=one)

    def _film(self, segment: Segment) -> None:
        pictures = [self._picture(scene) for scene in segment.scenes]
        sounds = [self._sound(scene) for scene in segment.scenes]
        level = self._level()
        parts = [segment.title, [[scene.title, plain(scene.transition)] for scene in segment.scenes]]
        self._add(
            f"film/{segment.id}",
            "film",
            f"films/{segment.id}.mp4",
            parts,
            payload=segment,
            needs=(*pictures, *sounds, level),
            cost=segment.frames * SOUND_COST,
        )

    def _level(self) -> str:
        """One gain for the whole episode, so that slowed and full-speed passages match."""
        name = f"{self.folder}/level"
        if name in self.found:
            return name
        sounds = tuple(self._sound(scene) for scene in self.lesson.scenes)
        return self._add("level", "level", None, [], needs=sounds)

    def _lesson(self) -> None:
        if self._wants("handouts"):
            for target in handouts([self.lesson], self.folder, self.folder):
                self.found[target.id] = target
        if self._wants("timeline"):
            payload = (self.lesson, self.choice.alpha)
            parts = [[plain(segment.markers) for segment in self.lesson.segments], self._frames(), payload[1]]
            parts.append([[scene.id, frame] for scene, frame in self._posters()])
            self._add("timeline", "timeline", f"{self.folder}.otio", parts, payload=payload)
        if self._wants("credits"):
            text = credit_sheet(self.lesson)
            self._add("credits", "text", "credits.txt", text, payload=text)

    def _posters(self) -> list[tuple[Scene, int]]:
        return [segment.poster for segment in self.lesson.segments]

    def _frames(self) -> list[list[Any]]:
        return [
            [segment.title, *((scene.id, scene.frames) for scene in segment.scenes)]
            for segment in self.lesson.segments
        ]


def handouts(lessons: Sequence[Lesson], folder: str, name: str, title: str = "") -> Iterator[Target]:
    """The handout of a lesson, or one book of several under a title, a target a paper size."""
    parts = [_on_paper(lesson) for lesson in lessons]
    for paper in papers_of(lessons[0].handout):
        yield Target(
            f"{folder}/handout/{paper}",
            "handout",
            f"{folder}/{name}-{paper}.pdf",
            [parts, paper, title],
            (tuple(lessons), paper, title),
            cost=20,
        )


def _on_paper(lesson: Lesson) -> Any:
    """Everything that a lesson's pages depend on."""
    return [
        lesson.title,
        lesson.teacher,
        lesson.language,
        plain(lesson.fragments),
        lesson.handout.model_dump(mode="json") if lesson.handout else None,
        plain(lesson.credits),
        plain(lesson.rights),
        plain(lesson.habits),
        [scene.seen for scene in lesson.scenes],
        [[scene.id, plain(scene.still_at)] for scene in lesson.scenes],
    ]
