"""Where the fretting hand is: what it plays moves it, what the picking hand taps does not."""

from pipeline.errors import Place
from pipeline.music.guitar import Guitar
from pipeline.music.tabtext import read_tab
from pipeline.views.hand import stays_of
from pipeline.views.sounding import line_of


def positions(text: str) -> list[int]:
    fragment = read_tab("run", text, Guitar(), lambda row, column: Place("run", row, column))
    return [stay.position for stay in stays_of(fragment.notes, line_of(fragment))]


def test_taps_leave_the_hand_where_it_is() -> None:
    assert positions("fingers    4  1  4  1\nB3      |-t17-8-t19-8-|") == [8]
    assert positions("fingers   4  1  4  1\nB3      |-17-8--19-8-|") == [14, 8, 16, 8]


def test_a_hand_mark_over_a_tap_counts_from_the_next_fretted_note() -> None:
    assert positions("hand       8     5\nB3      |-t17-8-t15-p5-|") == [8, 5]
