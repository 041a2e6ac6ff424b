"""How much room each view of a scene gets: as it is arranged, and at least what it needs to be read."""

from collections.abc import Callable, Sequence

from pipeline.drawing.picture import Box
from pipeline.lesson.rooms import Need, boxes
from pipeline.lesson.shown import ViewKeys
from pipeline.views.stage import Stage, Yielding

StageIn = Callable[[ViewKeys, Box], Stage]
"""The stage of a view in a box of the frame."""


def allotted(
    arrangement: str, size: tuple[int, int], views: Sequence[ViewKeys], stage_in: StageIn
) -> list[Box]:
    """A box of the frame for every view: those that take room as arranged, the others over the safe area."""
    arranged = [view for view in views if not view.lies_over]

    def need(number: int, width: float) -> Need:
        return needed(arranged[number], width, stage_in)

    rooms = iter(boxes(arrangement, *size, [view.share for view in arranged], need) if arranged else ())
    return [whole_room(size) if view.lies_over else next(rooms) for view in views]


def whole_room(size: tuple[int, int]) -> Box:
    """The room of a view that has the frame to itself."""
    (whole,) = boxes("stack", *size, [1.0])
    return whole


def needed(view: ViewKeys, width: float, stage_in: StageIn) -> Need:
    """The heights that a view needs at a width."""
    made, stage = view.made(), stage_in(view, Box(0.0, 0.0, width, 1.0))
    least = made.least_height(stage)
    return Need(least, max(least, made.easy_height(stage)) if isinstance(made, Yielding) else least)
