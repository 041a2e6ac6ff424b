"""Whether a scene's views have room enough: each must show all of what it says, in legible type."""

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from pipeline.drawing.look import Look, load_look
from pipeline.drawing.picture import Box
from pipeline.errors import Faulty
from pipeline.lesson.allotted import StageIn, allotted, needed, whole_room
from pipeline.lesson.proof import At, Proof
from pipeline.lesson.rooms import ARRANGEMENTS, type_height
from pipeline.lesson.script import Episode, SceneKeys
from pipeline.lesson.shown import ViewKeys
from pipeline.music.fragment import Fragment
from pipeline.timing import Span, TimeMap
from pipeline.views.lanes import LANE_WORDS
from pipeline.views.stage import Pass, Stage, View, Yielding
from pipeline.views.words import Words, deck_of

SLACK = 1.0
"""Pixels that may be missing: boxes end on whole pixels."""


def check_rooms(proof: Proof, at: At, episode: Episode, keys: SceneKeys, arrangement: str, look: str,
                fragment: Fragment | None, span: Span) -> None:  # fmt: skip
    """Note what has too little room in a scene; `span` says which of the fragment's beats it plays."""
    found = _look(look, proof.script.folder)
    if found is None or arrangement not in ARRANGEMENTS:
        return
    size, stage_in = episode.frame.size, _stages(found, episode.frame.size, fragment, span)
    views = keys.views
    rooms = allotted(arrangement, size, views, stage_in)
    _zooms(proof, at, keys, size, stage_in)
    for index, (view, box) in enumerate(zip(views, rooms, strict=True)):
        made, least = view.made(), needed(view, box.width, stage_in).least
        if least <= box.height + SLACK:
            _left_out(proof, (*at, "views", index), made, stage_in(view, box))
            continue
        has = f"and the arrangement {arrangement!r} leaves it {box.height:.0f}"
        wrong = f"{view.show} needs {least:.0f} pixels of height here, {has}"
        proof.add((*at, "views", index), wrong, _remedy(size, views, stage_in))
        return


def _zooms(proof: Proof, at: At, keys: SceneKeys, size: tuple[int, int], stage_in: StageIn) -> None:
    """Note closer looks that are closer than the frame can hold."""
    shown = {view.show: view for view in reversed(keys.views)}
    room = whole_room(size)
    for index, zoom in enumerate(keys.zooms):
        view, by = shown.get(zoom.into), float(zoom.by)
        if view is None or _near(view, room, by, stage_in):
            continue
        most = next((n / 10 for n in range(int(by * 10), 9, -1) if _near(view, room, n / 10, stage_in)), None)
        remedy = "leave it out" if most is None else f"write {most:g} at most"
        wrong = f"there is no room for {zoom.into} {by:g} times larger"
        proof.add((*at, "zooms", index), wrong, remedy)


def _near(view: ViewKeys, room: Box, by: float, stage_in: StageIn) -> bool:
    """Whether the frame holds a view so many times larger."""
    return needed(view, room.width / by, stage_in).least <= room.height / by + SLACK


def _left_out(proof: Proof, at: At, view: View, stage: Stage) -> None:
    """Note what a view leaves out for want of room, and words that a still does not show."""
    cards = len(deck_of(view, stage).cards) if isinstance(view, Words) else 1
    if cards > 1:
        wrong = f"these words take {cards} cards, one after another, and a still shows only the first"
        proof.caution(at, wrong, "say it in fewer words or give them more room")
    names = view.left_out(stage) if isinstance(view, Yielding) else ()
    if names:
        wrong = f"there is no room here for {', '.join(LANE_WORDS[name] for name in names)}"
        proof.caution(at, wrong, "show fewer views at once, or choose another arrangement")


def _remedy(size: tuple[int, int], views: Sequence[ViewKeys], stage_in: StageIn) -> str:
    """Which arrangements would hold the views."""
    names = [name for name in ARRANGEMENTS if _holds(name, size, views, stage_in)]
    fewer = "show fewer views at once"
    return f"{fewer}, or choose the arrangement {' or '.join(names)}" if names else fewer


def _holds(arrangement: str, size: tuple[int, int], views: Sequence[ViewKeys], stage_in: StageIn) -> bool:
    rooms = allotted(arrangement, size, views, stage_in)
    pairs = zip(views, rooms, strict=True)
    return all(needed(view, box.width, stage_in).least <= box.height + SLACK for view, box in pairs)


def _stages(look: Look, size: tuple[int, int], fragment: Fragment | None, span: Span) -> StageIn:
    """Stages as a scene has them, for as much of it as is known before any reading is sought."""
    passes = (Pass(span, TimeMap.linear("beat", "scene", span.start, Fraction(0), Fraction(1))),)
    tall = type_height(*size)

    def stage_in(view: ViewKeys, box: Box) -> Stage:
        room = round(box.width), round(box.height)
        played = passes if fragment is not None and span.length else ()
        return Stage(*room, look, Fraction(1), fragment, played, frame_height=tall)

    return stage_in


@lru_cache(maxsize=16)
def _look(name: str, folder: Path) -> Look | None:
    """The look; None where it has faults of its own."""
    try:
        return load_look(folder / name if name.endswith(".yaml") else name)
    except Faulty:
        return None
