"""What is remembered of scenes from build to build, so that a changed word costs the resolving of one scene.

A sketch is what outputs are listed by: a scene's name, times and words, and digests of all that it shows and
sounds. It is kept under a digest of everything that resolving the scene reads, so what was changed is not
found.
"""

import json
import os
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple, cast

from pipeline.files.captions import Caption
from pipeline.lesson.digest import digest
from pipeline.lesson.poster import Telling, Worth
from pipeline.lesson.scene import Marker, Scene, Transition
from pipeline.timing import Rate


class Sketch(NamedTuple):
    """A scene as outputs are listed by it: plain data."""

    id: str
    title: str
    frames: int
    seen: str
    filmed: str
    heard: str
    still_at: str
    telling: tuple[Worth, str]
    transition: tuple[Any, str]
    captions: list[tuple[str, str, str]]
    markers: list[tuple[str, Any, str]]

    @classmethod
    def of(cls, scene: Scene) -> "Sketch":
        return cls(
            scene.id,
            scene.title,
            scene.frames,
            scene.seen,
            scene.filmed,
            scene.heard,
            str(scene.still_at),
            (scene.telling.worth, str(scene.telling.second)),
            (scene.transition.kind, str(scene.transition.lasting)),
            [(str(one.start), str(one.end), one.text) for one in scene.captions],
            [(str(one.second), one.kind, one.label) for one in scene.markers],
        )


class SketchedScene:
    """A scene whose sketch is at hand. Whatever else is asked for is resolved then; it pickles whole."""

    def __init__(self, sketch: Sketch, rate: Rate, resolve: Callable[[], Scene]) -> None:
        self.id, self.title, self.frames, self.seen, self.filmed, self.heard = sketch[:6]
        self.rate = rate
        self._sketch, self._resolve = sketch, resolve

    @property
    def still_at(self) -> Fraction:
        return Fraction(self._sketch.still_at)

    @property
    def telling(self) -> Telling:
        worth, second = self._sketch.telling
        return Telling(worth, Fraction(second))

    @property
    def transition(self) -> Transition:
        kind, lasting = self._sketch.transition
        return Transition(kind, Fraction(lasting))

    @property
    def captions(self) -> tuple[Caption, ...]:
        return tuple(
            Caption(Fraction(start), Fraction(end), text) for start, end, text in self._sketch.captions
        )

    @property
    def markers(self) -> tuple[Marker, ...]:
        return tuple(Marker(Fraction(second), kind, label) for second, kind, label in self._sketch.markers)

    @cached_property
    def _whole(self) -> Scene:
        return self._resolve()

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):  # what Python itself asks of objects
            raise AttributeError(name)
        return getattr(self._whole, name)

    def __reduce__(self) -> tuple[Any, ...]:
        return _itself, (self._whole,)


def _itself(scene: Scene) -> Scene:
    return scene


@dataclass
class Memory:
    """The sketches of one script. `given` is a digest of all that its scenes read beside the script."""

    given: str
    before: dict[str, Sketch] = field(default_factory=dict)
    now: dict[str, Sketch] = field(default_factory=dict)

    def scene(self, key: str, rate: Rate, resolve: Callable[[], Scene]) -> Scene:
        """The scene of a key: a sketched one where it is known, else it is resolved and remembered."""
        sketch = self.before.get(key)
        if sketch is None:
            scene = resolve()
            self.now[key] = Sketch.of(scene)
            return scene
        self.now[key] = sketch
        return cast(Scene, SketchedScene(sketch, rate, resolve))

    def save(self, file: Path) -> None:
        """Keep the sketches of this build, whole or not at all."""
        if self.now.keys() == self.before.keys():
            return
        file.parent.mkdir(parents=True, exist_ok=True)
        draft = file.with_suffix(f".{os.getpid()}.part")
        draft.write_text(json.dumps(self.now), "utf-8")
        os.replace(draft, file)


def recalled(file: Path, given: str) -> Memory:
    """The memory kept in a file; an empty one where it cannot be read."""
    try:
        rows = json.loads(file.read_text("utf-8"))
        return Memory(given, {key: Sketch(*row) for key, row in rows.items()})
    except (OSError, ValueError, TypeError, AttributeError):
        return Memory(given)


def keys_of(given: str, data: Any) -> list[list[str]]:
    """The key of every scene of every segment of a script's plain data: what it says and what flows down."""
    above = digest([given, {key: value for key, value in data.items() if key != "segments"}])
    found = []
    for segment in data["segments"]:
        shared = digest([above, {key: value for key, value in segment.items() if key != "scenes"}])
        found.append([digest([shared, scene]) for scene in segment["scenes"]])
    return found
