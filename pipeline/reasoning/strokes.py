"""The picking hand: which strokes play a passage whose strings are known, and where that cannot be.

Strict alternation, economy and sweeping are the same search with other habits. Slurred moments take no
stroke. The k best plans are exact; of equal ones the first has the earliest downstroke.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Literal

from pipeline.errors import faulty
from pipeline.music.fragment import Fragment
from pipeline.music.note import Stroke
from pipeline.reasoning import costs
from pipeline.reasoning.clue import all_limits, clue_limits
from pipeline.reasoning.costs import HARD, SCALE
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.moments import Times, moment_kinds, moments_pinched, strokes_heard
from pipeline.reasoning.spot import spot
from pipeline.reasoning.stroke_costs import STROKES, crossing, stroke_causes
from pipeline.reasoning.stroke_tables import start_costs, stroke_table

Label = Literal["inside", "outside", "onward", "repeated", "slurred", "after a rest"]
Tail = tuple[int, int, int]
"""A way on from a moment: integer cost, the next stroke, its rank among the ways on from there."""


@dataclass(frozen=True)
class StrokeTask:
    """What the picking hand must play, moment by moment.

    `turns` is 0 where the string stays, 1 to a thinner and 2 to a thicker string; `kinds` as in the lattice;
    `heard` holds (moment, stroke as 0 or 1, integer penalty).
    """

    turns: tuple[int, ...]
    kinds: tuple[str, ...]
    pinched: tuple[bool, ...]
    heard: tuple[tuple[int, int, int], ...] = ()
    same_string: tuple[bool, ...] = field(default=())
    """Whether a moment could be slurred: one note on the string of the note before, another pitch."""

    @classmethod
    def of(cls, fragment: Fragment, habits: Habits, times: Times | None = None) -> "StrokeTask":
        """The task of a fragment whose strings are known. Raises Faulty where one is not."""
        unknown = next((i for i, note in enumerate(fragment.notes) if note.string is None), None)
        if unknown is not None:
            wrong = f"note {unknown + 1} has no string yet"
            raise faulty(spot(fragment, unknown), wrong, "choose a reading first, then plan its strokes")
        limits = all_limits(clue_limits(fragment, habits))
        kinds = moment_kinds(fragment, habits, limits, times)
        heard = tuple(strokes_heard(fragment, limits, kinds))
        return cls(_turns(fragment), kinds, moments_pinched(fragment), heard, _slurrable(fragment))


@dataclass(frozen=True)
class Change:
    """A change of string: the moment it leads to and how the pick gets there."""

    moment: int
    label: Label


@dataclass(frozen=True)
class StrokePlan:
    """Strokes for every moment (None for a slurred one), the string changes, and what it all costs."""

    strokes: tuple[Stroke | None, ...]
    changes: tuple[Change, ...]
    cost: float
    causes: tuple[tuple[int, str], ...] = ()
    """(moment, cause) of everything that costs."""


def _strings(fragment: Fragment) -> list[tuple[int, int]]:
    groups = ([fragment.notes[i].string or 0 for i in group] for group in fragment.chords)
    return [(min(group), max(group)) for group in groups]


def _turns(fragment: Fragment) -> tuple[int, ...]:
    spans, turns = _strings(fragment), [0]
    for before, now in pairwise(spans):
        turns.append(2 if now[0] > before[1] else 1 if before[0] > now[1] else 0)
    return tuple(turns[: len(spans)])


def _slurrable(fragment: Fragment) -> tuple[bool, ...]:
    notes, chords, answers = fragment.notes, fragment.chords, [False]
    for before, now in pairwise(chords):
        a, b = notes[before[0]], notes[now[0]]
        answers.append(len(before) == len(now) == 1 and a.string == b.string and a.pitch != b.pitch)
    return tuple(answers[: len(chords)])


def stroke_plans(task: StrokeTask, habits: Habits | None = None, k: int = 5) -> tuple[StrokePlan, ...]:
    """The k cheapest plans, fewer where fewer are possible; plans that break a heard stroke are left out."""
    habits = habits or Habits()
    if not task.kinds:
        return ()
    tails = _tails(task, habits, k)
    start = start_costs(habits.units, task.pinched[0])
    for moment, stroke, penalty in task.heard:
        if moment == 0:
            start[1 - stroke] += penalty
    ways = [(int(start[s]) + t[0], s, rank) for s in (0, 1) for rank, t in enumerate(tails[0][s])]
    chosen = [way for way in sorted(ways)[:k] if way[0] < HARD]
    return tuple(plan_of(task, habits, _read(tails, stroke, rank)) for _, stroke, rank in chosen)


def _tails(task: StrokeTask, habits: Habits, k: int) -> list[tuple[list[Tail], list[Tail]]]:
    """For each moment and stroke the k cheapest ways on, in order; built from the end."""
    end: list[Tail] = [(0, 0, 0)]
    tails = [(end, end)]
    tables = _tables(task, habits)
    for moment in range(len(task.kinds) - 1, 0, -1):
        table, after = tables[moment], tails[-1]
        now = [
            sorted((table[s][t] + tail[0], t, r) for t in (0, 1) for r, tail in enumerate(after[t]))[:k]
            for s in (0, 1)
        ]
        tails.append((now[0], now[1]))
    tails.reverse()
    return tails


def _tables(task: StrokeTask, habits: Habits) -> list[list[list[int]]]:
    """Integer costs [stroke before][stroke then] of every moment, heard strokes included."""
    known = {
        (kind, pinched): stroke_table(habits.units, kind, pinched).tolist()
        for kind in ("picked", "slurred", "fresh")
        for pinched in (False, True)
    }
    moments = zip(task.kinds, task.pinched, task.turns, strict=True)
    tables = [[list(row) for row in known[kind, pinched][turn]] for kind, pinched, turn in moments]
    for moment, stroke, penalty in task.heard:
        for row in tables[moment]:
            row[1 - stroke] += penalty
    return tables


def _read(tails: Sequence[tuple[list[Tail], list[Tail]]], stroke: int, rank: int) -> tuple[int, ...]:
    path = [stroke]
    for pair in tails[:-1]:
        _, stroke, rank = pair[stroke][rank]
        path.append(stroke)
    return tuple(path)


def plan_of(task: StrokeTask, habits: Habits, path: Sequence[int]) -> StrokePlan:
    """The plan that takes each moment with the hand last moving down (0) or up (1)."""
    causes, total = list[tuple[int, str]](), 0
    for moment, then in enumerate(path):
        before = path[moment - 1] if moment else 0
        columns = stroke_causes(task.turns[moment], before, then, task.kinds[moment], task.pinched[moment])
        causes += [(moment, costs.NAMES[column]) for column in columns]
        total += sum(habits.units[column] for column in columns)
    total += sum(penalty for moment, stroke, penalty in task.heard if path[moment] != stroke)
    played = zip(path, task.kinds, strict=True)
    strokes = tuple(None if kind == "slurred" else STROKES[s] for s, kind in played)
    return StrokePlan(strokes, tuple(_changes(task, path)), total / SCALE, tuple(causes))


def _changes(task: StrokeTask, path: Sequence[int]) -> Iterator[Change]:
    for moment, turn in enumerate(task.turns):
        if turn:
            yield Change(moment, _label(turn, path[moment - 1], path[moment], task.kinds[moment]))


def _label(turn: int, before: int, then: int, kind: str) -> Label:
    if kind == "slurred":
        return "slurred"
    if kind == "fresh":
        return "after a rest"
    onward: Label = "onward" if (turn == 1) == (then == 0) else "repeated"
    return crossing(turn, before, then) or onward


def alternation(task: StrokeTask, start: int) -> tuple[int, ...]:
    """Strict alternation from a stroke: slurred moments leave the hand where it is, rests do not reset it."""
    path, hand = list[int](), 1 - start
    for kind in task.kinds:
        hand = hand if kind == "slurred" else 1 - hand
        path.append(hand)
    return tuple(path)


def against(task: StrokeTask, path: Sequence[int]) -> tuple[int, ...]:
    """The moments at which strokes break a heard stroke or leave a pinch harmonic on an upstroke."""
    heard = {moment for moment, stroke, _ in task.heard if path[moment] != stroke}
    return tuple(sorted(heard | pinches_up(task, path)))


def pinches_up(task: StrokeTask, path: Sequence[int]) -> set[int]:
    """The moments at which a pinch harmonic falls on an upstroke."""
    moments = enumerate(zip(task.pinched, task.kinds, path, strict=True))
    return {m for m, (pinch, kind, then) in moments if pinch and kind != "slurred" and then == 1}


def starts(task: StrokeTask) -> tuple[Stroke, ...]:
    """Every stroke that strict alternation can start with and meet all that was heard."""
    return tuple(STROKES[s] for s in (0, 1) if not against(task, alternation(task, s)))


def phrases(task: StrokeTask) -> tuple[tuple[int, StrokeTask], ...]:
    """The task in parts that begin after rests, where the hand starts anew, each with its first moment."""
    firsts = [m for m, kind in enumerate(task.kinds) if m == 0 or kind == "fresh"]
    bounds = pairwise([*firsts, len(task.kinds)])
    return tuple((first, _part(task, first, last)) for first, last in bounds)


def _part(task: StrokeTask, first: int, last: int) -> StrokeTask:
    heard = tuple((m - first, stroke, cost) for m, stroke, cost in task.heard if first <= m < last)
    turns = (0, *task.turns[first + 1 : last])
    kinds = ("fresh", *task.kinds[first + 1 : last])
    return StrokeTask(turns, kinds, task.pinched[first:last], heard, task.same_string[first:last])


def slurred_at(task: StrokeTask, moment: int) -> StrokeTask:
    """The task with one more slurred moment."""
    kinds = (*task.kinds[:moment], "slurred", *task.kinds[moment + 1 :])
    heard = tuple(h for h in task.heard if h[0] != moment)
    return replace(task, kinds=kinds, heard=heard)
