"""Signs on the strip and the neck: each stroke has one, and what sounds lies on what stands there at rest."""

from fractions import Fraction

import corpus
import pytest
import reading

from pipeline.drawing.outline import circle, diamond
from pipeline.drawing.picture import Mark, Outline, Path, Text
from pipeline.views.neck import Neck
from pipeline.views.notemarks import tapped
from pipeline.views.tab import Tab

F = Fraction


def shapes(marks: list[Mark], name: str) -> list[Path]:
    return [mark for mark in marks if isinstance(mark, Path) and mark.name == name]


@pytest.mark.parametrize("name", ["rake", "every technique"])
def test_a_string_that_waves_or_leans_rings_where_it_is_drawn(name: str) -> None:
    """The lit line has the very outline of the one at rest, so that only one wave is seen."""
    stage = corpus.stage_of(corpus.corpus()[name])
    assert stage.fragment is not None
    seen = 0
    for index, note in enumerate(stage.fragment.notes):
        if note.vibrato == "none":
            continue
        picture = Tab().picture(stage, stage.passes[0].moments(note.onset))
        marks = [mark for mark, _ in reading.walk(picture.marks)]
        rest, lit = shapes(marks, f"vibrato {index}"), shapes(marks, f"ring {index}")
        assert [mark.outline for mark in lit] == [mark.outline for mark in rest]
        seen += len(lit)
    assert seen


def test_the_tab_has_a_sign_for_every_stroke_that_is_written() -> None:
    fragment = corpus.rake()
    picture = Tab().picture(corpus.stage_of(fragment), F(0))
    signs = [mark for mark, _ in reading.walk(picture.marks) if mark.name.startswith("stroke ")]
    assert len(signs) == sum(note.stroke is not None for note in fragment.notes)


def tapping(inside: str) -> list[Mark]:
    """The marks on the neck where a tapped note sounds and a fretted one comes."""
    items = [(F(1), corpus.on(2, 12, attack="tap")), (F(1), corpus.on(2, 5, attack="pull", finger=1))]
    stage = corpus.stage_of(corpus.written("tapping", corpus.PLAIN, items))
    picture = Neck(inside=inside).picture(stage, stage.passes[0].span.start)  # type: ignore[arg-type]
    return [mark for mark, _ in reading.walk(picture.marks)]


def kind(outline: Outline) -> list[str]:
    """How an outline is made, whatever its size and place."""
    return [command for command, _ in outline]


@pytest.mark.parametrize("inside", ["finger", "fret", "name", "none"])
def test_a_tapped_note_is_told_by_its_shape(inside: str) -> None:
    """Sounding or at rest the mark of a tapped note is no circle, and no harmonic's diamond."""
    marks = tapping(inside)
    (lit,), (coming,) = shapes(marks, "lit"), shapes(marks, "next")
    (rest,) = shapes(marks, "place 2/12")
    assert kind(lit.outline) == kind(rest.outline) == kind(tapped(0, 0, 1))
    assert kind(lit.outline) not in (kind(circle(0, 0, 1)), kind(diamond(0, 0, 1, 1)))
    assert kind(coming.outline) == kind(circle(0, 0, 1))


def test_a_tapped_note_without_a_finger_says_t_as_the_tab_does() -> None:
    assert [mark.text for mark in tapping("finger") if isinstance(mark, Text)].count("T") == 2


def test_a_dead_note_does_not_ring() -> None:
    """It is lit as every note is, but its string shines in no view."""
    stage = corpus.stage_of(corpus.rake())
    t = stage.passes[0].moments(F(1))
    for view in (Tab(), Neck()):
        marks = [mark.name for mark, _ in reading.walk(view.picture(stage, t).marks)]
        assert reading.sounding(view.picture(stage, t)) == {3}
        assert "ring 3" not in marks
    before = Tab().picture(stage, stage.passes[0].moments(F(1, 2)))
    assert "ring 2" in [mark.name for mark, _ in reading.walk(before.marks)]


@pytest.mark.parametrize("size", [(1728, 480, 1080), (486, 972, 1350), (1728, 260, 1080)])
def test_no_circle_on_the_neck_is_empty(size: tuple[int, int, int]) -> None:
    """Every ring of the phrase has a label in it; a place without one is a dot."""
    stage = corpus.stage_of(corpus.lead_line(), *size)
    (phrase,) = [mark for mark in Neck().picture(stage, F(0)).marks if mark.name == "phrase"]
    marks = [mark for mark, _ in reading.walk((phrase,))]
    rings = [
        mark for mark in marks if isinstance(mark, Path) and mark.stroke and mark.name.startswith("place")
    ]
    labels = [mark for mark in marks if isinstance(mark, Text)]
    dots = [mark for mark in marks if isinstance(mark, Path) and not mark.stroke]
    assert len(rings) == len(labels)
    assert rings or dots
