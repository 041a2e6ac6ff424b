"""The neck's easy height: the quiet marks of a phrase hold their fingers there, and in less they do not."""

from dataclasses import replace
from fractions import Fraction

import corpus
import pytest
import reading

from pipeline.views.neck import Neck

F = Fraction


def fingers(height: float, guitar: str) -> int:
    """How many quiet marks of a lead line say their finger in a room of so many pixels."""
    fragment = corpus.corpus()[guitar]
    stage = corpus.stage_of(fragment, 1728, round(height))
    marks = reading.texts(replace(Neck(), next=False, hand=False).picture(stage, F(0)))
    return sum(mark.name.startswith("mark") for mark, _ in marks)


@pytest.mark.parametrize("guitar", ["lead line", "eight strings"])
def test_quiet_marks_hold_their_fingers_at_the_easy_height(guitar: str) -> None:
    stage = corpus.stage_of(corpus.corpus()[guitar], 1728, 480)
    easy = replace(Neck(), hand=False).easy_height(stage)
    assert fingers(easy + 1, guitar) > 0
    assert fingers(easy * 0.9, guitar) == 0
