"""Everything that can be wrong with a script beyond its form, found at once and before anything is made.

`read_checked` is the way in: it reads the script, its passages, its look and its habits, and looks at every
file and every name. No sound is decoded and nothing is drawn.
"""

import gc
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from pipeline.errors import Fault
from pipeline.lesson.beats import OutOfReach, bars_span
from pipeline.lesson.check_files import check_files, check_habits, check_look
from pipeline.lesson.check_scene import SceneAt, SceneChecks
from pipeline.lesson.note_places import note_place
from pipeline.lesson.paper import FragmentPart, PositionsPart, PracticePart, ReasonsPart, SignsPart, StillPart
from pipeline.lesson.passages import read_passages
from pipeline.lesson.proof import At, Proof
from pipeline.lesson.rooms import ARRANGEMENTS
from pipeline.lesson.script import (
    NONE,
    PlayingKeys,
    Script,
    flowing,
    read_script,
)
from pipeline.music.fragment import Fragment
from pipeline.music.passage import performed
from pipeline.reasoning.reach import out_of_hand

NEAR = Fraction(1, 150)
"""Frames a second that a rate written in decimals may lie from the one it means: a whole one times 1000/1001
(common practice, no source)."""


@dataclass(frozen=True)
class Checked:
    """A script without faults, the passages that were read on the way, and what its author should know."""

    script: Script
    fragments: dict[str, Fragment] = field(repr=False)
    cautions: tuple[Fault, ...] = ()


def read_checked(path: Path, allow_outside: bool = False) -> Checked:
    """Read a script and everything it names. Raises Faulty with every fault at once."""
    with uncollected():
        return check(read_script(path, allow_outside))


@contextmanager
def uncollected() -> Iterator[None]:
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
    """Look at everything a script says. Raises Faulty with every fault, of form or sense, at once."""
    proof = Proof(script)
    fragments = read_passages(proof)
    _Checks(proof, fragments).run()
    proof.stop_if_faulty()
    return Checked(script, fragments, tuple(sorted(set(proof.cautions))))


class _Checks:
    """All checks of one script; each notes its faults in the proof."""

    def __init__(self, proof: Proof, fragments: dict[str, Fragment]) -> None:
        self.proof = proof
        self.fragments = fragments
        self.episode = proof.script.episode
        played = {name: performed(fragment) for name, fragment in fragments.items()}
        self.of_scenes = SceneChecks(proof, played)

    def run(self) -> None:
        """Run every check."""
        check_files(self.proof)
        check_habits(self.proof)
        self._rate()
        self._hands()
        self._levels()
        self._names_of(("segment", "segments"), self._segments())
        scenes = list(self._scenes())
        self._names_of(("scene", "scenes"), ((scene.at, scene.keys.id) for scene in scenes))
        for scene in scenes:
            self._level(scene.at, scene.keys)
            self.of_scenes.check(scene)
        self._posters()
        self._handout()

    def _rate(self) -> None:
        """A rate of video that is written in decimals is near one that cameras have, and drifts from it."""
        rate = self.episode.frame.rate
        for whole in (24, 30, 48, 60, 120):
            near = Fraction(whole * 1000, 1001)
            if rate != near and abs(rate - near) < NEAR:
                wrong = (
                    f"{float(rate):g} frames a second is not quite the rate of cameras and editing programs"
                )
                remedy = f"that is {near}: write `rate: {near}`"
                self.proof.caution(("frame", "rate"), wrong, remedy)

    def _hands(self) -> None:
        """What no hand can take as it is marked is shown as it is marked, so the author should know."""
        for fragment in self.fragments.values():
            for found in out_of_hand(fragment):
                place = note_place(self.proof.script, fragment, found.note)
                self.proof.remark(place, found.wrong, found.remedy)

    def _segments(self) -> Iterator[tuple[At, str]]:
        for number, segment in enumerate(self.episode.segments):
            yield ("segments", number), segment.id

    def _posters(self) -> None:
        """A poster is a picture of its own segment."""
        for at, _ in self._segments():
            segment = self.episode.segments[int(at[1])]
            if segment.poster is not None and self.proof.sound((*at, "scenes")):
                scenes = [scene.id for scene in segment.scenes]
                self.proof.known((*at, "poster"), "scene of this segment", segment.poster.scene, scenes)

    def _scenes(self) -> Iterator[SceneAt]:
        for number, segment in enumerate(self.episode.segments):
            for index, scene in enumerate(segment.scenes):
                yield SceneAt(("segments", number, "scenes", index), self.episode, segment, scene)

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
        self._named(at, "fragment", keys.fragment, (*self.episode.fragments, NONE))
        self._named(at, "clip", keys.clip, (*self.episode.clips, NONE))
        self.proof.known((*at, "arrangement"), "arrangement", keys.arrangement, ARRANGEMENTS)
        check_look(self.proof, (*at, "look"), keys.look)

    def _named(self, at: At, kind: str, name: str | None, names: Iterable[str]) -> None:
        """A name must be one of the script's, if those can be read."""
        if (f"{kind}s",) not in self.proof.script.gaps:
            self.proof.known((*at, kind), kind, name, names)

    def _handout(self) -> None:
        handout = self.episode.handout
        for index, part in enumerate(handout.parts if handout else ()):
            at: At = ("handout", "parts", index)
            if isinstance(part, FragmentPart | PositionsPart | PracticePart | ReasonsPart | SignsPart):
                self._named(at, "fragment", part.fragment, self.episode.fragments)
            if isinstance(part, FragmentPart) and part.bars and part.fragment in self.fragments:
                try:
                    bars_span(part.bars, self.fragments[part.fragment])
                except OutOfReach as error:
                    self.proof.add((*at, "bars"), error.wrong, error.remedy)
            if isinstance(part, StillPart):
                self._still(at, part)

    def _still(self, at: At, part: StillPart) -> None:
        names = [scene.id for segment in self.episode.segments for scene in segment.scenes]
        if any({"segments", "scenes", "id"} & set(gap[-2:]) for gap in self.proof.script.gaps):
            names.append(part.scene)  # it may be one that cannot be read
        if part.at is not None and part.second is not None:
            self.proof.add((*at, "second"), "both at and second are given", "keep one of them")
        if not self.proof.known((*at, "scene"), "scene", part.scene, names) or part.at is None:
            return
        for scene in self._scenes():
            fragment = self.of_scenes.played.get(flowing("fragment", *scene.levels) or "")
            span = self.of_scenes.span(scene, fragment) if fragment and scene.keys.id == part.scene else None
            if fragment and span:
                self.of_scenes.moment((*at, "at"), part.at, fragment, span)
