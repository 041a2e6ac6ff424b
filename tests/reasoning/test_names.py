"""Names of readings: rivals that are shown together are told apart by what a guitarist sees."""

from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.reasoning.names import told_apart, zone_name
from pipeline.reasoning.reading import Placement, Reading

LOW = ((6, 7), (5, 7), (5, 9))


def reading(
    places: tuple[tuple[int, int], ...], fingers: tuple[int, ...] = (1, 1, 3), strokes: str = "dud"
) -> Reading:
    """A reading in position 7."""
    words = {"d": "down", "u": "up"}
    made = tuple(
        Placement(string, fret, finger, 7, words[stroke])  # type: ignore[arg-type]
        for (string, fret), finger, stroke in zip(places, fingers, strokes, strict=True)
    )
    return Reading(zone_name(made), made)


def names(*found: Reading) -> list[str]:
    return [one.name for one in told_apart(found)]


def test_a_name_that_no_other_bears_stays() -> None:
    other = replace(reading(LOW), name="written")
    assert names(reading(LOW), other) == ["position 7", "written"]


DIFFERENT = [
    (reading(((5, 7), (4, 7), (4, 9))), "strings 5 to 6", "strings 4 to 5"),
    (reading(((5, 12), (5, 7), (6, 9))), "from fret 7 of string 6", "from fret 12 of string 5"),
    (reading(((6, 7), (6, 12), (5, 9))), "note 2 on string 5", "note 2 on string 6"),
    (reading(LOW, (1, 1, 4)), "note 3 with finger 3", "note 3 with finger 4"),
    (reading(LOW, (1, 0, 3)), "note 2 with finger 1", "note 2 with the thumb"),
    (reading(LOW, strokes="duu"), "note 3 on a downstroke", "note 3 on an upstroke"),
]


@pytest.mark.parametrize(("other", "mine", "its"), DIFFERENT)
def test_what_a_player_sees_first_tells_rivals_apart(other: Reading, mine: str, its: str) -> None:
    assert names(reading(LOW), other) == [f"position 7, {mine}", f"position 7, {its}"]


def test_answers_that_do_not_differ_are_called_the_same() -> None:
    assert names(reading(LOW), reading(LOW)) == ["position 7", "position 7, the same"]


def test_several_notes_tell_apart_what_one_cannot() -> None:
    found = [reading(LOW, fingers) for fingers in ((1, 1, 3), (1, 2, 3), (1, 1, 4), (1, 2, 4))]
    assert names(*found) == [
        f"position 7, note 2 with finger {second} and note 3 with finger {third}"
        for second, third in ((1, 3), (2, 3), (1, 4), (2, 4))
    ]


Answer = tuple[tuple[tuple[int, int], ...], tuple[int, ...], str]
ANSWERS = st.tuples(
    st.permutations(LOW).map(tuple),
    st.tuples(*[st.integers(1, 2)] * 3),
    st.text("du", min_size=3, max_size=3),
)


@given(st.lists(ANSWERS, min_size=2, max_size=5, unique=True))
def test_names_of_rivals_always_differ_and_stay(drawn: list[Answer]) -> None:
    found = told_apart([reading(*one) for one in drawn])
    assert len({one.name for one in found}) == len(found)
    assert told_apart(found) == found
    for some in permutations(found, 2):
        assert len({one.name for one in told_apart(some)}) == 2
