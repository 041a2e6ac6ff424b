"""Fingers and hand positions that contradict, by the rule that weighing follows: a finger on its own fret of
the position or one beyond (common practice, no source)."""

import pytest

from pipeline.errors import Place
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.tabtext import read_tab
from pipeline.reasoning.reach import out_of_hand


def passage(text: str) -> Fragment:
    return read_tab("run", text, Guitar(), lambda row, column: Place("run", row, column))


@pytest.mark.parametrize(
    ("finger", "hand", "fret", "told"),
    [
        (3, 8, 12, "finger 3 cannot take fret 12 with the hand at 8"),
        (3, 8, 10, ""),
        (3, 8, 11, ""),
        (4, 8, 13, "finger 4 cannot take fret 13 with the hand at 8"),
        (4, 8, 12, ""),
        (1, 8, 7, ""),
        (1, 8, 9, "finger 1 cannot take fret 9 with the hand at 8"),
        (2, 8, 0, "an open string has a finger"),
    ],
)
def test_a_finger_reaches_its_own_fret_or_one_beyond(finger: int, hand: int, fret: int, told: str) -> None:
    text = f"fingers   {finger}\nhand      {hand}\n      B3|-{fret}--|"
    found = list(out_of_hand(passage(text)))
    assert [one.wrong for one in found] == ([told] if told else [])


def test_a_run_under_one_hand_mark_is_told_once() -> None:
    text = "fingers   3  4  1  4\nhand      8     8  9\n      B3|-12-13-8--14--|"
    found = list(out_of_hand(passage(text)))
    assert [one.note for one in found] == [0, 3]
    assert found[0].wrong.endswith("hand at 8 (1 more after it, too)")
    assert found[0].remedy.startswith("with the hand at 10 it lies there")


def test_one_finger_on_two_frets_of_a_chord_is_told() -> None:
    found = list(out_of_hand(passage("fingers   11\nhand      5\n      E4|-5--|\n      B3|-8--|")))
    assert [one.note for one in found] == [1]
    assert found[0].wrong == "finger 1 cannot take fret 8 with the hand at 5"


def test_what_is_not_marked_is_not_judged() -> None:
    assert not list(out_of_hand(passage("hand      5\n      E4|-15-0-x-|\n      B3|-1------|")))
