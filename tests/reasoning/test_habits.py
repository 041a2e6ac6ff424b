"""Habits: read with every mistake named, written back equal, and learned from known fingerings."""

from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.errors import Faulty
from pipeline.reasoning.costs import CAUSES, NAMES
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.fitting import _Target, bare, fit
from pipeline.reasoning.habits import Habits, habits_from, habits_text, read_habits
from pipeline.source import parse_yaml


def profiles(checkout: Path) -> list[Path]:
    return sorted((checkout / "templates" / "habits").glob("*.yaml"))


def test_shipped_profiles_read_and_say_what_is_special(checkout: Path) -> None:
    found = {path.stem: read_habits(str(path)) for path in profiles(checkout)}
    assert {"plain", "economy", "sweep"} <= set(found)
    assert all(habits.name == stem for stem, habits in found.items())
    assert found["plain"] == Habits()
    assert len({habits.weights for habits in found.values()}) > 2


def test_the_plain_profile_documents_every_weight(checkout: Path) -> None:
    text = (checkout / "templates" / "habits" / "plain.yaml").read_text()
    for cause in CAUSES:
        assert f"  {cause.name}: {cause.weight:g} " in text
        assert cause.meaning in text


def test_data_round_trips() -> None:
    habits = Habits().stroking("economy").with_weights(shift=3.25)
    assert habits_from(habits.as_data()) == habits


def test_a_profile_is_written_as_text_that_reads_back_equal() -> None:
    habits = replace(Habits().stroking("sweep").with_weights(shift=3.25, stretch=1e-05), name='my "own": 1')
    assert habits_from(parse_yaml(habits_text(habits), "text").data) == habits


def test_what_is_left_out_keeps_its_default() -> None:
    habits = habits_from({"name": "high", "home_low": 9, "home_high": 14, "weights": {"shift": 3}})
    assert habits.weight("shift") == 3.0
    assert habits.weight("stretch") == Habits().weight("stretch")
    assert (habits.home_low, habits.home_high) == (9.0, 14.0)


def test_every_mistake_is_named_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(
        "name: mine\nstrokes: alternat\nhand_spann: 90\nrest: soon\nweights:\n  shft: 2\n  stretch: -1\n"
    )
    with pytest.raises(Faulty) as caught:
        read_habits(str(path))
    told = str(caught.value)
    assert ":2:10: unknown strokes 'alternat'; did you mean 'alternate'?" in told
    assert ":3:1: unknown habit 'hand_spann'; did you mean 'hand_span'?" in told
    assert ":4:7: rest is 'soon'; give a number from 50 to 10000" in told
    assert ":6:3: unknown habit 'shft'; did you mean 'shift'?" in told
    assert ":7:12: stretch is -1; give a number from 0 to 1000" in told


@pytest.mark.parametrize("data", [[], "plain", None, {"weights": [1]}, {"home_low": 9, "home_high": 3}])
def test_wrong_shapes_are_refused(data: object) -> None:
    with pytest.raises(Faulty):
        habits_from(data)


def test_habits_move_the_hand(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line([69, 72, 74, 76, 74, 72, 69, 67])
    low = readings(fragment, Habits(home_low=3, home_high=6).with_weights(high_hand=0.05, low_hand=0.05), k=1)
    high = readings(
        fragment, Habits(home_low=12, home_high=15).with_weights(high_hand=0.05, low_hand=0.05), k=1
    )
    assert max(p.position for p in low[0].places) < min(p.position for p in high[0].places)


def test_fitting_makes_the_known_fingerings_likelier(line) -> None:  # type: ignore[no-untyped-def]
    """A player who always stays high on thick strings is learned from three lines."""
    played = [line([(4, f) for f in (12, 14, 16, 14, 12)]), line([(3, f) for f in (14, 12, 14, 16, 14)])]
    rounds = list[tuple[int, int]]()
    third = line([(4, 14), (3, 12), (3, 14), (4, 14), (4, 16)])
    learned = fit([*played, third], rounds=15, report=lambda *done: rounds.append(done))
    assert rounds[0] == (1, 15)
    assert learned.after < learned.before
    assert learned.habits.weight("high_hand") < Habits().weight("high_hand")
    assert learned.habits.weight("thick_string") < Habits().weight("thick_string")
    strokes = [n for n in NAMES if n in ("inside", "outside", "economy", "clue")]
    assert all(learned.habits.weight(n) == Habits().weight(n) for n in strokes)


def test_fitting_follows_the_true_gradient(line) -> None:  # type: ignore[no-untyped-def]
    """The slope by forward-backward equals the slope by finite differences."""
    target = _Target([(line([(4, 7), (3, 5), (3, 7), (2, 5)]), None)], Habits())
    at = target.origin * 1.1
    value, slope = target(at)
    for index in (0, 3, 11, 12, 20):
        nudged = at.copy()
        nudged[index] += 1e-2
        lower = at.copy()
        lower[index] -= 1e-2
        assert (target(nudged)[0] - target(lower)[0]) / 2e-2 == pytest.approx(
            slope[index], rel=0.02, abs=0.02
        )
    assert value > 0


def test_nothing_known_is_refused(line) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(Faulty, match="no fragment has a note with a known string"):
        fit([line([60, 62])])


def test_bare_takes_places_away_and_keeps_the_music(line) -> None:  # type: ignore[no-untyped-def]
    fragment = bare(line([(1, 5), (2, 5)]))
    assert all(note.string is None and note.fret is None for note in fragment.notes)
    assert [note.pitch for note in fragment.notes] == [69, 64]
