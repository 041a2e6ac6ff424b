"""The practice plan: a ladder of tempos with repetitions and rests, as data that pages print and files sound.

A sudden rise of playing load is a known cause of strain (M. Chan and B. Ackermann, Frontiers in Psychology
2014, doi 10.3389/fpsyg.2014.00706), so the load rises in steps; noise above 85 dB(A) harms in a time that
halves with every 3 dB (NIOSH 98-126). The lengths of rests are common practice, no source.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from pipeline.music.fragment import Fragment, Measure
from pipeline.sound.click import clicks, count_in, count_in_length
from pipeline.sound.guide import play
from pipeline.sound.limit import limited
from pipeline.sound.loudness import CEILING_DBTP, TARGET_LUFS, gain_to, level
from pipeline.sound.matching import BESIDE_MUSIC, click_gain
from pipeline.sound.mix import Part, looped, mixed
from pipeline.sound.signal import Signal
from pipeline.sound.slowmap import stretch_map
from pipeline.sound.stretch import stretch
from pipeline.timing import Span, TimeMap

SPEEDS = tuple(Fraction(percent, 100) for percent in (40, 50, 60, 75, 90, 100))
FEWEST, MOST = 3, 12
"""Repetitions of one step: three clean ones running lead to the next."""
REST = 30
"""Seconds of rest for the hands between two steps."""
LONG_SITTING, BREAK = 25, 5
"""From so many minutes on a sitting has a break of so many minutes in its middle."""

HANDS = (
    "Wide stretches and many repetitions can strain hands, arms and shoulders. Warm up first, and go up a"
    " step only when you have played the one below three times running, clean and loose.",
    "Let your hands rest between the steps, take five to ten minutes off in every half hour, and spread the"
    " work over days.",
    "Stop at once if anything hurts, tingles or goes numb. If it comes back, see a doctor or another"
    " qualified clinician, and let a teacher look at how you play.",
)
HEARING = (
    "Keep the volume where you can still talk over it, most of all on headphones: from 85 dB(A) on, the time "
    "that is safe for hearing halves with every 3 dB (NIOSH). Follow your local rules.",
)
CAUTIONS = (*HANDS, *HEARING)
"""The one wording of what to heed, for pages, sound and the command line."""


@dataclass(frozen=True)
class Step:
    """One rung: its share of full speed, quarter notes a minute, how often, and the rest after it."""

    speed: Fraction
    tempo: Fraction
    repetitions: int
    rest: int
    """Seconds."""

    @property
    def percent(self) -> int:
        return round(self.speed * 100)


@dataclass(frozen=True)
class Plan:
    """A sitting: its steps from slow to fast, what it takes in all, and what to heed."""

    steps: tuple[Step, ...]
    seconds: Fraction
    """What all repetitions with their count-ins and all rests take together."""
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def minutes(self) -> int:
        """The same in whole minutes, at least one."""
        return max(1, round(self.seconds / 60))


def practised(fragment: Fragment, speeds: Sequence[Fraction] = SPEEDS, minutes: int = 15) -> Plan:
    """The plan for a passage, repeats unfolded, with a count-in before each repetition. Raises ValueError."""
    second = 60 / fragment.tempo
    once = fragment.length * second + count_in_length(fragment.measures[0], second)
    return planned(fragment.tempo, once, speeds, minutes)


def planned(
    tempo: Fraction, seconds: Fraction, speeds: Sequence[Fraction] = SPEEDS, minutes: int = 15
) -> Plan:
    """Share the minutes of a sitting among the speeds.

    `tempo` is the full speed in quarter notes a minute and `seconds` what the passage then lasts with its
    count-in. Each step has 3 to 12 repetitions, so a sitting may take less or more. Raises ValueError without
    speeds.
    """
    if not speeds:
        raise ValueError("a practice plan needs at least one speed")
    rests = _rests(len(speeds), minutes)
    each = Fraction(minutes * 60 - sum(rests), len(speeds))
    steps = tuple(
        Step(speed, tempo * speed, min(max(int(each / (seconds / speed)), FEWEST), MOST), rest)
        for speed, rest in zip(sorted(speeds), rests, strict=True)
    )
    return Plan(
        steps, sum((step.repetitions * seconds / step.speed + step.rest for step in steps), Fraction(0))
    )


def _rests(steps: int, minutes: int) -> list[int]:
    """Seconds of rest after each step: none after the last, a long one in the middle of a long sitting."""
    rests = [REST] * (steps - 1) + [0]
    if minutes >= LONG_SITTING and steps > 1:
        rests[(steps - 1) // 2] = BREAK * 60
    return rests


def tempo_speeds(tempo: Fraction, first: int, last: int, step: int) -> tuple[Fraction, ...]:
    """Speeds for tempos from `first` to `last` beats a minute in steps of `step`, the last one included.

    Raises ValueError where the steps lead nowhere.
    """
    if step <= 0 or first <= 0 or last < first:
        raise ValueError("tempos rise from a first to a last one in steps above 0")
    return tuple(Fraction(bpm) / tempo for bpm in (*range(first, last, step), last))


@dataclass(frozen=True, eq=False)
class Passage:
    """What is practised: its measures, its tempo, and for any speed its sound and the second of each beat."""

    name: str
    measures: tuple[Measure, ...]
    tempo: Fraction
    moments: Callable[[Fraction], TimeMap]
    sound: Callable[[Fraction], Signal]


def guided(fragment: Fragment, rate: int = 48000) -> Passage:
    """A fragment played by the guide."""
    second = 60 / fragment.tempo

    def moments(speed: Fraction) -> TimeMap:
        return TimeMap.linear("beat", "excerpt", Fraction(0), Fraction(0), second / speed)

    def sound(speed: Fraction) -> Signal:
        return play(fragment, moments(speed), fragment.length * second / speed, rate)

    return Passage(fragment.name, fragment.measures, fragment.tempo, moments, sound)


def recorded(
    fragment: Fragment,
    signal: Signal,
    marks: TimeMap,
    span: Span,
    anchors: tuple[Fraction, ...],
    loose: frozenset[int] = frozenset(),
) -> Passage:
    """A fragment in a recording: `marks` maps its beats to clip seconds, `anchors` are its onsets there."""

    def moments(speed: Fraction) -> TimeMap:
        return marks.then(stretch_map(span, speed, anchors, loose, signal.rate))

    def sound(speed: Fraction) -> Signal:
        return stretch(signal, span, speed, anchors, loose)

    return Passage(fragment.name, fragment.measures, fragment.tempo, moments, sound)


def sounds(
    passage: Passage, plan: Plan, click: bool = True, lead: bool = True
) -> Iterator[tuple[str, Signal]]:
    """For each step a name and its sound in stereo: count-in and passage as often as the step says.

    Each step is brought to the loudness of films, so that they match.
    """
    for number, step in enumerate(plan.steps, start=1):
        name = f"{passage.name}-{number:02}-{step.percent:03}-percent-{round(step.tempo):03}-bpm"
        yield name, _step_sound(passage, step, click, lead)


def _step_sound(passage: Passage, step: Step, click: bool, lead: bool) -> Signal:
    sound, moments = passage.sound(step.speed), passage.moments(step.speed)
    beside = click_gain(TARGET_LUFS, BESIDE_MUSIC)
    parts = [Part(sound, Fraction(0), gain_to(level(sound)))]
    if click:
        beats = clicks(passage.measures, moments, sound.duration, sound.rate)
        parts.append(Part(beats, Fraction(0), beside, Fraction(0), role="click"))
    (once,) = limited([mixed(parts, sound.duration)], CEILING_DBTP)
    counted = count_in(passage.measures[0], 60 / step.tempo, rate=sound.rate)
    counted = Signal(counted.samples * np.float32(beside), sound.rate)
    return looped(once, step.repetitions, lead=counted if lead else None)
