"""Parts of fragments and repeats unfolded."""

from fractions import Fraction

import pytest

from pipeline.errors import Place
from pipeline.music.fragment import Fragment, Repeat
from pipeline.music.guitar import Guitar
from pipeline.music.passage import bar_order, cut, cut_bars, note_order, performed
from pipeline.music.tabtext import print_tab, read_tab
from pipeline.views.notevalues import rhythms

TEXT = """
count      1  2  3  4    1    2    3    4     1    3
marks                                       x3
E4      |:-5--7--8--5--|-7----8----5----7--:|-8----0----|
clues            s       @5
"""


def at(row: int, column: int) -> Place:
    return Place("x", row + 1, column + 1)


@pytest.fixture
def phrase() -> Fragment:
    return read_tab("phrase", TEXT, Guitar(), at)


def test_cut_keeps_the_counts_of_the_whole(phrase: Fragment) -> None:
    part = cut(phrase, 2, 5)
    assert [note.fret for note in part.notes] == [8, 5, 7, 8]
    assert [note.onset for note in part.notes] == [0, 1, 2, 3]
    assert [measure.length for measure in part.measures] == [2, 4]
    assert part.measures[0].pickup
    assert [(clue.note, clue.kind) for clue in part.clues] == [(0, "slurred"), (2, "seen")]
    assert part.repeats == ()
    assert "4/4 3" in print_tab(part)


def test_a_cut_is_open_where_its_bar_goes_on(phrase: Fragment) -> None:
    assert cut(phrase, 2, 5).open_end
    assert not cut(phrase, 2, 7).open_end, "the bar ends with this note"


def test_what_follows_an_open_end_is_no_rest(phrase: Fragment) -> None:
    """The bars end after two of four beats; a bar of its own would have a rest there."""
    part = cut(phrase, 2, 5)
    assert all(sign.event.notes for sign in rhythms(part)[-1].signs)
    assert not all(sign.event.notes for sign in rhythms(part.but(open_end=False))[-1].signs)


def test_cut_bars_keeps_repeats_that_lie_inside(phrase: Fragment) -> None:
    assert cut_bars(phrase, 0, 1).repeats == (Repeat(0, 1, 3),)
    assert cut_bars(phrase, 1, 2).repeats == ()
    assert [note.fret for note in cut_bars(phrase, 2, 2).notes] == [8, 0]


@pytest.mark.parametrize(("first", "last"), [(-1, 2), (3, 2), (0, 99)])
def test_cut_refuses_what_is_not_there(phrase: Fragment, first: int, last: int) -> None:
    with pytest.raises(ValueError, match="are not all in 0 to"):
        cut(phrase, first, last)
    with pytest.raises(ValueError, match="are not all in 0 to"):
        cut_bars(phrase, first, last)


def test_performed_unfolds_repeats(phrase: Fragment) -> None:
    played = performed(phrase)
    assert bar_order(phrase) == (0, 1, 0, 1, 0, 1, 2)
    assert note_order(phrase) == (*range(8), *range(8), *range(8), 8, 9)
    assert len(played.notes) == 26
    assert played.length == 28
    assert [n.fret for n in played.notes] == [phrase.notes[i].fret for i in note_order(phrase)]
    assert [clue.note for clue in played.clues] == [2, 4, 10, 12, 18, 20]
    assert [n.onset for n in played.notes[:24]] == [Fraction(beat) for beat in range(24)]


def test_a_note_held_over_the_last_bar_line_of_a_repeat_ends_at_the_jump() -> None:
    phrase = read_tab("p", "count           1  3\nE4    |:5==|==:|==-7--|\n", Guitar(), at)
    played = performed(phrase)
    assert [(note.onset, note.end) for note in played.notes][:2] == [(0, 8), (8, 18)]
