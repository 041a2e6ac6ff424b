"""Tab text: reading and printing are inverse, time is shared evenly, and every fault has its place."""

import re
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
from fragments import QUICK, at, fragments

from pipeline.errors import Fault, Faulty
from pipeline.music import tabtext
from pipeline.music.fragment import Fragment, Repeat
from pipeline.music.guitar import Guitar
from pipeline.music.note import BendPoint, Harmonic, Note
from pipeline.music.tabtext import print_tab, read_tab

F = Fraction


def read(text: str, guitar: Guitar | None = None) -> Fragment:
    return read_tab("phrase", text, guitar or Guitar(), at)


def one(note: str) -> Note:
    """The last note of a row of tab text."""
    return read(f"E4 |-{note}-|").notes[-1]


def faults(text: str) -> list[str]:
    with pytest.raises(Faulty) as caught:
        read(text)
    return [str(fault) for fault in caught.value.faults]


def attempt(text: str, guitar: Guitar | None = None) -> tuple[Fragment | None, tuple[Fault, ...]]:
    try:
        return read(text, guitar), ()
    except Faulty as fault:
        return None, fault.faults


def differences(first: Fragment, second: Fragment) -> str:
    """The fields that two fragments do not agree in, note by note."""
    pairs = zip(first.notes, second.notes, strict=False)
    lines = (
        f"note {i} {name}: {mine} for {getattr(b, name)}"
        for i, (a, b) in enumerate(pairs)
        for name, mine in vars(a).items()
        if mine != getattr(b, name)
    )
    return "\n".join([f"{len(first.notes)} notes for {len(second.notes)}", *lines])


@settings(max_examples=30, **QUICK)
@given(fragments())
def test_reading_a_printed_fragment_gives_it_back(fragment: Fragment) -> None:
    text = print_tab(fragment)
    again = read_tab(fragment.name, text, fragment.guitar, at, tempo=fragment.tempo)
    assert again.notes == fragment.notes, text + differences(again, fragment)
    assert again == fragment
    assert print_tab(again) == text


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet="0123456789-|:hp/\\br~<>()x=g[]E4 \n.&ea", max_size=120), st.booleans())
def test_any_text_is_read_or_refused_with_places(text: str, labelled: bool) -> None:
    text = "\n".join(f"E4 |{line}" if labelled else line for line in text.splitlines())
    fragment, found = attempt(text)
    assert fragment or found
    assert all(fault.place.line >= 1 and fault.remedy for fault in found)
    if fragment:
        again = read(print_tab(fragment))
        assert [n.onset for n in again.notes] == [n.onset for n in fragment.notes]


@settings(max_examples=12, **QUICK)
@given(fragments(), st.data())
def test_a_printed_fragment_with_a_slip_is_read_or_refused_with_places(
    fragment: Fragment, data: st.DataObject
) -> None:
    """One sign is another, is gone, or stands there twice."""
    text = print_tab(fragment)
    at_sign = data.draw(st.integers(0, len(text) - 1))
    sign = data.draw(st.sampled_from(["", text[at_sign] * 2, *"0123-|:hpt/\\br~x=g[] \n.&ea()<>@?"]))
    slipped = text[:at_sign] + sign + text[at_sign + 1 :]
    again, found = attempt(slipped, fragment.guitar)
    assert all(fault.place.line >= 1 and fault.place.column >= 1 for fault in found)
    assert again is None or read(print_tab(again), fragment.guitar).notes == again.notes


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 6, 7, 9, 12])
def test_notes_between_two_pins_share_the_time_evenly(count: int) -> None:
    """checks.md 11: n notes a beat; 4 are sixteenths, 6 sextuplets, 7 septuplets (arithmetic)."""
    row = "5-" * count
    fragment = read(f"count 1{' ' * (2 * count - 1)}2  3  4\nE4   |{row}7--8--9--|")
    assert [note.onset for note in fragment.notes[:count]] == [F(i, count) for i in range(count)]
    assert [note.duration for note in fragment.notes] == [F(1, count)] * count + [F(1)] * 3


def test_a_text_in_six_eight_counts_eighths() -> None:
    fragment = read("count 6/8 1 2 3 4 & 5 6\nE4   |----5-7-8-5-7-8-7-|")
    assert [note.onset for note in fragment.notes] == [F(n, 4) for n in (0, 2, 4, 6, 7, 8, 10)]
    assert fragment.length == 3


def test_syllables_pin_sixteenths() -> None:
    fragment = read("count 1 e & a 2 & a 3     4+1/3\nE4   |5-7-5-8-5-8-7-------9-----|")
    assert [n.onset for n in fragment.notes] == [F(n, 4) for n in (0, 1, 2, 3, 4, 6, 7)] + [F(10, 3)]


def test_without_marks_a_bar_is_shared_evenly() -> None:
    fragment = read("E4 |5-7-8|7-8|")
    assert [note.duration for note in fragment.notes] == [F(4, 3)] * 3 + [F(2)] * 2


@pytest.mark.parametrize(
    ("count", "first", "length"), [("4", F(0), F(1)), ("& a", F(0), F(1, 2)), ("a 4 &", F(0), F(5, 4))]
)
def test_a_pickup_begins_at_its_first_mark(count: str, first: Fraction, length: Fraction) -> None:
    strings = "".join("-" if sign == " " else "5" for sign in count)
    fragment = read(f"count  {count} \nE4    |{strings}-|7-|")
    assert fragment.notes[0].onset == first
    assert fragment.measures[0].length == length
    assert fragment.measures[0].pickup
    assert fragment.notes[-1].onset == length


def test_a_mark_over_a_bar_line_ends_the_bar_early() -> None:
    fragment = read("count  1 2 3  1 2 3\nE4    |5-7-|--5-7-8-|")
    assert [measure.length for measure in fragment.measures] == [F(2), F(4)]
    assert [note.onset for note in fragment.notes] == [0, 1, 2, 3, 4]


def test_rests_stop_notes_and_holds_outlast_them() -> None:
    fragment = read("count  1 2 (3) 4\nE4    |5-7-----8--|\nB3    |5======-5--|")
    first, held, second, _, _ = fragment.notes
    assert (first.duration, second.duration) == (1, 1)
    assert held.duration == 3


def test_a_dot_takes_a_share_and_the_note_before_goes_on() -> None:
    fragment = read("count  1 . 2\nE4    |5---7-8-|")
    assert [note.duration for note in fragment.notes[:2]] == [F(1), F(3, 2)]
    assert fragment.notes[2].onset == F(5, 2) or fragment.notes[1].onset == 1


def test_repeats_have_times_and_may_share_a_bar_line() -> None:
    fragment = read("marks              x3\nE4    |:5---|5---:|:7---:|")
    assert fragment.repeats == (Repeat(0, 1, 3), Repeat(2, 2, 2))


def test_a_second_system_goes_on_in_time() -> None:
    fragment = read("E4 |5-5-|\n\nB3 |7-7-|\n")
    assert [(n.string, n.onset) for n in fragment.notes] == [(1, 0), (1, 2), (2, 4), (2, 6)]


def test_chords_may_stand_left_or_right_under_two_digits() -> None:
    fragment = read("E4 |12--9--|\nB3 |10-10--|\nG3 |9---9--|")
    assert fragment.chords == ((0, 1, 2), (3, 4, 5))


def test_grace_notes_take_no_time_and_stand_before_their_note() -> None:
    grace, main, _ = read("E4 |g5h7-8-|").notes
    assert (grace.grace, grace.onset, grace.duration) == (True, 0, 0)
    assert (main.attack, main.onset, main.duration) == ("hammer", 0, 2)


@pytest.mark.parametrize("count", ["1   2", "1 2", "1  2"])
def test_a_count_over_a_grace_note_holds_for_the_note_it_leads_to(count: str) -> None:
    """Over the note, over the g or over the grace note: all three mean the note."""
    fragment = read(f"count {count}\nE4   |5-g7--|\nB3   |----8-|")
    assert [(note.fret, note.onset) for note in fragment.notes] == [(5, 0), (7, 1), (8, 1)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("count 1 2  3\nE4   |5-g7-8-|", "1:12: 3 is a second mark over one note"),
        ("count 1  2\nE4   |5---g7-8-|", "1:10: count 2 stands just beside a grace note; put it over"),
        ("count 1 2 1\nE4   |5-g7|8-|", "1:9: 2 stands over a grace note whose note is in the next bar"),
    ],
)
def test_a_count_near_a_grace_note_is_told(text: str, expected: str) -> None:
    found = faults(text)
    assert any(fault.startswith(f"lesson.yaml:{expected}") for fault in found), found


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("5h7", {"attack": "hammer"}),
        ("7p5", {"attack": "pull"}),
        ("t12", {"attack": "tap"}),
        ("5/7", {"attack": "slide"}),
        ("7--\\--5", {"attack": "slide"}),
        ("5//7", {"attack": "pick", "shift_slide": True}),
        ("7\\\\5", {"attack": "pick", "shift_slide": True}),
        ("5-=5", {"attack": "tie"}),
        ("x", {"dead": True, "fret": None, "pitch": None}),
        ("x5", {"dead": True, "fret": 5, "pitch": 69}),
        ("(7)", {"ghost": True, "fret": 7}),
        ("[/7", {"slide_in": "below"}),
        ("[\\7", {"slide_in": "above"}),
        ("7/]", {"slide_out": "up"}),
        ("7\\]", {"slide_out": "down"}),
        ("7~", {"vibrato": "narrow"}),
        ("7~~~", {"vibrato": "wide"}),
        ("7!'*_&", dict.fromkeys(("accent", "staccato", "tremolo", "palm_mute", "let_ring"), True)),
        ("<12>", {"fret": 0, "pitch": 64, "harmonic": Harmonic("natural", 2, F(12))}),
        ("<9>", {"harmonic": Harmonic("natural", 5, F(9))}),
        ("<2.7:7>", {"harmonic": Harmonic("natural", 7, F("2.7"))}),
        ("5<17>", {"fret": 5, "harmonic": Harmonic("artificial", 2, F(17))}),
        ("5<12>", {"fret": 5, "harmonic": Harmonic("artificial", 3, F(12))}),
        ("7<p>", {"harmonic": Harmonic("pinch", 2, None)}),
        ("7<p:3>", {"harmonic": Harmonic("pinch", 3, None)}),
        ("7b9", {"bend": (BendPoint(F(0), F(0)), BendPoint(F(1, 2), F(2)))}),
        ("7b7.5", {"bend": (BendPoint(F(0), F(0)), BendPoint(F(1, 2), F(1, 2)))}),
        ("7B9r7", {"bend": (BendPoint(F(0), F(2)), BendPoint(F(1, 2), F(0)))}),
        ("7b9@1:4r8", {"bend": (BendPoint(F(0), F(0)), BendPoint(F(1, 4), F(2)), BendPoint(F(2, 3), F(1)))}),
    ],
)
def test_every_sign_of_a_note(text: str, fields: dict[str, object]) -> None:
    note = one(text)
    assert {name: getattr(note, name) for name in fields} == fields
    fragment = read(f"E4 |-{text}-|")
    assert read(print_tab(fragment)) == fragment


def test_the_rows_around_the_strings() -> None:
    fragment = read(
        "count    1  &  2     3\n"
        "strokes  d  u  d\n"
        "marks    PM---       LR\n"
        "E4      |5--7--8--p--7--|\n"
        "B3      |------------8--|\n"
        "fingers  1  3  4     12\n"
        "hand     5           4\n"
        "clues    @5 s?       o:2x\n"
    )
    assert [n.stroke for n in fragment.notes] == ["down", "up", "down", None, None]
    assert [n.palm_mute for n in fragment.notes] == [True, True, False, False, False]
    assert [n.let_ring for n in fragment.notes] == [False, False, False, True, True]
    assert [n.finger for n in fragment.notes] == [1, 3, 4, 1, 2]
    assert [n.position for n in fragment.notes] == [5, 5, 5, 4, 4]
    clues = [(clue.note, clue.kind, clue.value, clue.strength) for clue in fragment.clues]
    assert clues == [
        (0, "seen", "5", 1.0),
        (1, "slurred", "", 0.5),
        (3, "noise", "", 1.0),
        (4, "open", "", 1.0),
    ]


def test_the_example_of_the_manual_is_read() -> None:
    lines = (tabtext.__doc__ or "").splitlines()
    fragment = read("\n".join(line for line in lines[:10] if line.startswith("    ")))
    assert [note.onset for note in fragment.notes[:5]] == [F(0), F(1, 4), F(1, 2), F(3, 4), F(1)]
    assert [note.onset for note in fragment.notes[5:10]] == [1 + F(n, 6) for n in range(1, 6)]
    assert [n.attack for n in fragment.notes[6:9]] == ["tap", "pull", "pull"]


def test_every_sign_of_the_manual_is_read() -> None:
    """Each code in the manual's table of signs is a row of tab, read and printed back."""
    rows = [line for line in (tabtext.__doc__ or "").splitlines() if line.startswith("| `")]
    signs = [sign for row in rows for sign in re.findall(r"`([^`]+)`", row)]
    assert len(signs) > 25
    for sign in signs:
        before = "7--" if sign.startswith("=") else ""
        assert read(print_tab(read(f"E4 |-{before}{sign}-8-|"))) == read(f"E4 |-{before}{sign}-8-|"), sign


def test_strings_by_letter_by_number_and_left_out() -> None:
    rows = "\n".join(f"{name}|--{fret}--|" for name, fret in zip("eBGDAE", "123456", strict=True))
    assert [note.string for note in read(rows).notes] == [1, 2, 3, 4, 5, 6]
    assert [note.string for note in read("2 |-5-|\nA2|-5-|").notes] == [2, 5]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("E4 |-5q-|", "lesson.yaml:1:7: 'q' is no sign of a string row; use frets"),
        ("E4 |-123-|", "lesson.yaml:1:6: fret 123 is beyond any neck; frets have one or two digits"),
        ("E4 |-29-|", "lesson.yaml:1:6: fret 29 is beyond the neck (24 frets); use 0 to 24"),
        ("E4 |-5p7-|", "lesson.yaml:1:8: a pull-off from 5 to 7; h goes up, p goes down"),
        (
            "E4 |-5\\7-|",
            "lesson.yaml:1:8: \\ slides the wrong way from 5 to 7; / slides up the neck, \\ down",
        ),
        ("E4 |-/7-|", "lesson.yaml:1:7: the slide comes from no note; write the note before it"),
        ("E4 |-5-=7-|", "lesson.yaml:1:9: 7 cannot continue 5; write =5, or leave the = away"),
        ("E4 |-7b-|", "lesson.yaml:1:7: a bend does not say how far; write the fret"),
        ("E4 |-7b5-|", "lesson.yaml:1:6: b goes the wrong way; b bends up or holds, r releases"),
        ("E4 |-<11>-|", "lesson.yaml:1:7: no harmonic lies at 11; write <12>"),
        ("E4 |-(7-|", "lesson.yaml:1:6: a bracket is open on one side; write ghost notes as (7)"),
        ("E4 |\t5-|", "lesson.yaml:1:5: a tab character breaks the columns; use spaces"),
        ("E4 |\x075-|", "lesson.yaml:1:5: the control character U+0007 breaks the columns; use spaces"),
        ("F4 |-5-|", "lesson.yaml:1:1: no string is 'F4'; label the strings E4, B3, G3, D3, A2, E2"),
        ("E |-5-|", "lesson.yaml:1:1: 'E' could be several strings; label the strings"),
        (
            "B3|-5-|\nE4|-5-|",
            "lesson.yaml:2:1: the strings stand out of order; put the highest string on top",
        ),
        ("E4|5-|-|\nB3|-5--|", "lesson.yaml:2:6: a bar line does not stand where the other strings have it"),
        ("E4|-5-|-|\nB3|--5|-|\nG3|-5--|-|\nD3|-5-|-|", "lesson.yaml:3:7: a bar line does not stand where"),
        ("E4|-5--|-|\nB3|-5-|-|\nG3|-5-|-|", "lesson.yaml:1:7: a bar line does not stand where the other"),
        ("coutn 1\nE4   |5|", "lesson.yaml:1:1: no row is named 'coutn'; did you mean 'count'?"),
        ("count 1 5\nE4   |5-5|", "lesson.yaml:1:9: count 5 lies beyond the bar; it has 4 counts"),
        ("count 1 3 2\nE4   |5-5-5|", "lesson.yaml:1:11: count 2 does not come later than the one before"),
        ("count 1 q\nE4   |5---|", "lesson.yaml:1:9: 'q' is no count; write counts"),
        (
            "count 1  2\nE4   |5-5--|",
            "lesson.yaml:1:10: count 2 stands just beside a note; put it in the note's",
        ),
        ("count (1)\nE4   |-5-|", "lesson.yaml:1:8: the rest (1) stands on a note; take off its ( )"),
        ("strokes  d\nE4   |5----|", "lesson.yaml:1:10: 'd' stands over no note; put it in a note's column"),
        ("strokes x\nE4     |-5-|", "lesson.yaml:1:9: 'x' is no stroke; write d for down or u for up"),
        ("fingers  5\nE4     |-5-|", "lesson.yaml:1:10: '5' is no finger; write 1 to 4, T"),
        ("clues    q\nE4     |-5-|", "lesson.yaml:1:10: 'q' is no clue; known here: s slurred"),
        ("marks    XX\nE4     |-5-|", "lesson.yaml:1:10: 'XX' is no mark; write PM---"),
        ("E4 |:-5-|", "lesson.yaml:1:4: the repeat that starts here never ends; end it with :|"),
        ("E4 |7--5:|\nB3 |:---:|", "lesson.yaml:1:5: a note stands in the column of a repeat sign; leave"),
        ("E4 |-5-g7-|", "lesson.yaml:1:9: a grace note before no note; write the note after it"),
        (
            "E4 |-5-/-|",
            "lesson.yaml:1:8: '/' leads to no note; write the note, or take it away; a",
        ),
        ("E4 |-5-t-|", "lesson.yaml:1:8: 't' leads to no note; write the note, or take it away"),
        ("hand   83\nE4   |-5-|", "lesson.yaml:1:8: position 83 is beyond any neck; use 0 to 36"),
        ("", "lesson.yaml:1:1: the text holds no notes; write a row for each string"),
        ("E4 |-12-|\nB3 |--12|", "lesson.yaml:2:7: a note stands half under another"),
    ],
)
def test_a_fault_says_where_and_what_would_be_right(text: str, expected: str) -> None:
    found = faults(text)
    assert any(fault.startswith(expected) for fault in found), found


STRAIGHT = """\
count    1 e  & a  2     3     4
strokes  d u  d u  d     d     d
fingers  1 2  1 3  1     1     3
     E4|-5-7--5-8--5--10-5-----8-|
     B3|------------------8------|
     G3|-------------------------|
clues    n    n    n           q
"""


def moved(text: str, spaces: int, *kinds: str) -> str:
    """A text with some rows moved to the right, or to the left where `spaces` is negative."""
    rows = []
    for row in text.splitlines():
        label = row.split("|")[0].split()[0]
        start = row.index(label) + len(label)
        if label in kinds:
            row = row[:start] + " " * spaces + row[start:][max(0, -spaces) :]
        rows.append(row)
    return "\n".join(rows) + "\n"


SLIPPED = [
    (
        (-1, "strokes"),
        "2:9: this row (strokes) stands one column left of the notes; put one space more before",
    ),
    (
        (1, "count", "strokes", "fingers"),
        "1:11: the rows count, strokes and fingers stand one column right of the notes; take one space away",
    ),
    ((2, "fingers"), "3:14: this row (fingers) stands two columns right of the notes; take two spaces away"),
    ((1, "B3"), "5:9: this row stands one column right of the other strings; take one space away before"),
    ((3, "E4"), "4:11: this row stands 3 columns right of the other strings; take 3 spaces away before the"),
]


@pytest.mark.parametrize(("how", "expected"), SLIPPED)
def test_a_row_that_slipped_is_told_of_once(how: tuple[int, str], expected: str) -> None:
    """And the text is read on: that q is no clue is told, too."""
    found = faults(moved(STRAIGHT, *how))
    other = next(fault for fault in found if "'q' is no clue" in fault)
    assert len(found) == 2, found
    assert other.startswith("lesson.yaml:7:32: ")
    assert any(fault.startswith(f"lesson.yaml:{expected}") for fault in found), found


def test_a_fault_in_a_row_that_slipped_is_told_where_it_stands() -> None:
    found = faults(moved(STRAIGHT.replace("d     d     d", "d     w     d"), -1, "strokes"))
    assert [fault.split(": ")[0] for fault in found] == [
        f"lesson.yaml:{at}" for at in ("2:9", "2:25", "7:32")
    ]


def test_signs_beside_a_row_of_an_unknown_string_are_no_faults() -> None:
    found = faults("count    1 2 3 4\nstrokes  d u d u\n     E4|-------5-|\n     A1|-5-7-8---|")
    assert len(found) == 1
    assert found[0].startswith("lesson.yaml:4:6: no string is 'A1'; label the strings E4, B3, G3, D3, A2, E2")


def test_rows_that_drift_away_from_the_notes_are_told_of_once() -> None:
    text = """\
count    1 e  &  a  2 e  &  a  3 e
strokes  d u        d u        d u
     A2|--5-7--h8--p7-5-7--h8--p7-5-7-|
     E2|------------------------------|
"""
    found = faults(text)
    assert len(found) == 1, found
    assert "the rows count and strokes stand beside the notes, " in found[0]
    assert "the first one column left of a note; put each in the column of its note's fret" in found[0]


def test_counts_that_fall_back_are_told_of_where_they_do() -> None:
    found = faults("count  1 2 3 4 1 2 3 4\nE4    |5-5-5-5-5-5-5-5-|")
    assert [fault.split(": ")[0] for fault in found] == ["lesson.yaml:1:16"]


@pytest.mark.parametrize("sign", ["\x0b", "\x0c", "\x1c", "\u2028", "\r", "\xa0", "\u200b", "\x00"])
def test_signs_that_would_shift_lines_or_columns_are_refused(sign: str) -> None:
    assert faults(f"E4 |-5{sign}-|\nB3 |--q-|")[0].startswith("lesson.yaml:1:7: the control character U+")


def test_triplets_over_two_counts_are_printed_without_the_count_between() -> None:
    text = print_tab(read("count 1     3\nE4   |5-7-8-5-|"))
    assert text.splitlines()[0].split() == ["count", "4/4", "1", "3", "4"]


def test_all_faults_are_told_at_once() -> None:
    found = faults("count  1 9\nstrokes  x\nE4   |-5q--7b-|\n\nF9 |-5-|")
    assert [fault.split(": ")[0] for fault in found] == [
        "lesson.yaml:1:10",  # no ninth count
        "lesson.yaml:2:10",  # x is no stroke
        "lesson.yaml:3:9",  # q is no sign
        "lesson.yaml:3:13",  # a bend of unknown width
        "lesson.yaml:5:1",  # no string F9
    ]


def test_a_text_beyond_the_limits_is_refused_in_one_line() -> None:
    assert faults("E4 |" + "-" * 300_000)[0].startswith("lesson.yaml:1:1: the text has 300004 characters")
    assert "a line of 2504 characters" in faults("E4 |" + "5" * 2_500)[0]
