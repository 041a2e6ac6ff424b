"""A lesson's printed pages: which parts they have, and what stands in each.

The parts are the script's, in its order; without any, every passage is written out with the hand's positions
and a practice plan. Cautions and credits always close the page.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction

from pipeline.files.pages import (
    Block,
    Caution,
    Figure,
    Heading,
    Pages,
    Points,
    Row,
    Table,
    Words,
)
from pipeline.files.pages import Lesson as PrintedLesson
from pipeline.lesson import paper
from pipeline.lesson.beats import bars_span, beat_of
from pipeline.lesson.credits import RIGHTS_NOTE, credit_lines
from pipeline.lesson.lesson import Lesson
from pipeline.lesson.page_breaks import columns, in_rows, tied
from pipeline.lesson.paper import Paper
from pipeline.lesson.printed import position_figures, tab_figures
from pipeline.lesson.scene import Scene
from pipeline.lesson.signs import sign_figure, signs_of
from pipeline.music.pitch import pitch_class_name
from pipeline.sound.practice import HANDS, HEARING, SPEEDS, Step, planned
from pipeline.timing import Span

ACROSS, SIGNS_ACROSS = 3, (5, 4)
"""Necks side by side, and signs: the first, or the second where it fills the rows better."""
TOGETHER = 3
"""So many rows of necks or signs always stand on one page."""


def pages_of(lessons: Sequence[Lesson], size: Paper, title: str = "") -> Pages:
    """The pages of one lesson, or the book of several with a table of contents."""
    first = lessons[0]
    printed = tuple(_printed(lesson) for lesson in lessons)
    name = title or printed[0].title
    return Pages(name, first.teacher, first.language, printed, size, book=len(lessons) > 1)


def _printed(lesson: Lesson) -> PrintedLesson:
    title = lesson.handout.title if lesson.handout and lesson.handout.title else lesson.title
    blocks = tuple(_levelled(_blocks(lesson)))
    return PrintedLesson(title, f"A lesson by {lesson.teacher}", _facts(lesson), blocks)


def _facts(lesson: Lesson) -> tuple[tuple[str, str], ...]:
    """What a player asks first: tuning, capo, meter and tempo of the first passage."""
    if not lesson.fragments:
        return ()
    fragment = lesson.fragments[0][1]
    guitar = fragment.guitar
    tuning = " ".join(pitch_class_name(note, fragment.flats) for note in reversed(guitar.strings))
    facts = [("Tuning", tuning), ("Tempo", f"{_number(fragment.tempo)} quarter notes a minute")]
    if guitar.capo:
        facts.insert(1, ("Capo", f"fret {guitar.capo}"))
    if fragment.measures:
        facts.append(("Meter", f"{fragment.measures[0].beats}/{fragment.measures[0].unit}"))
    return tuple(facts)


def _levelled(blocks: Iterable[Block]) -> Iterator[Block]:
    """Headings without a gap in their levels, as PDF/UA-1 (ISO 14289-1, 7.4.2) wants: parts that no passage
    precedes stand as high as passages."""
    lowest = 2
    for block in blocks:
        if isinstance(block, Heading):
            if block.level == 2:
                lowest = 3
            yield Heading(block.text, min(block.level, lowest))
        else:
            yield block


def _blocks(lesson: Lesson) -> Iterator[Block]:
    parts = lesson.handout.parts if lesson.handout else tuple(_usual_parts(lesson))
    for part in parts:
        yield from _WRITERS[type(part)](lesson, part)
    told = {part.part for part in parts}
    if "cautions" not in told:
        yield from _cautions()
    if "credits" not in told:
        yield from _credits(lesson)


def _usual_parts(lesson: Lesson) -> Iterator[paper.Part]:
    for name, _ in lesson.fragments:
        yield paper.FragmentPart(part="fragment", fragment=name)
        yield paper.PositionsPart(part="positions", fragment=name)
        yield paper.PracticePart(part="practice", fragment=name)
    yield paper.SignsPart(part="signs")


def _words(lesson: Lesson, part: paper.WordsPart) -> Iterator[Block]:
    if part.title:
        yield Heading(part.title)
    for paragraph in part.text.split("\n\n"):
        yield Words(" ".join(paragraph.split()))


def _fragment(lesson: Lesson, part: paper.FragmentPart) -> Iterator[Block]:
    fragment = lesson.fragment(part.fragment)
    beats = bars_span(part.bars, fragment) if part.bars else Span("beat", Fraction(0), fragment.length)
    yield Heading(part.title or _named(part.fragment))
    yield from tab_figures(fragment, beats, part.staff)


def _positions(lesson: Lesson, part: paper.PositionsPart) -> Iterator[Block]:
    figures = list(position_figures(lesson.fragment(part.fragment)))
    if figures:
        yield Heading("Where the hand stands", 3)
        yield from _rows(figures, ACROSS)


def _rows(figures: Sequence[Figure], across: int) -> Iterator[Row]:
    """Figures side by side; as many rows as make sense together stay on one page."""
    rows = in_rows(figures, across)
    for row, together in zip(rows, tied(len(rows), TOGETHER), strict=True):
        yield Row(row, across, together)


def _still(lesson: Lesson, part: paper.StillPart) -> Iterator[Block]:
    scene = lesson.scene(part.scene)
    picture = scene.picture(_moment(scene, part), "film")
    alt = f"A picture from the scene {scene.title or scene.id}"
    yield Figure(picture, alt, part.caption or "")


def _moment(scene: Scene, part: paper.StillPart) -> Fraction:
    if part.second is not None:
        return part.second
    if part.at is None or scene.fragment is None or not scene.passes:
        return scene.still_at
    return scene.passes[0].moments(beat_of(part.at, scene.fragment))


def _practice(lesson: Lesson, part: paper.PracticePart) -> Iterator[Block]:
    fragment = lesson.fragment(part.fragment)
    speeds = tuple(speed / 100 for speed in part.speeds) or SPEEDS
    seconds = (fragment.length + fragment.measures[0].length) * 60 / fragment.tempo
    plan = planned(fragment.tempo, seconds, speeds, part.minutes)
    yield Heading("Practice plan", 3)
    head = ("Step", "Tempo", "Speed", "Times", "Rest", "What to do")
    yield Table(head, tuple(_row(number, step) for number, step in enumerate(plan.steps, 1)), wide=5)
    rest = f", with {plan.break_minutes} minutes of rest in the middle" if plan.break_minutes else ""
    yield Words(
        f"One sitting takes about {plan.minutes} minutes{rest}. Go a step up only when the one before is "
        "easy three times running; if it is not, go a step down.",
        small=True,
    )


def _row(number: int, step: Step) -> tuple[str, ...]:
    times = (f"{step.repetitions}", f"{step.rest} s")
    return str(number), f"{round(step.tempo)} a minute", f"{step.percent} %", *times, _advice(step.percent)


def _advice(speed: int) -> str:
    """What a step is for (common practice, no source)."""
    if speed <= 45:
        return "Say the fingers aloud. Look at every shift before the hand moves."
    if speed <= 60:
        return "Watch the strokes: every string change on the stroke that is written."
    if speed <= 72:
        return "Play with the slowed excerpt and stop where the two part."
    if speed <= 85:
        return "Bar by bar, then in pairs of bars. Shake the hand out between."
    if speed < 100:
        return "Whole passage, three times, with a rest after each."
    return "At full speed, few times and fresh. Then go back two steps to end clean."


def _reasons(lesson: Lesson, part: paper.ReasonsPart) -> Iterator[Block]:
    from pipeline.lesson.reasons import reason_blocks

    yield Heading("Why here", 2)
    yield from reason_blocks(lesson.fragment(part.fragment), lesson.habits)


def _signs(lesson: Lesson, part: paper.SignsPart) -> Iterator[Block]:
    fragments = [lesson.fragment(part.fragment)] if part.fragment else [one for _, one in lesson.fragments]
    signs = signs_of(fragments)
    if signs:
        across = columns(len(signs), *SIGNS_ACROSS)
        yield Heading("The signs", 3)
        yield from _rows([sign_figure(sign, across) for sign in signs], across)


def _fixed(lesson: Lesson, part: paper.FixedPart) -> Iterator[Block]:
    yield from _cautions() if part.part == "cautions" else _credits(lesson)


def _cautions() -> Iterator[Block]:
    yield Heading("Look after yourself", 3)
    yield Caution("Hands", HANDS)
    yield Caution("Ears", HEARING)


def _credits(lesson: Lesson) -> Iterator[Block]:
    yield Heading("Credits and rights", 3)
    lines = credit_lines(lesson)
    if lines:
        yield Points(tuple(lines))
    yield Words(RIGHTS_NOTE, small=True)


def _named(name: str) -> str:
    return name.replace("-", " ").replace("_", " ").capitalize()


def _number(value: Fraction) -> str:
    return f"{float(value):g}"


_WRITERS: dict[type, Callable[..., Iterator[Block]]] = {
    paper.WordsPart: _words,
    paper.FragmentPart: _fragment,
    paper.PositionsPart: _positions,
    paper.StillPart: _still,
    paper.PracticePart: _practice,
    paper.ReasonsPart: _reasons,
    paper.SignsPart: _signs,
    paper.FixedPart: _fixed,
}
