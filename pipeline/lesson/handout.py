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
    Words,
)
from pipeline.files.pages import Lesson as PrintedLesson
from pipeline.lesson import paper
from pipeline.lesson.beats import bars_span, beat_of
from pipeline.lesson.credits import RIGHTS_NOTE, credit_lines
from pipeline.lesson.lesson import Lesson
from pipeline.lesson.page_breaks import columns, in_rows, tied
from pipeline.lesson.paper import Paper
from pipeline.lesson.practice_plan import practice_blocks
from pipeline.lesson.printed import position_figures, tab_figures
from pipeline.lesson.printed_still import still_figure
from pipeline.lesson.scene import Scene
from pipeline.lesson.signs import sign_figure, signs_of
from pipeline.lesson.told import Told, whole
from pipeline.sound.practice import HANDS, HEARING

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
    told = Told(lesson, lesson.handout.parts if lesson.handout else tuple(_usual_parts(lesson)))
    facts = told.head()
    blocks = tuple(_levelled(_blocks(told)))
    return PrintedLesson(title, f"A lesson by {lesson.teacher}", facts, blocks)


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


def _blocks(told: Told) -> Iterator[Block]:
    for part in told.parts:
        yield from _WRITERS[type(part)](told, part)
    fixed = {part.part for part in told.parts}
    if "cautions" not in fixed:
        yield from _cautions()
    if "credits" not in fixed:
        yield from _credits(told.lesson)


def _usual_parts(lesson: Lesson) -> Iterator[paper.Part]:
    for name, _ in lesson.fragments:
        yield paper.FragmentPart(part="fragment", fragment=name)
        yield paper.PositionsPart(part="positions", fragment=name)
        yield paper.PracticePart(part="practice", fragment=name)
    yield paper.SignsPart(part="signs")


def _words(told: Told, part: paper.WordsPart) -> Iterator[Block]:
    if part.title:
        yield Heading(part.title)
    for paragraph in part.text.split("\n\n"):
        yield Words(" ".join(paragraph.split()))


def _fragment(told: Told, part: paper.FragmentPart) -> Iterator[Block]:
    fragment = told.lesson.fragment(part.fragment)
    beats = bars_span(part.bars, fragment) if part.bars else whole(fragment)
    yield from told.opening(part, beats)
    yield from tab_figures(fragment, beats, part.staff)


def _positions(told: Told, part: paper.PositionsPart) -> Iterator[Block]:
    yield told.heading("Where the hand stands", part.fragment)
    fragment = told.lesson.fragment(part.fragment)
    yield from told.retuned(fragment)
    yield from _rows(list(position_figures(fragment)), ACROSS)


def _rows(figures: Sequence[Figure], across: int) -> Iterator[Row]:
    """Figures side by side; as many rows as make sense together stay on one page."""
    rows = in_rows(figures, across)
    for row, together in zip(rows, tied(len(rows), TOGETHER), strict=True):
        yield Row(row, across, together)


def _still(told: Told, part: paper.StillPart) -> Iterator[Block]:
    scene = told.lesson.scene(part.scene)
    if scene.fragment is not None:
        yield from told.retuned(scene.fragment)
    yield still_figure(scene, _moment(scene, part), part.caption or "")


def _moment(scene: Scene, part: paper.StillPart) -> Fraction:
    if part.second is not None:
        return part.second
    if part.at is None or scene.fragment is None or not scene.passes:
        return scene.still_at
    return scene.passes[0].moments(beat_of(part.at, scene.fragment))


def _practice(told: Told, part: paper.PracticePart) -> Iterator[Block]:
    yield told.heading("Practice plan", part.fragment)
    yield from practice_blocks(told.lesson.fragment(part.fragment), part.speeds, part.minutes)


def _reasons(told: Told, part: paper.ReasonsPart) -> Iterator[Block]:
    from pipeline.lesson.reasons import reason_blocks

    yield told.heading("Why here", part.fragment, 2)
    yield from reason_blocks(told.lesson.fragment(part.fragment), told.lesson.habits)


def _signs(told: Told, part: paper.SignsPart) -> Iterator[Block]:
    fragments = [one for name, one in told.lesson.fragments if part.fragment in (None, name)]
    signs = signs_of(fragments)
    if signs:
        across = columns(len(signs), *SIGNS_ACROSS)
        yield Heading("The signs", 3)
        yield from _rows([sign_figure(sign, across) for sign in signs], across)


def _fixed(told: Told, part: paper.FixedPart) -> Iterator[Block]:
    yield from _cautions() if part.part == "cautions" else _credits(told.lesson)


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
