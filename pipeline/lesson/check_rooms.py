"""Whether a scene's views have room enough: each must show all of what it says, in legible type."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from pipeline.drawing.look import Look, load_look
from pipeline.drawing.picture import Box
from pipeline.errors import Faulty
from pipeline.lesson.allotted import allotted, needed, whole_room
from pipeline.lesson.proof import At, Proof
from pipeline.lesson.rooms import ARRANGEMENTS, Need, type_height
from pipeline.lesson.script import SceneKeys
from pipeline.lesson.shown import ViewKeys
from pipeline.music.fragment import Fragment
from pipeline.timing import Span, TimeMap
from pipeline.views.lanes import LANE_WORDS
from pipeline.views.stage import Pass, Stage, View, Yielding
from pipeline.views.words import Words, deck_of

SLACK = 1.0
"""Pixels that may be missing: boxes end on whole pixels."""
FEWER = "show fewer views at once"


@dataclass(eq=False)
class Staging:
    """What scenes have in common that play the same beats in the same look: as much of a stage as is known
    before any reading is sought, and what views need on it."""

    look: Look
    size: tuple[int, int]
    fragment: Fragment | None
    span: Span
    needs: dict[tuple[View, float], Need] = field(default_factory=dict)

    def stage(self, box: Box) -> Stage:
        """The stage of a view in a box."""
        moments = TimeMap.linear("beat", "scene", self.span.start, Fraction(0), Fraction(1))
        passes = (Pass(self.span, moments),) if self.fragment is not None and self.span.length else ()
        room, tall = (round(box.width), round(box.height)), type_height(*self.size)
        return Stage(*room, self.look, Fraction(1), self.fragment, passes, frame_height=tall)

    def need_of(self, view: ViewKeys, width: float) -> Need:
        """The heights that a view needs at a width."""
        made = view.made()
        if (made, width) not in self.needs:
            self.needs[made, width] = needed(made, self.stage(Box(0.0, 0.0, width, 1.0)))
        return self.needs[made, width]


class RoomChecks:
    """The checks of rooms; each notes what is short in the proof."""

    def __init__(self, proof: Proof) -> None:
        self.proof = proof
        self._stagings: dict[tuple[str, int, Span], Staging] = {}

    def check(
        self, at: At, keys: SceneKeys, arrangement: str, look: str, fragment: Fragment | None, span: Span
    ) -> None:
        """Look at one scene; `span` says which of the fragment's beats it plays."""
        staging = self._staging(look, fragment, span)
        if staging is None or arrangement not in ARRANGEMENTS:
            return
        self._zooms(at, keys, staging)
        rooms = allotted(arrangement, staging.size, keys.views, staging.need_of)
        for index, (view, box) in enumerate(zip(keys.views, rooms, strict=True)):
            need = staging.need_of(view, box.width)
            if need.least > box.height + SLACK:
                has = f"and the arrangement {arrangement!r} leaves it {box.height:.0f}"
                wrong = f"{view.show} needs {need.least:.0f} pixels of height here, {has}"
                self.proof.add((*at, "views", index), wrong, _remedy(keys.views, staging))
                return
            if need.easy > box.height or getattr(view, "rows", 0) > 1:
                self._left_out((*at, "views", index), view.made(), staging.stage(box))

    def _staging(self, look: str, fragment: Fragment | None, span: Span) -> Staging | None:
        """Passages live as long as the check, so they are known by their identity."""
        key = (look, id(fragment), span)
        if key not in self._stagings:
            found = _look(look, self.proof.script.folder)
            if found is None:
                return None
            self._stagings[key] = Staging(found, self.proof.script.episode.frame.size, fragment, span)
        return self._stagings[key]

    def _zooms(self, at: At, keys: SceneKeys, staging: Staging) -> None:
        """Note closer looks that are closer than the frame can hold."""
        shown = {view.show: view for view in reversed(keys.views)}
        for index, zoom in enumerate(keys.zooms):
            view, by = shown.get(zoom.into), float(zoom.by)
            if view is None or _near(view, by, staging):
                continue
            most = next((n / 10 for n in range(int(by * 10), 9, -1) if _near(view, n / 10, staging)), None)
            remedy = "leave it out" if most is None else f"write {most:g} at most"
            wrong = f"there is no room for {zoom.into} {by:g} times larger"
            self.proof.add((*at, "zooms", index), wrong, remedy)

    def _left_out(self, at: At, view: View, stage: Stage) -> None:
        """Note what a view leaves out for want of room, and words that a still does not show."""
        cards = len(deck_of(view, stage).cards) if isinstance(view, Words) else 1
        if cards > 1:
            wrong = f"these words take {cards} cards, one after another, and a still shows only the first"
            self.proof.caution(at, wrong, "say it in fewer words or give them more room")
        names = view.left_out(stage) if isinstance(view, Yielding) else ()
        if names:
            wrong = f"there is no room here for {', '.join(LANE_WORDS[name] for name in names)}"
            rows = "ask for fewer rows, " if getattr(view, "rows", 0) > 1 else ""
            self.proof.caution(at, wrong, f"{rows}{FEWER}, or choose another arrangement")


def _near(view: ViewKeys, by: float, staging: Staging) -> bool:
    """Whether the frame holds a view so many times larger."""
    room = whole_room(staging.size)
    return staging.need_of(view, room.width / by).least <= room.height / by + SLACK


def _remedy(views: Sequence[ViewKeys], staging: Staging) -> str:
    """Which arrangements would hold the views."""
    names = [name for name in ARRANGEMENTS if _holds(name, views, staging)]
    return f"{FEWER}, or choose the arrangement {' or '.join(names)}" if names else FEWER


def _holds(arrangement: str, views: Sequence[ViewKeys], staging: Staging) -> bool:
    rooms = allotted(arrangement, staging.size, views, staging.need_of)
    pairs = zip(views, rooms, strict=True)
    return all(staging.need_of(view, box.width).least <= box.height + SLACK for view, box in pairs)


@lru_cache(maxsize=16)
def _look(name: str, folder: Path) -> Look | None:
    """The look; None where it has faults of its own."""
    try:
        return load_look(folder / name if name.endswith(".yaml") else name)
    except Faulty:
        return None
