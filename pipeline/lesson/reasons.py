"""Why a passage lies where it lies, for the handout: the rivals, their costs, the clues, in words."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from pipeline.errors import Faulty
from pipeline.files.pages import Block, Points, Table, Words
from pipeline.lesson.answers import freed
from pipeline.music.fragment import Fragment
from pipeline.reasoning.elsewhere import elsewhere
from pipeline.reasoning.explain import Weighed, against, weigh
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.names import told_apart
from pipeline.reasoning.outline import outline

RIVALS = 3
LETTERS = "ABC"
SAME = 0.005
"""Sums that print alike."""
CAUSES = 3
"""How many of the dearest causes a row names."""
PRINTED = "As printed"


def reason_blocks(fragment: Fragment, habits: Habits) -> Iterator[Block]:
    """The printed reading among its rivals: a table, and a sentence for each. Raises Faulty where none can be
    had."""
    rivals = weigh(freed(fragment), habits, k=RIVALS + 1)
    printed, against_it = _printed(fragment, habits)
    others = [one for one in rivals.readings if not printed or _places(one) != _places(printed)][:RIVALS]
    shown = _named([printed, *others] if printed else others)
    printed, others = (shown[0], shown[1:]) if printed else (None, shown)
    named = [(f"Rival {letter}", one) for letter, one in zip(LETTERS, others, strict=False)]
    yield Words(
        "The passage as it is printed here, and its closest rivals for the same notes, clues and habits of "
        "the hand. A lower sum is easier to play; the sums compare readings of this passage with one "
        "another and are no probabilities."
    )
    listed = [(PRINTED, printed)] if printed else []
    rows = tuple(_row(name, one) for name, one in [*listed, *named])
    yield Table(("", "Where the hand is", "Sum", "What it costs most", "Clues"), rows, wide=3)
    yield Words(_verdict(printed, named) if printed else against_it)
    if printed and named:
        yield Points(tuple(_compared(fragment, name, one, printed) for name, one in named))
    yield Words(f"Clues that were heard: {heard(fragment)}.")
    shape = outline(fragment, printed.reading).shape if printed else ()
    if shape:
        yield Words("What the passage is made of:")
        yield Points(shape)
    if rivals.ask is not None:
        yield Words(f"What would settle most: {rivals.ask.words}", small=True)


def _named(shown: list[Weighed]) -> list[Weighed]:
    """The same with names that tell them apart on this page."""
    names = told_apart([one.reading for one in shown])
    return [replace(one, reading=reading) for one, reading in zip(shown, names, strict=True)]


def _printed(fragment: Fragment, habits: Habits) -> tuple[Weighed | None, str]:
    """The reading on the page, judged; None where no hand takes it as it is marked, and words for that."""
    try:
        return weigh(fragment, habits, k=1).readings[0], ""
    except Faulty as error:
        return None, f"What is printed was not weighed against them: {error.faults[0].wrong}."


def _verdict(printed: Weighed, named: list[tuple[str, Weighed]]) -> str:
    """Which way the sums lean, said as plainly where they lean against the page."""
    easier = [name for name, one in named if one.reading.total < printed.reading.total - SAME]
    if not named:
        return f"With the hand at {printed.reading.name} it is the only reading."
    if not easier:
        return f"By these sums the printed reading, {printed.reading.name}, is the easiest."
    are = "is" if len(easier) == 1 else "are"
    return (
        f"By these sums alone {' and '.join(easier)} {are} easier than the printed reading, "
        f"{printed.reading.name}, which stands as its author wrote it."
    )


def _compared(fragment: Fragment, name: str, rival: Weighed, printed: Weighed) -> str:
    """What a rival costs against the printed reading, and which notes it puts elsewhere."""
    costs = against(fragment, rival.reading, printed.reading)
    moved = elsewhere(fragment, rival.reading, printed.reading)
    return f"{name}, {rival.reading.name}, {costs}." + (f" {moved[0].upper()}{moved[1:]}." if moved else "")


def _places(weighed: Weighed) -> tuple[tuple[int, int], ...]:
    return tuple((place.string, place.fret) for place in weighed.reading.places)


def _row(name: str, weighed: Weighed) -> tuple[str, ...]:
    return (
        name,
        weighed.reading.name,
        f"{weighed.reading.total:.1f}",
        ", ".join(_dearest(weighed)),
        _clues(weighed),
    )


def _clues(weighed: Weighed) -> str:
    counts = ((len(weighed.met), "met"), (len(weighed.broken), "broken"))
    return ", ".join(f"{count} {what}" for count, what in counts if count) or "none"


def _dearest(weighed: Weighed) -> list[str]:
    from pipeline.reasoning.explain import CAUSE_WORDS

    ranked = sorted(weighed.by_cause, key=lambda pair: -pair[1])
    return [f"{CAUSE_WORDS[cause]} {amount:.1f}" for cause, amount in ranked[:CAUSES]]


def heard(fragment: Fragment) -> str:
    """The clues of a fragment, counted by kind: `slurred (14 notes), slip at note 38`."""
    counts = Counter(clue.kind for clue in fragment.clues)
    notes = {clue.kind: clue.note + 1 for clue in fragment.clues}
    told = (
        f"{kind} at note {notes[kind]}" if count == 1 else f"{kind} ({count} notes)"
        for kind, count in counts.items()
    )
    return ", ".join(told) or "none"
