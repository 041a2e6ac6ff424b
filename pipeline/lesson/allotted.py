"""How much room each view of a scene gets: as it is arranged, and at least what it needs to be read."""

from collections.abc import Callable, Sequence

from pipeline.drawing.picture import Box
from pipeline.lesson.rooms import Need, boxes
from pipeline.lesson.shown import ViewKeys
from pipeline.views.stage import Stage, View, Yielding

NeedOf = Callable[[ViewKeys, float], Need]
"""The heights that a view needs at a width."""


def allotted(
    arrangement: str, size: tuple[int, int], views: Sequence[ViewKeys], need_of: NeedOf
) -> list[Box]:
    """A box of the frame for every view: those that take room as arranged, the others over the safe area."""
    arranged = [view for view in views if not view.lies_over]

    def need(number: int, width: float) -> Need:
        return need_of(arranged[number], width)

    rooms = iter(boxes(arrangement, *size, [view.share for view in arranged], need) if arranged else ())
    return [whole_room(size) if view.lies_over else next(rooms) for view in views]


def whole_room(size: tuple[int, int]) -> Box:
    """The room of a view that has the frame to itself."""
    (whole,) = boxes("stack", *size, [1.0])
    return whole


def needed(view: View, stage: Stage) -> Need:
    """The heights that a view needs at a stage's width."""
    least = view.least_height(stage)
    return Need(least, max(least, view.easy_height(stage)) if isinstance(view, Yielding) else least)
