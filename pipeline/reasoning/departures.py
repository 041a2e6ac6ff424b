"""Where a plan of strokes leaves strict alternation, in words that a teacher can play from."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from pipeline.errors import enumerated
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.strokes import StrokePlan

MOST = 4
"""So many departures are told, the others counted."""
DEPARTURES = ("economy", "repeated_stroke", "pinch_upstroke")
Number = Callable[[int], int]
"""From a moment of the plan to the number of its note, from 1."""


@dataclass(frozen=True)
class Departure:
    """One way in which a plan departs: its words, and what it costs."""

    words: str
    cost: float


def departures(plan: StrokePlan, habits: Habits, number: Number) -> tuple[Departure, ...]:
    """What departs from strict alternation in a plan, in the order of its notes."""
    by_cause = {cause: [m for m, named in plan.causes if named == cause] for cause in DEPARTURES}
    found = [
        *_sweeps(plan, by_cause["economy"], habits.weight("economy"), number),
        *_again(plan, by_cause["repeated_stroke"], habits.weight("repeated_stroke"), number),
    ]
    pinched = by_cause["pinch_upstroke"]
    if pinched:
        cost = len(pinched) * habits.weight("pinch_upstroke")
        words = f"an upstroke on the pinched {_notes(pinched, number)}"
        found.append((pinched[0], Departure(words, cost)))
    return tuple(departure for _, departure in sorted(found, key=lambda pair: pair[0]))


def listed(found: Sequence[Departure]) -> str:
    """Departures in a row, each with its cost where there are several."""
    if len(found) == 1:
        return found[0].words
    told = [f"{one.words} ({one.cost:.2f})" for one in found[:MOST]]
    more = [f"{len(found) - MOST} more"] if len(found) > MOST else []
    return ", ".join([*told, *more])


def _sweeps(
    plan: StrokePlan, moments: Sequence[int], weight: float, number: Number
) -> Iterator[tuple[int, Departure]]:
    """Runs of notes that one stroke goes through."""
    runs = list[list[int]]()
    for moment in moments:
        if runs and runs[-1][-1] == moment - 1:
            runs[-1].append(moment)
        else:
            runs.append([moment])
    for run in runs:
        first, last = number(run[0] - 1), number(run[-1])
        through = f"notes {first} {'and' if len(run) == 1 else 'to'} {last}"
        yield run[0], Departure(f"one {plan.strokes[run[0]]}stroke through {through}", len(run) * weight)


def _again(
    plan: StrokePlan, moments: Sequence[int], weight: float, number: Number
) -> Iterator[tuple[int, Departure]]:
    for stroke in ("down", "up"):
        those = [moment for moment in moments if plan.strokes[moment] == stroke]
        if those:
            second = f"a second {stroke}stroke" if len(those) == 1 else f"second {stroke}strokes"
            yield those[0], Departure(f"{second} on {_notes(those, number)}", len(those) * weight)


def _notes(moments: Sequence[int], number: Number) -> str:
    """`note 5`, `notes 2, 5 and 8`."""
    return f"note{'s' if len(moments) > 1 else ''} {enumerated([number(moment) for moment in moments])}"
