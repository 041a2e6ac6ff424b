"""Habits are learned from what is written; clues are offered from what is heard, and kept only on request."""

from pathlib import Path

import pytest

from pipeline.errors import Faulty
from pipeline.lesson.check import read_checked
from pipeline.lesson.learned import learn
from pipeline.lesson.offered import Offered, keep_clues
from pipeline.music.fragment import ClueMark
from pipeline.reasoning.habits import read_habits

ROUNDS: list[int] = []


def told(done: int, most: int) -> None:
    ROUNDS.append(done)


def test_a_fit_tells_its_rounds_and_explains_the_written_places_better(short: Path, tmp_path: Path) -> None:
    found = learn([short], tmp_path / "mine.yaml", None, told)
    assert list(range(1, len(ROUNDS) + 1)) == ROUNDS
    assert found.fit.after < found.fit.before
    assert found.fragments == 1
    assert read_habits(str(tmp_path / "mine.yaml")) == found.fit.habits
    assert any("teach little" in line for line in found.lines())


def test_habits_are_never_written_over_something_else(short: Path) -> None:
    before = short.read_bytes()
    with pytest.raises(Faulty, match="holds no habits; choose another name"):
        learn([short], short, None, told)
    assert short.read_bytes() == before


def test_offered_clues_are_kept_as_soft_ones_beside_what_is_known(short: Path) -> None:
    """Note 10 (from 0) is written as a pull-off already, so a slur heard there says nothing new."""
    fragment = read_checked(short).fragments["climb"]
    clues = (
        ClueMark(2, "slip", "", 0.74),
        ClueMark(10, "slurred", "", 0.8),
        ClueMark(11, "pinched", "5", 0.9),
    )
    assert fragment.notes[10].attack == "pull"
    heard = Offered(fragment, clues)
    assert "known already" in list(heard.lines())[1]
    assert keep_clues(short, "climb", heard) == (2, short)
    kept = read_checked(short).fragments["climb"]
    assert kept.clues == (ClueMark(2, "slip", "", 0.7), ClueMark(11, "pinched", "5", 0.9))
    assert kept.notes == fragment.notes
