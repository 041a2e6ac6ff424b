"""What strokes depart from, in words: the notes each departure concerns, and which cost it adds."""

from pipeline.errors import Place
from pipeline.music.guitar import Guitar
from pipeline.music.tabtext import read_tab
from pipeline.reasoning.departures import MOST, Departure, listed
from pipeline.reasoning.explain import weigh


def told(text: str) -> str:
    fragment = read_tab("run", text, Guitar(), lambda row, column: Place("run", row, column))
    return weigh(fragment).readings[0].remarks[0]


def test_written_sweeps_name_the_notes_that_one_stroke_goes_through() -> None:
    said = told(
        "strokes   d  d  d  u  u  d\n"
        "B3     |--------8-----------|\n"
        "G3     |-----9-----9-----9--|\n"
        "D3     |-10-----------10----|"
    )
    assert said.startswith("The strokes from note 1 (C4) on depart from strict alternation, which costs ")
    assert said.endswith(
        " more: one downstroke through notes 1 to 3 (3.00), one upstroke through notes 4 and 5 (1.50)."
    )


def test_written_repeats_name_the_notes_that_repeat() -> None:
    said = told("strokes  d d u d d u d d\nE2     |-0-0-3-0-0-3-0-0-|")
    assert said.endswith(" 7.50 more: second downstrokes on notes 2, 5 and 8.")


def test_a_way_out_that_is_open_says_where_it_departs() -> None:
    """The six-note pattern with a pinched top note, its first stroke heard as a downstroke."""
    said = told("strokes  d\nB3     |---------6-8-10<p:3>-|\nG3     |-5-7-9---------------|")
    assert "economy at the change (one downstroke through notes 3 and 4: 1.48 more)" in said
    assert "a repeated stroke (a second downstroke on note 6: 2.50 more)" in said


def test_repeats_are_told_together_by_their_stroke() -> None:
    pair = "d d u u "
    row = "".join(f"-{fret}" for fret in "57" * 2) * 5
    said = told(f"strokes  {pair * 5}\nE4     |{row}-|")
    assert "second downstrokes on notes 2, 6, 10, 14 and 18 (12.50), second upstrokes on notes 4, 8" in said


def test_many_departures_are_counted_after_the_first_few() -> None:
    found = [Departure(f"number {index}", 1.5) for index in range(MOST + 3)]
    assert listed(found[:1]) == "number 0"
    assert listed(found[:2]) == "number 0 (1.50), number 1 (1.50)"
    assert listed(found).endswith(f"number {MOST - 1} (1.50), 3 more")
