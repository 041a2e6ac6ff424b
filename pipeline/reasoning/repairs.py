"""Where strict alternation cannot be what was played, and the cheapest ways out, in the order of cost."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from pipeline.music.note import Stroke
from pipeline.reasoning.costs import HARD
from pipeline.reasoning.departures import DEPARTURES
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.stroke_costs import STROKES
from pipeline.reasoning.strokes import (
    StrokePlan,
    StrokeTask,
    against,
    alternation,
    pinches_up,
    plan_of,
    slurred_at,
    stroke_plans,
)

RepairKind = Literal[
    "pinch on an upstroke",
    "economy at the change",
    "a repeated stroke",
    "one slur",
    "start on the other stroke",
    "several departures",
]
SEVERAL: RepairKind = "several departures"
FARTHEST = 64
"""A repair is sought among this many moments before the conflict."""
_CHANGES_WHAT_IS_GIVEN = ("one slur", "start on the other stroke")


@dataclass(frozen=True)
class Repair:
    """One way out: what departs from strict alternation, at which moment, the plan, and what it adds."""

    kind: RepairKind
    moment: int
    plan: StrokePlan
    added: float

    @property
    def words(self) -> str:
        """The repair in words, moments counted from 1."""
        return f"{self.kind} at stroke {self.moment + 1}: costs {self.added:.2f} more"


@dataclass(frozen=True)
class StrokeConflict:
    """Strict alternation from `start` fails at `moments`.

    `repairs` keep the start and the picked notes first, in the order of cost; then come those that change
    them (a slur that was not heard, the other start), in the order of cost.
    """

    start: Stroke
    moments: tuple[int, ...]
    repairs: tuple[Repair, ...]


def stroke_conflict(
    task: StrokeTask, start: Stroke = "down", habits: Habits | None = None
) -> StrokeConflict | None:
    """Why strict alternation from a stroke cannot be, with the repairs; None where it can."""
    habits = habits or Habits()
    path = alternation(task, STROKES.index(start))
    moments = against(task, path)
    if not moments:
        return None
    base = plan_of(_unheard(task), habits, path).cost - _pinch_cost(task, habits, path)
    cheapest: dict[str, Repair] = {}
    for kind, moment, changed, way in _single_repairs(task, path, moments):
        plan = plan_of(changed, habits, way)
        extra = habits.weight("unheard_slur") if kind == "one slur" else 0.0
        repair = Repair(kind, moment, plan, round(plan.cost + extra - base, 6))
        best = cheapest.get(kind)
        if best is None or (repair.added, -repair.moment) < (best.added, -best.moment):
            cheapest[kind] = repair
    repairs = sorted(cheapest.values(), key=lambda r: (r.kind in _CHANGES_WHAT_IS_GIVEN, r.added, r.moment))
    return StrokeConflict(start, moments, tuple(repairs) or _general(task, habits, path, base))


def _unheard(task: StrokeTask) -> StrokeTask:
    return StrokeTask(task.turns, task.kinds, task.pinched, (), task.same_string)


def _pinch_cost(task: StrokeTask, habits: Habits, path: Sequence[int]) -> float:
    """What the pinches on upstrokes cost in strict alternation: the conflict itself, not its surroundings."""
    return len(pinches_up(task, path)) * habits.weight("pinch_upstroke")


Candidate = tuple[RepairKind, int, StrokeTask, tuple[int, ...]]


def _single_repairs(task: StrokeTask, path: tuple[int, ...], moments: Sequence[int]) -> Iterator[Candidate]:
    """Every single departure that leaves no conflict."""
    if all(task.pinched[m] and not _heard_otherwise(task, m, path) for m in moments):
        yield "pinch on an upstroke", moments[0], task, path
    for moment in range(max(1, moments[0] + 1 - FARTHEST), moments[0] + 1):
        if task.kinds[moment] != "picked":
            continue
        turned = (*path[:moment], *(1 - s for s in path[moment:]))
        if not against(task, turned):
            yield _kind_of(task, turned, moment), moment, task, turned
        if task.same_string and task.same_string[moment] and not task.pinched[moment]:
            slurred = slurred_at(task, moment)
            way = alternation(slurred, path[0])
            if not against(slurred, way):
                yield "one slur", moment, slurred, way
    other = tuple(1 - s for s in path)
    if not against(task, other):
        yield "start on the other stroke", 0, task, other


def _heard_otherwise(task: StrokeTask, moment: int, path: Sequence[int]) -> bool:
    return any(m == moment and path[m] != stroke for m, stroke, _ in task.heard)


def _kind_of(task: StrokeTask, path: Sequence[int], moment: int) -> RepairKind:
    """Whether doubling the stroke at a moment follows the change of string or not."""
    turn, stroke = task.turns[moment], path[moment]
    onward = (turn == 1 and stroke == 0) or (turn == 2 and stroke == 1)
    return "economy at the change" if onward else "a repeated stroke"


def _general(task: StrokeTask, habits: Habits, path: Sequence[int], base: float) -> tuple[Repair, ...]:
    """Where one departure is not enough: the cheapest plans over all."""
    found = []
    for plan in stroke_plans(task, habits, k=3):
        departs = [m for m, cause in plan.causes if cause in DEPARTURES]
        if plan.cost < HARD:
            found.append(Repair(SEVERAL, min(departs, default=0), plan, round(plan.cost - base, 6)))
    return tuple(found)
