"""Everything that can be wrong with a script beyond its form, found at once and before anything is made.

`read_checked` is the way in: it reads the script, its passages, its look and its habits, and looks at every
file and every name. No sound is decoded and nothing is drawn.
"""

import gc
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from pathlib import Path

from pipeline.lesson.beats import OutOfReach, bars_span, beat_of, clip_map, notes_span
from pipeline.lesson.check_files import check_files, check_habits, check_look, file_length
from pipeline.lesson.material import ClipKeys
from pipeline.lesson.paper import FragmentPart, PositionsPart, PracticePart, ReasonsPart, StillPart
from pipeline.lesson.passages import read_passages
from pipeline.lesson.proof import At, Proof
from pipeline.lesson.rooms import ARRANGEMENTS
from pipeline.lesson.script import (
    NONE,
    Episode,
    PlayingKeys,
    SceneKeys,
    Script,
    SegmentKeys,
    flowing,
    read_script,
)
from pipeline.lesson.values import Moment
from pipeline.music.fragment import Fragment
from pipeline.music.passage import performed
from pipeline.timing import Span

When = Moment | Fraction | None


@dataclass(frozen=True)
class Checked:
    """A script without faults, and the passages that were read on the way."""

    script: Script
    fragments: dict[str, Fragment] = field(repr=False)


def read_checked(path: Path, allow_outside: bool = False) -> Checked:
    """Read a script and everything it names. Raises Faulty with every fault at once."""
    with _uncollected():
        return check(read_script(path, allow_outside))


@contextmanager
def _uncollected() -> Iterator[None]:
    """Without the search for unreachable cycles: all that a large script makes lives on, and looking through
    it again and again takes a third of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def check(script: Script) -> Checked:
    """Look at everything a script says. Raises Faulty with every fault at once."""
    proof = Proof(script)
    fragments = read_passages(proof)
    _Checks(proof, fragments).run()
    proof.stop_if_faulty()
    return Checked(script, fragments)


@dataclass(frozen=True)
class _Scene:
    """A scene among what flows down to it, and where it stands in the script."""

    at: At
    episode: Episode
    segment: SegmentKeys
    keys: SceneKeys

    @cached_property
    def levels(self) -> tuple[PlayingKeys, ...]:
        return self.keys, self.segment, self.episode

    def place_of(self, key: str) -> At:
        """Where the value of a key that flows down was written."""
        name = key.replace("_", "-")
        for level, at in zip(self.levels, (self.at, self.at[:2], ()), strict=True):
            if getattr(level, key) is not None:
                return (*at, name)
        return self.at


class _Checks:
    """All checks of one script; each notes its faults in the proof."""

    def __init__(self, proof: Proof, fragments: dict[str, Fragment]) -> None:
        self.proof = proof
        self.fragments = {name: performed(fragment) for name, fragment in fragments.items()}
        self.episode = proof.script.episode
        self._pairs: set[tuple[str, str]] = set()

    def run(self) -> None:
        """Run every check."""
        check_files(self.proof)
        check_habits(self.proof)
        self._levels()
        self._names_of(("segment", "segments"), self._segments())
        scenes = list(self._scenes())
        self._names_of(("scene", "scenes"), ((scene.at, scene.keys.id) for scene in scenes))
        for scene in scenes:
            self._scene(scene)
        self._handout()

    def _segments(self) -> Iterator[tuple[At, str]]:
        for number, segment in enumerate(self.episode.segments):
            yield ("segments", number), segment.id

    def _scenes(self) -> Iterator[_Scene]:
        for number, segment in enumerate(self.episode.segments):
            for index, scene in enumerate(segment.scenes):
                yield _Scene(("segments", number, "scenes", index), self.episode, segment, scene)

    def _names_of(self, kind: tuple[str, str], named: Iterable[tuple[At, str]]) -> None:
        """Ids must differ even where file systems ignore case."""
        seen: dict[str, At] = {}
        for at, name in named:
            before = seen.setdefault(name.casefold(), at)
            if before != at:
                line = self.proof.script.source.place((*before, "id")).line
                wrong = f"the {kind[0]} id {name!r} is taken since line {line}"
                self.proof.add((*at, "id"), wrong, f"give each of the {kind[1]} an id of its own")

    def _levels(self) -> None:
        """Names that flow down, each where it is written."""
        self._level((), self.episode)
        for at, _ in self._segments():
            self._level(at, self.episode.segments[int(at[1])])

    def _level(self, at: At, keys: PlayingKeys) -> None:
        proof = self.proof
        proof.known((*at, "fragment"), "fragment", keys.fragment, (*self.episode.fragments, NONE))
        proof.known((*at, "clip"), "clip", keys.clip, (*self.episode.clips, NONE))
        proof.known((*at, "arrangement"), "arrangement", keys.arrangement, ARRANGEMENTS)
        check_look(proof, (*at, "look"), keys.look)

    def _scene(self, scene: _Scene) -> None:
        self._level(scene.at, scene.keys)
        self._zoom_targets(scene)
        self._captions(scene)
        name = flowing("fragment", *scene.levels)
        if name is None:
            self._without_playing(scene)
            self._views(scene, None, Span("beat", Fraction(0), Fraction(0)))
            return
        fragment = self.fragments.get(name)
        span = self._span(scene, fragment) if fragment else None
        if fragment is None or span is None:
            return
        self._moments(scene, fragment, span)
        self._views(scene, fragment, span)
        self._clip(scene, fragment, span)

    def _without_playing(self, scene: _Scene) -> None:
        keys, proof = scene.keys, self.proof
        if keys.duration is None and keys.voice is None:
            proof.add(scene.at, "nothing is played and no duration is given", "add a fragment or a duration")
        for key in ("bars", "notes", "holds", "zooms", "readings"):
            if getattr(keys, key):
                proof.add((*scene.at, key), f"{key} need a fragment", "name the fragment that is played")

    def _span(self, scene: _Scene, fragment: Fragment) -> Span | None:
        """The beats that are played; None, and a fault, where there are none."""
        keys = scene.keys
        if keys.bars is not None and keys.notes is not None:
            self.proof.add((*scene.at, "notes"), "both bars and notes are given", "keep one of them")
            return None
        try:
            if keys.bars is not None:
                return bars_span(keys.bars, fragment)
            if keys.notes is not None:
                return notes_span(keys.notes, fragment)
        except OutOfReach as error:
            key = "bars" if keys.bars is not None else "notes"
            self.proof.add((*scene.at, key), error.wrong, error.remedy)
            return None
        return Span("beat", Fraction(0), fragment.length)

    def _moments(self, scene: _Scene, fragment: Fragment, span: Span) -> None:
        passes = len(flowing("speeds", *scene.levels)) * flowing("loops", *scene.levels)
        for index, hold in enumerate(scene.keys.holds):
            at = (*scene.at, "holds", index)
            self._moment((*at, "at"), hold.at, fragment, span)
            self._pass((*at, "in-pass"), hold.in_pass, passes)
        before: tuple[int | None, Fraction] | None = None
        for index, zoom in enumerate(scene.keys.zooms):
            at = (*scene.at, "zooms", index)
            start = self._moment((*at, "at"), zoom.at, fragment, span)
            end = self._moment((*at, "until"), zoom.until, fragment, span) if zoom.until else span.end
            self._pass((*at, "in-pass"), zoom.in_pass, passes)
            if start is None or end is None:
                continue
            if end <= start:
                self.proof.add((*at, "until"), "the zoom ends before it starts", "write a later moment")
            if before and before[0] in (zoom.in_pass, None) and start < before[1]:
                self.proof.add(
                    (*at, "at"), "this zoom starts before the last one ends", "end the last one first"
                )
            before = (zoom.in_pass, end)

    def _views(self, scene: _Scene, fragment: Fragment | None, span: Span) -> None:
        """When views come and go; seconds and moments are compared only with their like."""
        for index, view in enumerate(scene.keys.views):
            at, times = (*scene.at, "views", index), (view.since, view.until)
            for key, when in zip(("since", "until"), times, strict=True):
                if isinstance(when, Moment) and fragment is None:
                    self.proof.add((*at, key), f"nothing is played, so there is no {when}", "write a second")
                elif isinstance(when, Moment) and fragment is not None:
                    self._moment((*at, key), when, fragment, span)
            if _backwards(times, fragment):
                self.proof.add((*at, "until"), "the view goes before it comes", "write a later time")

    def _moment(self, at: At, moment: object, fragment: Fragment, span: Span) -> Fraction | None:
        try:
            beat = beat_of(moment, fragment)  # type: ignore[arg-type]
        except OutOfReach as error:
            self.proof.add(at, error.wrong, error.remedy)
            return None
        if not span.start <= beat <= span.end:
            self.proof.add(
                at, f"{moment} is not among the bars or notes that are played", "choose one that is"
            )
            return None
        return beat

    def _pass(self, at: At, number: int | None, passes: int) -> None:
        if number is not None and number > passes:
            self.proof.add(at, f"there is no pass {number}", f"the scene has {passes}: speeds times loops")

    def _zoom_targets(self, scene: _Scene) -> None:
        names = [view.show for view in scene.keys.views]
        for index, zoom in enumerate(scene.keys.zooms):
            self.proof.known((*scene.at, "zooms", index, "into"), "view of this scene", zoom.into, names)

    def _captions(self, scene: _Scene) -> None:
        latest = Fraction(-1)
        for index, line in enumerate(scene.keys.spoken):
            if line.at is None:
                continue
            if line.at <= latest:
                self.proof.add(
                    (*scene.at, "spoken", index, "at"),
                    "these words come before the last ones",
                    "sort them by time",
                )
            latest = line.at

    def _clip(self, scene: _Scene, fragment: Fragment, span: Span) -> None:
        name = flowing("clip", *scene.levels)
        clip = self.episode.clips.get(name) if name else None
        if clip is None:
            return
        at: At = ("clips", name)
        try:
            beats = clip_map(clip, fragment)
        except OutOfReach as error:
            self._once(name, fragment, (*at, "marks"), error.wrong, error.remedy)
            return
        if beats is None:
            self._once(
                name, fragment, at, f"nothing says where the beats of {name!r} lie", "add marks or a tempo"
            )
            return
        self._inside_clip(scene, clip, Span("clip", beats(span.start), beats(span.end)))

    def _once(self, clip: str, fragment: Fragment, at: At, wrong: str, remedy: str) -> None:
        """A fault of a clip with a fragment, told once however many scenes play them."""
        if (clip, fragment.name) not in self._pairs:
            self._pairs.add((clip, fragment.name))
            self.proof.add(at, wrong, remedy)

    def _inside_clip(self, scene: _Scene, clip: ClipKeys, heard: Span) -> None:
        length = file_length(self.proof.script.folder / clip.file)
        start = clip.span[0] if clip.span else Fraction(0)
        end = clip.span[1] if clip.span else length
        if heard.start >= start and (end is None or heard.end <= end):
            return
        until = f" to {float(end):.3f}" if end is not None else ""
        self.proof.add(
            scene.place_of("clip"),
            f"the notes lie at {float(heard.start):.3f} to {float(heard.end):.3f} s, outside the clip",
            f"it goes from {float(start):.3f}{until} s: play fewer bars, or mend its span or its marks",
        )

    def _handout(self) -> None:
        handout = self.episode.handout
        for index, part in enumerate(handout.parts if handout else ()):
            at: At = ("handout", "parts", index)
            if isinstance(part, FragmentPart | PositionsPart | PracticePart | ReasonsPart):
                self.proof.known((*at, "fragment"), "fragment", part.fragment, self.episode.fragments)
            if isinstance(part, FragmentPart) and part.bars and part.fragment in self.fragments:
                try:
                    bars_span(part.bars, self.fragments[part.fragment])
                except OutOfReach as error:
                    self.proof.add((*at, "bars"), error.wrong, error.remedy)
            if isinstance(part, StillPart):
                self._still(at, part)

    def _still(self, at: At, part: StillPart) -> None:
        names = [scene.id for segment in self.episode.segments for scene in segment.scenes]
        if part.at is not None and part.second is not None:
            self.proof.add((*at, "second"), "both at and second are given", "keep one of them")
        if not self.proof.known((*at, "scene"), "scene", part.scene, names) or part.at is None:
            return
        for scene in self._scenes():
            fragment = self.fragments.get(flowing("fragment", *scene.levels) or "")
            span = self._span(scene, fragment) if fragment and scene.keys.id == part.scene else None
            if fragment and span:
                self._moment((*at, "at"), part.at, fragment, span)


def _backwards(times: tuple[When, When], fragment: Fragment | None) -> bool:
    since, until = times
    if isinstance(since, Fraction) and isinstance(until, Fraction):
        return until <= since
    if fragment is None or not (isinstance(since, Moment) and isinstance(until, Moment)):
        return False
    try:
        return beat_of(until, fragment) <= beat_of(since, fragment)
    except OutOfReach:
        return False
