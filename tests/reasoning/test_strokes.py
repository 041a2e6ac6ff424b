"""Strokes: the check values of the trade, brute force, and the conflict of the pinched top note.

The patterns named here are common practice, no source, unless a test says otherwise.
"""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.errors import Faulty
from pipeline.music.fragment import ClueMark
from pipeline.music.note import Harmonic
from pipeline.reasoning.costs import HARD
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.repairs import stroke_conflict
from pipeline.reasoning.strokes import (
    StrokeTask,
    alternation,
    plan_of,
    starts,
    stroke_plans,
)

STRICT = Habits()
ECONOMY = Habits().stroking("economy")
SWEEP = Habits().stroking("sweep")


def upwards(per_string: int, strings: int, pinched: int | None = None) -> StrokeTask:
    """Strings from thick to thin with the same number of notes on each."""
    count = per_string * strings
    turns = tuple(1 if i and i % per_string == 0 else 0 for i in range(count))
    kinds = ("fresh", *["picked"] * (count - 1))
    pinches = tuple(i == pinched for i in range(count))
    return StrokeTask(turns, kinds, pinches, (), tuple(i > 0 and turn == 0 for i, turn in enumerate(turns)))


def letters(strokes) -> str:  # type: ignore[no-untyped-def]
    return "".join("-" if s is None else s[0] for s in strokes)


def labels(task: StrokeTask, start: int) -> list[str]:
    return [change.label for change in plan_of(task, STRICT, alternation(task, start)).changes]


@pytest.mark.parametrize("count", [1, 2, 5, 8, 13])
def test_picked_notes_alternate(count: int) -> None:
    plan = stroke_plans(upwards(count, 1), STRICT)[0]
    assert letters(plan.strokes) == ("du" * count)[:count]


def test_two_strings_of_three_up_end_on_an_upstroke_and_cross_outside() -> None:
    task = upwards(3, 2)
    plan = plan_of(task, STRICT, alternation(task, 0))
    assert letters(plan.strokes) == "dududu"
    assert labels(task, 0) == ["outside"]


def test_one_pull_off_flips_every_later_stroke() -> None:
    task = upwards(8, 1)
    pulled = StrokeTask(task.turns, ("fresh", "picked", "slurred", *["picked"] * 5), task.pinched)
    plain, flipped = alternation(task, 0), alternation(pulled, 0)
    assert all(a != b for a, b in zip(plain[3:], flipped[3:], strict=True))
    assert letters(stroke_plans(pulled, STRICT)[0].strokes) == "du-dudud"[:8]


def test_three_a_string_cross_outside_and_inside_in_turn() -> None:
    assert labels(upwards(3, 6), 0) == ["outside", "inside", "outside", "inside", "outside"]


@pytest.mark.parametrize("per_string", [2, 4])
def test_even_numbers_a_string_cross_one_way_all_the_way_up(per_string: int) -> None:
    task = upwards(per_string, 6)
    assert labels(task, 0) == ["inside"] * 5
    assert labels(task, 1) == ["outside"] * 5


def test_economy_with_three_a_string_starts_every_string_alike() -> None:
    plan = stroke_plans(upwards(3, 6), ECONOMY)[0]
    assert letters(plan.strokes) == "dud" * 6
    assert {change.label for change in plan.changes} == {"onward"}


def test_a_sweep_goes_through_one_note_a_string_in_one_stroke() -> None:
    assert letters(stroke_plans(upwards(1, 5), SWEEP)[0].strokes) == "ddddd"
    assert letters(stroke_plans(upwards(1, 5), STRICT)[0].strokes) == "dudud"


def test_going_down_mirrors_going_up() -> None:
    """Towards thick strings an upstroke leads on: inside and outside change places with the strokes."""
    task = upwards(2, 4)
    down = StrokeTask(tuple(2 if t else 0 for t in task.turns), task.kinds, task.pinched)
    assert labels(down, 0) == labels(task, 1)
    assert labels(down, 1) == labels(task, 0)


def test_a_pinch_harmonic_prefers_a_downstroke() -> None:
    plan = stroke_plans(upwards(3, 1, pinched=1), STRICT)[0]
    assert plan.strokes[1] == "down"


def test_the_pinched_top_note_contradicts_strict_alternation_and_the_ways_out_are_in_order() -> None:
    """Two strings of three notes, the top one pinched, from a downstroke (issue 3's check value)."""
    task = upwards(3, 2, pinched=5)
    assert starts(task) == ("up",)
    conflict = stroke_conflict(task, "down", STRICT)
    assert conflict is not None
    assert conflict.moments == (5,)
    kinds = [repair.kind for repair in conflict.repairs]
    assert kinds[:3] == ["pinch on an upstroke", "economy at the change", "a repeated stroke"]
    assert set(kinds[3:]) == {"one slur", "start on the other stroke"}
    costs = [repair.added for repair in conflict.repairs]
    assert costs[:3] == sorted(costs[:3])
    assert costs[3:] == sorted(costs[3:])
    economy = conflict.repairs[1]
    assert letters(economy.plan.strokes) == "duddud"
    assert economy.moment == 3
    slur = next(r for r in conflict.repairs if r.kind == "one slur")
    assert slur.plan.strokes.count(None) == 1
    assert slur.plan.strokes[5] == "down"


def test_no_conflict_where_alternation_fits() -> None:
    assert stroke_conflict(upwards(3, 2, pinched=4), "down", STRICT) is None


def test_two_heard_strokes_that_alternation_cannot_give_are_repaired_together() -> None:
    task = upwards(7, 1)
    heard = ((1, 0, HARD), (2, 0, HARD), (6, 1, HARD))
    conflict = stroke_conflict(StrokeTask(task.turns, task.kinds, task.pinched, heard), "down", STRICT)
    assert conflict is not None
    assert conflict.moments == (1, 6)
    assert conflict.repairs
    for repair in conflict.repairs:
        assert (repair.plan.strokes[1], repair.plan.strokes[2], repair.plan.strokes[6]) == (
            "down",
            "down",
            "up",
        )


def brute(task: StrokeTask, habits: Habits, k: int) -> list[tuple[float, str]]:
    plans = []
    for path in product((0, 1), repeat=len(task.kinds)):
        carried = all(path[m] == path[m - 1] for m, kind in enumerate(task.kinds) if m and kind == "slurred")
        if carried:
            plans.append((plan_of(task, habits, path).cost, path))
    possible = [plan for plan in sorted(plans) if plan[0] * 1_000_000 < HARD]
    return [(cost, "".join("du"[s] for s in path)) for cost, path in possible[:k]]


def heard_at(count: int) -> st.SearchStrategy[tuple[int, int, int]]:
    return st.tuples(st.integers(0, count - 1), st.integers(0, 1), st.sampled_from((HARD, 1_500_000)))


tasks = st.integers(1, 8).flatmap(
    lambda n: st.builds(
        StrokeTask,
        turns=st.lists(st.sampled_from((0, 1, 2)), min_size=n, max_size=n).map(lambda t: (0, *t[1:])),
        kinds=st.lists(st.sampled_from(("picked", "picked", "slurred", "fresh")), min_size=n, max_size=n).map(
            lambda kinds: ("fresh", *kinds[1:])
        ),
        pinched=st.lists(st.booleans(), min_size=n, max_size=n).map(tuple),
        heard=st.lists(
            st.tuples(st.integers(0, n - 1), st.integers(0, 1), st.sampled_from((HARD, 1_500_000))),
            max_size=2,
        ).map(tuple),
    )
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(tasks, st.sampled_from((STRICT, ECONOMY, SWEEP)))
def test_the_k_best_plans_are_those_of_brute_force(task: StrokeTask, habits: Habits) -> None:
    plans = stroke_plans(task, habits, k=5)
    expected = brute(task, habits, 5)
    assert [plan.cost for plan in plans] == [cost for cost, _ in expected]
    for plan, (_, path) in zip(plans, expected, strict=True):
        mine = letters(plan.strokes)
        assert all(a in ("-", b) for a, b in zip(mine, path, strict=True))


def test_the_task_of_a_fragment_knows_slurs_rests_pinches_and_heard_strokes(line) -> None:  # type: ignore[no-untyped-def]
    notes = list(line([(3, 5), (3, 7), (2, 5), (2, 8), (2, 5)]).notes)
    notes[1] = notes[1].but(attack="hammer")
    notes[3] = notes[3].but(harmonic=Harmonic("pinch", 3))
    fragment = line(notes).but(clues=(ClueMark(2, "up"),))
    late = [Fraction(0), Fraction(1, 8), Fraction(1, 4), Fraction(3, 8), Fraction(5)]
    task = StrokeTask.of(fragment, STRICT, late)
    assert task.turns == (0, 0, 1, 0, 0)
    assert task.kinds == ("fresh", "slurred", "picked", "picked", "fresh")
    assert task.pinched == (False, False, False, True, False)
    assert letters(stroke_plans(task, STRICT)[0].strokes) == "d-udd"


def test_a_note_without_a_string_is_named(line) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(Faulty, match="note 2 has no string yet; choose a reading first"):
        StrokeTask.of(line([(1, 5), 64]), STRICT)
