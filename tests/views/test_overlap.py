"""No mark of the strip lies on another, measured by the ink itself over the whole corpus, while it plays."""

from fractions import Fraction
from typing import Any

import corpus
import pytest

from pipeline.drawing.overlap import Leaf, overlaps
from pipeline.lesson.shown import view_classes

GROUNDS = ("panel", "cursor", "string", "bar line", "ring", "staff line", "repeat")
"""What other marks stand on. Names of strings are words, though."""
TOGETHER = (
    {"head", "stem", "beam", "dot", "tie", "flag"},  # parts of a written value touch each other
    {"lit", "next", "fret", "angle", "round", "lit head"},  # a label, its brackets and its plate
)


def ground(name: str) -> bool:
    return name.startswith(GROUNDS) and not name.endswith("name")


def apart(one: Leaf, other: Leaf) -> bool:
    """Whether two marks must not touch."""
    names = one.label.split(), other.label.split()
    if ground(one.label) or ground(other.label):
        return False
    if any({name[0] for name in names} <= group for group in TOGETHER):
        return one.is_text and other.is_text
    if names[0][0] == names[1][0] and names[0][0] in ("bend", "finger", "staff"):
        return names[0][0] == "bend" and names[0][1] != names[1][1]
    return not any(name[0] in ("lit", "next") for name in names)


@pytest.mark.parametrize("fragment", sorted(corpus.corpus()))
@pytest.mark.parametrize(
    ("name", "given", "height"),
    [
        ("tab", {}, 520),
        ("tab", {"strip": "scrolling"}, 520),
        ("tab", {"rhythm": False, "fingers": False}, 300),
        ("staff", {}, 900),
    ],
    ids=str,
)
def test_marks_of_the_strip_stand_apart(name: str, given: dict[str, Any], height: int, fragment: str) -> None:
    stage = corpus.stage_of(corpus.corpus()[fragment], height=height)
    view = view_classes()[name](**given)
    for share in (0, Fraction(1, 6), Fraction(1, 3), Fraction(1, 2), Fraction(5, 6)):
        t = stage.duration * share
        assert [str(found) for found in overlaps(view.picture(stage, t), apart)] == []
