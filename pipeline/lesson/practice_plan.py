"""The practice plan on paper: a table that follows from the passage and adds up to the time under it.

What each step is for depends on what the passage has: fingers, shifts, strokes, slurs, bars, and how fast its
notes come (common practice, no source).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from pipeline.files.pages import Block, Table, Words
from pipeline.lesson.printed import stays_on_paper
from pipeline.music.fragment import Fragment
from pipeline.music.note import SLURRED, Note
from pipeline.music.passage import performed
from pipeline.sound.practice import SPEEDS, Plan, Step, practised

SAYABLE = 3
"""Notes a second that can be named aloud while they are played (own choice)."""
HEAD = ("Step", "Tempo", "Speed", "Times", "Rest", "What to do")


@dataclass(frozen=True)
class Traits:
    """What a passage has that can be practised."""

    bars: int
    shifts: int
    fingers: bool
    strokes: bool
    picked: bool
    changes: bool
    """Whether two picked notes in a row lie on different strings."""
    slurred: bool
    fastest: Fraction
    """Notes a second, at full speed, where they come fastest; 0 for one alone."""


def traits_of(fragment: Fragment) -> Traits:
    """The traits of a passage as it is played, repeats unfolded."""
    notes = performed(fragment).notes
    picked = [note for note in notes if note.picked and not note.grace]
    return Traits(
        len(performed(fragment).measures),
        max(0, len(stays_on_paper(fragment)) - 1),
        any(note.finger is not None for note in notes),
        any(note.stroke for note in notes),
        bool(picked),
        any(a.string != b.string for a, b in pairwise(picked)),
        any(note.attack in SLURRED - {"tie"} or note.attack == "tap" for note in notes),
        _fastest(notes, fragment.tempo),
    )


def _fastest(notes: Sequence[Note], tempo: Fraction) -> Fraction:
    onsets = sorted({note.onset for note in notes if not note.grace and note.attack != "tie"})
    gaps = [after - before for before, after in pairwise(onsets)]
    return tempo / 60 / min(gaps) if gaps else Fraction(0)


def practice_blocks(fragment: Fragment, percents: Sequence[Fraction], minutes: int) -> Iterator[Block]:
    """The table of a sitting, and what it takes in all."""
    speeds = tuple(percent / 100 for percent in percents) or SPEEDS
    plan = practised(performed(fragment), speeds, minutes)
    advice = advised(traits_of(fragment), [step.speed for step in plan.steps])
    rows = zip(plan.steps, advice, strict=True)
    yield Table(HEAD, tuple(_row(number, *row) for number, row in enumerate(rows, 1)), wide=5)
    yield Words(_in_all(plan), small=True)


def _row(number: int, step: Step, advice: str) -> tuple[str, ...]:
    rest = "none" if not step.rest else f"{step.rest} s" if step.rest < 60 else f"{step.rest // 60} min"
    numbers = (str(number), f"{round(step.tempo)} a minute", f"{step.percent} %", str(step.repetitions))
    return (*numbers, rest, advice)


def _in_all(plan: Plan) -> str:
    minutes = "a minute" if plan.minutes == 1 else f"{plan.minutes} minutes"
    return (
        f"With count-ins and rests this takes about {minutes}. No step needs all its times: go on once it is "
        "easy three times running, and where it will not come, go one step down. Tempos count quarter notes."
    )


def advised(traits: Traits, speeds: Sequence[Fraction]) -> list[str]:
    """What to do at each speed, the slowest first: one aim after the other, and the goal last."""
    aims = list(_aims(traits))
    before = len(speeds) - 1
    places = [place * len(aims) // before if before > len(aims) else place for place in range(before)]
    words = [aims[place] for place in places]
    if words and traits.fingers and traits.fastest * speeds[0] <= SAYABLE:
        words[0] += " Say the fingers aloud."
    again = [one if one != last else "The same, a little faster." for last, one in pairwise(["", *words])]
    goal = "At full speed, as long as it stays clean and loose."
    return [*again, goal if speeds[-1] >= 1 else "As fast as today goes: clean and loose."]


def _aims(traits: Traits) -> Iterator[str]:
    """What there is to work at, the slowest first; never more than five."""
    if not traits.fingers:
        yield "Choose a finger for every note and write it in."
    elif traits.shifts:
        yield "Look at each shift before the hand moves."
    else:
        yield "Keep the hand in its place; only the fingers move."
    if traits.strokes:
        yield "Watch the strokes" + (
            " at every change of string." if traits.changes else ": down and up as written."
        )
    elif traits.picked:
        yield "Choose a stroke for every picked note and keep to it."
    if traits.slurred and traits.picked:
        yield "Slurred notes as loud and as even as picked ones."
    else:
        yield "Every note as loud as the one before, and in time."
    yield (
        "Read one bar ahead: no stop at a bar line."
        if traits.bars > 1
        else "In one breath: no stop on the way."
    )
    yield "By heart: eyes on the hand or nowhere, not on the page."
