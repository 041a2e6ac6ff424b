"""Why a passage lies where it lies, for the handout: the rivals, their costs, the clues, in words."""

from collections import Counter
from collections.abc import Iterator

from pipeline.files.pages import Block, Points, Table, Words
from pipeline.lesson.answers import freed
from pipeline.music.fragment import Fragment
from pipeline.reasoning.explain import Weighed, Weighing, weigh
from pipeline.reasoning.habits import Habits

RIVALS = 3
CAUSES = 3
"""How many of the dearest causes a row names."""


def reason_blocks(fragment: Fragment, habits: Habits) -> Iterator[Block]:
    """A table of the rival readings and a sentence for each. Raises Faulty where none can be had."""
    weighing = weigh(freed(fragment), habits, k=RIVALS)
    yield Words(
        "From the notes, the clues in the recording and the habits of the hand, these readings remain. A "
        "lower sum is easier to play; the sums compare readings of this passage with one another and are "
        "no probabilities."
    )
    yield Table(
        ("", "Where the hand is", "Sum", "What it costs most", "Clues"), tuple(_rows(weighing)), wide=3
    )
    yield Points(tuple(weighed.apart for weighed in weighing.readings), numbered=True)
    yield Words(f"Clues that were heard: {heard(fragment)}.")
    if weighing.ask is not None:
        yield Words(f"What would settle most: {weighing.ask.words}", small=True)


def _rows(weighing: Weighing) -> Iterator[tuple[str, ...]]:
    for number, weighed in enumerate(weighing.readings, 1):
        yield (
            str(number),
            weighed.reading.name,
            f"{weighed.reading.total:.1f}",
            ", ".join(_dearest(weighed)),
            f"{len(weighed.met)} met" + (f", {len(weighed.broken)} broken" if weighed.broken else ""),
        )


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
