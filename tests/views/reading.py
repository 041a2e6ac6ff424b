"""Ways to look into a picture: its texts, its named groups, the boxes of its words."""

from collections.abc import Iterator

from pipeline.drawing.affine import compose
from pipeline.drawing.bounds import ink
from pipeline.drawing.picture import IDENTITY, Affine, Box, Group, Mark, Picture, Text


def walk(marks: tuple[Mark, ...], within: Affine = IDENTITY) -> Iterator[tuple[Mark, Affine]]:
    """Every mark with the transform it stands under, groups first."""
    for mark in marks:
        yield mark, within
        if isinstance(mark, Group):
            yield from walk(mark.marks, compose(within, mark.transform))


def texts(picture: Picture) -> list[tuple[Text, Affine]]:
    return [(mark, at) for mark, at in walk(picture.marks) if isinstance(mark, Text)]


def sizes_of_text(picture: Picture) -> list[float]:
    """Type sizes as they end up on the picture."""
    return [mark.size * abs(at[3]) for mark, at in texts(picture)]


def group_names(picture: Picture) -> list[str]:
    return [mark.name for mark, _ in walk(picture.marks) if isinstance(mark, Group)]


def sounding(picture: Picture) -> set[int]:
    """The notes that a picture shows as sounding."""
    named = (name.split() for name in group_names(picture))
    return {
        int(parts[1]) for parts in named if len(parts) == 3 and parts[0] == "note" and parts[2] == "sounding"
    }


def word_boxes(picture: Picture) -> list[tuple[str, Box]]:
    """The box of ink of every text, named."""
    found = []
    for mark, at in texts(picture):
        box = ink(mark, at)
        if box is not None:
            found.append((f"{mark.name}:{mark.text}", box))
    return found


def collisions(boxes: list[tuple[str, Box]], slack: float = 0.75) -> list[tuple[str, str]]:
    """Pairs of boxes that meet by more than `slack` pixels."""
    found = []
    for place, (name, box) in enumerate(boxes):
        small = box.inset(min(slack, box.width / 3, box.height / 3))
        for other, there in boxes[place + 1 :]:
            if small.meets(there) and there.inset(min(slack, there.width / 3, there.height / 3)).meets(box):
                found.append((name, other))
    return found
