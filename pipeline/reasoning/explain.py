"""Why this reading and not another: the readings of a fragment weighed against each other, in words.

Costs are margins with reasons and never percentages; the measured shares were not calibrated.
"""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from pipeline.errors import enumerated
from pipeline.music.fragment import Fragment
from pipeline.reasoning.clue import described
from pipeline.reasoning.costs import NAMES
from pipeline.reasoning.elsewhere import elsewhere
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.limits import Region
from pipeline.reasoning.moments import Times, spoken
from pipeline.reasoning.outline import Outline, outline
from pipeline.reasoning.question import Question, questions
from pipeline.reasoning.reading import Cost, Reading
from pipeline.reasoning.remarks import reading_remarks

CAUSE_WORDS: dict[str, str] = {
    "low_hand": "a hand far down the neck",
    "high_hand": "a hand far up the neck",
    "open_string": "open strings",
    "stretch": "stretched fingers",
    "ring_finger": "the ring finger",
    "little_finger": "the little finger",
    "thick_string": "thick strings",
    "chord_span": "wide grips",
    "barre": "barres",
    "chord_gap": "silent strings inside grips",
    "chord_finger": "many fingers down",
    "bend_finger": "bends by a weak finger",
    "bend_room": "little room for bends",
    "shift": "shifts",
    "shift_length": "long shifts",
    "shift_speed": "hurried shifts",
    "free_shift": "shifts in rests",
    "walk": "one finger walking along its string",
    "roll": "one finger rolling over strings",
    "jump": "one finger jumping",
    "crossed": "crossed fingers",
    "spread": "notes beyond the hand's span",
    "cross_string": "changes of string",
    "skip_string": "skipped strings",
    "moved_repeat": "a repeated pitch that moves",
    "changed_finger": "fingers that change on one place",
    "slide_length": "long slides",
    "over_neck": "the picking hand's way over the neck",
    "inside": "crossings inside",
    "outside": "crossings outside",
    "economy": "strokes through two strings",
    "repeated_stroke": "repeated strokes",
    "pinch_upstroke": "a pinch harmonic on an upstroke",
    "upstroke_start": "a start on an upstroke",
    "unheard_slur": "slurs that were not heard",
    "clue": "clues that are not met",
}
_MOVES = ("shift", "shift_length", "shift_speed", "free_shift")
"""Causes that the length and time of a shift explain best."""


@dataclass(frozen=True)
class Weighed:
    """One reading as it is judged: its cost by cause, its clues in words, what sets it apart."""

    reading: Reading
    by_cause: tuple[tuple[str, float], ...]
    met: tuple[str, ...]
    broken: tuple[str, ...]
    apart: str
    elsewhere: str = ""
    """Which notes lie in another place than in the first reading."""
    remarks: tuple[str, ...] = ()
    """What the strokes and the pinch harmonics of the reading mean, a sentence each."""


@dataclass(frozen=True)
class Weighing:
    """The readings of a fragment, the cheapest first, and the note to ask about next."""

    fragment: Fragment
    readings: tuple[Weighed, ...]
    differing: tuple[int, ...]
    """The notes that the readings place differently."""
    ask: Question | None
    outline: Outline
    """What the first reading is made of."""

    @property
    def margin(self) -> float | None:
        """What the second reading costs more than the first; None where there is one only."""
        if len(self.readings) < 2:
            return None
        return round(self.readings[1].reading.total - self.readings[0].reading.total, 6)

    def as_data(self) -> dict[str, Any]:
        """Plain data for JSON; notes, strings and frets as the fragment counts them (notes from 0)."""
        ask = self.ask
        return {
            "fragment": self.fragment.name,
            "margin": self.margin,
            "differing": list(self.differing),
            "ask": None
            if ask is None
            else {"note": ask.note, "strings": list(ask.strings), "words": ask.words},
            "readings": [_reading_data(weighed) for weighed in self.readings],
            "outline": self.outline.as_data(),
        }

    def as_text(self) -> str:
        """The table of readings for a screen."""
        return "\n".join(_lines(self))


def weigh(
    fragment: Fragment,
    habits: Habits | None = None,
    times: Times | None = None,
    k: int = 4,
    region: Region | None = None,
) -> Weighing:
    """Find and judge up to k readings, the hand within `region` if one is given; none that breaks a hard
    clue is among them. Raises Faulty."""
    habits = habits or Habits()
    found = readings(fragment, habits, times, k, region)
    remarks = [reading_remarks(fragment, reading, habits, times) for reading in found]
    judged = tuple(_weighed(fragment, found, index, said) for index, said in enumerate(remarks))
    ask = next(iter(questions(fragment, habits, times)), None)
    first = found[0] if found else Reading("none", ())
    return Weighing(fragment, judged, differing(found), ask, outline(fragment, first, times))


def differing(found: Sequence[Reading]) -> tuple[int, ...]:
    """The notes that lie on different strings in some of the readings."""
    strings = [{place.string for place in places} for places in zip(*(r.places for r in found), strict=True)]
    return tuple(index for index, some in enumerate(strings) if len(some) > 1)


def by_cause(costs: Iterable[Cost]) -> dict[str, float]:
    """The sum of the costs of each cause, in the order of the causes."""
    sums = dict.fromkeys(NAMES, 0.0)
    for cost in costs:
        sums[cost.cause] += cost.amount
    return {cause: round(amount, 6) for cause, amount in sums.items() if amount}


def _weighed(fragment: Fragment, found: Sequence[Reading], index: int, remarks: tuple[str, ...]) -> Weighed:
    reading = found[index]
    met, broken = (
        tuple(described(fragment, fragment.clues[i]) for i in s) for s in (reading.met, reading.broken)
    )
    causes = tuple(by_cause(reading.costs).items())
    moved = elsewhere(fragment, reading, found[0])
    return Weighed(reading, causes, met, broken, apart(fragment, found, index), moved, remarks)


def _clues(fragment: Fragment, which: Sequence[int]) -> tuple[str, ...]:
    return tuple(described(fragment, fragment.clues[i]) for i in which)


def apart(fragment: Fragment, found: Sequence[Reading], index: int) -> str:
    """One sentence that says what sets a reading apart from the first, or the first from the second."""
    reading = found[index]
    if len(found) == 1:
        return f"With the hand at {reading.name} it is the only reading."
    other = found[0] if index else found[1]
    more, less = _gaps(reading, other), _gaps(other, reading)
    if index == 0:
        return (
            f"With the hand at {reading.name} it spares what the second has: {_worst(fragment, other, less)}."
        )
    gains = f", though it spares {_by(less[0])}" if less else ""
    extra = f"{reading.total - other.total:.2f}"
    return f"With the hand at {reading.name} it costs {extra} more: {_worst(fragment, reading, more)}{gains}."


def against(fragment: Fragment, rival: Reading, chosen: Reading) -> str:
    """What a rival costs more or less than the reading that was chosen, and what that comes from."""
    more, less = _gaps(rival, chosen), _gaps(chosen, rival)
    apart_by = rival.total - chosen.total
    if abs(apart_by) < 0.005:
        return "costs the same"
    if apart_by > 0:
        gains = f", though it spares {_by(less[0])}" if less else ""
        return f"costs {apart_by:.2f} more: {_worst(fragment, rival, more)}{gains}"
    pays = f"has more of {CAUSE_WORDS[more[0][0]]}, yet " if more else ""
    return f"{pays}costs {-apart_by:.2f} less: it spares {_worst(fragment, chosen, less)}"


def _gaps(dear: Reading, cheap: Reading) -> list[tuple[str, float]]:
    """Causes for which the first costs more than the second, the widest gap first."""
    a, b = by_cause(dear.costs), by_cause(cheap.costs)
    gaps = [(cause, round(amount - b.get(cause, 0.0), 6)) for cause, amount in a.items()]
    return sorted((gap for gap in gaps if gap[1] > 0), key=lambda gap: (-gap[1], NAMES.index(gap[0])))


def _by(gap: tuple[str, float]) -> str:
    """A cause and how much it grows: `thick strings by 2.24`."""
    return f"{CAUSE_WORDS[gap[0]]} by {gap[1]:.2f}"


def _worst(fragment: Fragment, dear: Reading, gaps: Sequence[tuple[str, float]]) -> str:
    """The causes that tell most, with the dearest single case of the first."""
    if not gaps:
        return "nothing that is named"
    named = " and ".join(map(_by, gaps[:2]))
    cause = "shift_length" if gaps[0][0] in _MOVES else gaps[0][0]
    cases = [cost for cost in dear.costs if cost.cause == cause]
    case = max(cases, key=lambda cost: (cost.amount, -cost.note))
    return f"{named} ({case.because} at {spoken(fragment, case.note)})"


def _reading_data(weighed: Weighed) -> dict[str, Any]:
    reading = weighed.reading
    return {
        "name": reading.name,
        "total": reading.total,
        "by_cause": dict(weighed.by_cause),
        "met": list(weighed.met),
        "broken": list(weighed.broken),
        "apart": weighed.apart,
        "elsewhere": weighed.elsewhere,
        "remarks": list(weighed.remarks),
        "places": [asdict(place) for place in reading.places],
        "costs": [
            {"note": c.note, "cause": c.cause, "amount": c.amount, "because": c.because}
            for c in reading.costs
        ],
    }


def _lines(weighing: Weighing) -> Iterable[str]:
    readings_ = [weighed.reading for weighed in weighing.readings]
    causes = [cause for cause in NAMES if any(dict(w.by_cause).get(cause) for w in weighing.readings)]
    labels = [CAUSE_WORDS[cause] for cause in causes]
    width = max([len(label) for label in labels] + [len("where the hand is")])
    names = [reading.name for reading in readings_]
    columns = [max(len(name), 8) for name in names]

    def row(label: str, cells: Sequence[str]) -> str:
        return "  ".join([label.ljust(width), *(c.rjust(w) for c, w in zip(cells, columns, strict=True))])

    yield row("reading", [str(n) for n in range(1, len(names) + 1)])
    yield row("where the hand is", names)
    for cause, label in zip(causes, labels, strict=True):
        amounts = [dict(w.by_cause).get(cause, 0.0) for w in weighing.readings]
        yield row(label, [f"{a:.2f}" if a else "." for a in amounts])
    yield row("together", [f"{reading.total:.2f}" for reading in readings_])
    yield ""
    yield from _words(weighing)


def _words(weighing: Weighing) -> Iterable[str]:
    if weighing.margin is not None:
        yield f"The first is ahead of the second by {weighing.margin:.2f}."
    for number, weighed in enumerate(weighing.readings, start=1):
        yield f"{number}. {weighed.apart}"
        if weighed.elsewhere:
            yield f"   {weighed.elsewhere}"
        if weighed.met:
            yield f"   meets {_grouped(weighing.fragment, weighed.reading.met)}"
        if weighed.broken:
            yield f"   breaks {_grouped(weighing.fragment, weighed.reading.broken)}"
        yield from (f"   {remark}" for remark in weighed.remarks)
    made_of = weighing.outline.words
    if made_of:
        yield "What reading 1 is made of:"
        yield from (f"   {sentence}" for sentence in made_of)
    if weighing.outline.view_line:
        yield f"   A view to show it: {weighing.outline.view_line}"
    if weighing.ask is not None:
        yield f"To settle most, find out {weighing.ask.words}"


def _grouped(fragment: Fragment, which: Sequence[int]) -> str:
    """Clues in words, those of one kind together: `slurred on notes 3, 6 and 9`."""
    kinds: dict[str, list[int]] = {}
    for clue in (fragment.clues[i] for i in which):
        kinds.setdefault(" ".join(filter(None, (clue.kind, clue.value))), []).append(clue.note)
    return "; ".join(_one_kind(fragment, kind, sorted(notes)) for kind, notes in kinds.items())


def _one_kind(fragment: Fragment, kind: str, notes: Sequence[int]) -> str:
    if len(notes) == 1:
        return f"{kind} on {spoken(fragment, notes[0])}"
    return f"{kind} on notes {enumerated([note + 1 for note in notes])}"
