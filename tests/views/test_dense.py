"""Eight chords a beat in frames of every shape: labels and what lights up behind them never touch."""

from fractions import Fraction
from itertools import pairwise

import corpus
import pytest

from pipeline.drawing.picture import Group, Mark
from pipeline.music.fragment import Fragment
from pipeline.views.digits import pill_box
from pipeline.views.paging import standing
from pipeline.views.rows import Laid
from pipeline.views.tab import Tab, lay

F = Fraction
FRAMES = [(1080, 1920), (1080, 1080), (640, 360), (720, 1280), (1920, 1080), (360, 640)]


def chords(a_beat: int, fret: int) -> Fragment:
    """A bar of 4/4 filled with chords over six strings."""
    shape = [corpus.on(string, fret) for string in range(1, 7)]
    return corpus.written("dense", corpus.PLAIN, [(F(1, a_beat), *shape)] * (4 * a_beat))


def laid(fragment: Fragment, size: tuple[int, int], share: float) -> Laid:
    """Tab in a share of a frame's height, with the room that a look leaves around it."""
    wide, tall = round(size[0] * 0.9), round(size[1] * 0.9 * share)
    made = lay(Tab(), corpus.stage_of(fragment, wide, tall, size[1]))
    assert made is not None
    return made


@pytest.mark.parametrize("size", FRAMES)
@pytest.mark.parametrize(("a_beat", "fret"), [(8, 12), (8, 7), (4, 12), (7, 10)])
@pytest.mark.parametrize("share", [1.0, 0.5])
def test_neither_labels_nor_what_lights_up_behind_them_touch(
    size: tuple[int, int], a_beat: int, fret: int, share: float
) -> None:
    fragment = chords(a_beat, fret)
    made = laid(fragment, size, share)
    sizes = made.brush.sheet.sizes
    assert sizes.digit >= size[1] / 30
    assert sorted(i for system in made.systems for i in system.xs) == list(range(len(fragment.notes)))
    for system in made.systems:
        boxes = [pill_box(made.brush, i, x, sizes.string_y(fragment.notes[i].string or 0))
                 for i, x in system.note_x]  # fmt: skip
        assert not any(a.meets(b) for n, a in enumerate(boxes) for b in boxes[:n])
        assert max(box.right for box in boxes) <= made.stage.width


def names(mark: Mark) -> list[str]:
    return [mark.name, *(name for one in getattr(mark, "marks", ()) for name in names(one))]


def test_where_a_row_ends_under_a_beam_both_rows_have_it() -> None:
    made = laid(chords(8, 12), (1080, 1920), 1.0)
    assert max(len(system.xs) for system in made.systems) < 8 * 6 * 2
    torn = 0
    for number, system in enumerate(made.systems):
        for piece, placed in enumerate(system.placed):
            group = standing(made, number, piece)
            assert isinstance(group, Group)
            assert names(group).count("beam") == 3  # of thirty-seconds
            torn += placed.piece.start.denominator != 1
    assert torn


def test_bars_stay_whole_where_they_fit() -> None:
    made = laid(chords(4, 7), (1920, 1080), 1.0)
    assert [system.start for system in made.systems] == [0]
    starts = [placed.x for placed in made.systems[0].placed]
    assert all(a < b for a, b in pairwise([0.0, *starts]))


def test_more_rows_are_no_reason_to_leave_signs_out() -> None:
    """Where two rows would cost a lane, one row stands alone with all of them."""
    stage = corpus.stage_of(corpus.lead_line(), 1728, 980)
    made = lay(Tab(), stage)
    assert made is not None
    assert len(made.systems) > made.rows == 1
    assert made.brush.sheet.sizes.left_out == ()
