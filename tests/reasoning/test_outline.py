"""What a passage is made of: scale, positions, cells and how they agree, shifts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import Place
from pipeline.music.guitar import Guitar
from pipeline.music.scales import SCALES
from pipeline.music.tabtext import read_tab
from pipeline.reasoning.explain import weigh
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.key import Key, keys_of
from pipeline.reasoning.outline import Outline, outline
from pipeline.views.scalemap import Scalemap, position_of

A_MINOR_BOX = [(6, 5), (6, 8), (5, 5), (5, 7), (4, 5), (4, 7), (3, 5), (3, 7), (2, 5), (2, 8), (1, 5), (1, 8)]
G_THREE = [(6, 3), (6, 5), (6, 7), (5, 3), (5, 5), (5, 7), (4, 4), (4, 5), (4, 7), (3, 4), (3, 5), (3, 7)]
STAIR = """\
fingers  1 3  4  3 1 3  4  3 1 2  4  2 1 2  4   2
B3     |-------------------------------6-8-h10-p8-|
G3     |---------------------5-7-h9-p7------------|
D3     |-----------5-7-h8-p7----------------------|
A2     |-5-7-h8-p7--------------------------------|
"""


def made_of(text: str) -> Outline:
    fragment = read_tab("run", text, Guitar(), lambda row, column: Place("run", row, column))
    return weigh(fragment).outline


def test_a_pentatonic_box_is_one_stay(line) -> None:  # type: ignore[no-untyped-def]
    """The first A minor box, frets 5 to 8 (common knowledge of the trade; checks.md section 3)."""
    fragment = line(A_MINOR_BOX[::-1])
    found = outline(fragment, readings(fragment, k=1)[0])
    assert found.words[:2] == (
        "Its notes fit A minor pentatonic, and C major pentatonic as well.",
        "One box holds notes 1 to 12 at frets 5 to 8.",
    )
    assert found.notes_a_string == 2


def test_three_notes_a_string_with_the_key_given(line) -> None:  # type: ignore[no-untyped-def]
    """The first three-notes-a-string pattern of G major (checks.md section 3)."""
    fragment = line(G_THREE)
    found = outline(fragment, readings(fragment, k=1)[0], key=Key(7, SCALES["ionian"]))
    assert found.notes_a_string == 3
    (held,) = found.held
    assert held.position.degree == 1
    assert held.position.strings[:2] == ((3, 5, 7), (3, 5, 7))
    assert found.words[0] == "Its notes fit G major."


def test_a_second_position_begins_where_the_hand_shifts(line) -> None:  # type: ignore[no-untyped-def]
    up = [*A_MINOR_BOX[:8], (2, 13), (2, 15), (1, 12), (1, 15)]
    fragment = line(up)
    found = outline(fragment, readings(fragment, k=1)[0])
    assert [held.first for held in found.held] == [0, 8]
    assert [shift.note for shift in found.shifts if shift.mm > 60] == [8]
    assert (
        "It goes through 2 boxes: notes 1 to 8 at frets 5 to 8, notes 9 to 12 at frets 12 to 15."
        in found.words
    )


def test_the_view_that_is_offered_shows_the_position_that_is_told() -> None:
    """The number counts as the view `scalemap` counts."""
    found = made_of(STAIR)
    assert found.view_line == "{show: scalemap, tonic: D, scale: minor, position: 4}"
    position = position_of(Scalemap("D", "minor", 4), Guitar())
    assert position is not None
    assert (position.lowest, position.highest) == (5, 10)
    assert "One position of three notes a string holds notes 1 to 16 at frets 5 to 10." in found.words


def test_cells_are_told_with_how_their_groups_are_fingered() -> None:
    (cell,) = (sentence for sentence in made_of(STAIR).words if "groups" in sentence)
    assert cell == (
        "4 groups of 4 from note 1, moved up 3 steps each time: fingered 1 3 4 3 in groups 1 and 2, "
        "1 2 4 2 in groups 3 and 4, each on one string, strokes alike."
    )


def test_groups_that_differ_in_strings_and_strokes_are_told_so() -> None:
    said = made_of(
        "B3|-----------------5---5-8-|\nG3|-----5---5-7-5-7---7-----|\nD3|-5-7---7-----------------|\n"
    )
    assert said.words[2].endswith(
        "fingered 1 3 1 in groups 1 and 3, 3 1 3 in group 2, 3 1 4 in group 4, crossing strings in different "
        "places, strokes differ."
    )


def test_taps_and_dead_and_open_notes_lie_in_no_position() -> None:
    said = made_of("G3|-------5-7-9-t17-x-5-7---|\nD3|-5-7-9---------------0-7-|\n")
    (held,) = said.held
    assert (held.first, held.last) == (0, 11)
    assert held.position.highest < 12


def test_what_is_made_of_it_stands_in_the_answer_of_weigh() -> None:
    fragment = read_tab("run", STAIR, Guitar(), lambda row, column: Place("run", row, column))
    weighing = weigh(fragment)
    lines = weighing.as_text().splitlines()
    assert "What reading 1 is made of:" in lines
    assert "   A view to show it: {show: scalemap, tonic: D, scale: minor, position: 4}" in lines
    data = weighing.as_data()["outline"]
    assert data["scales"][:2] == ["D minor", "G dorian"]
    assert data["positions"] == [{"first": 0, "last": 15, "number": 4, "frets": [5, 10]}]
    assert data["cells"][0]["fingers"][2] == (1, 2, 4, 2)


def test_cells_are_part_of_the_plan(line) -> None:  # type: ignore[no-untyped-def]
    used = [57, 60, 62, 64, 67, 69, 72]
    fragment = line([used[i + d] for i in range(5) for d in (0, 1, 2)])
    found = outline(fragment, readings(fragment, k=1)[0])
    assert [(cell.size, cell.times, cell.step) for cell in found.cells] == [(3, 5, 1)]


def test_too_few_notes_and_too_many_have_no_scale() -> None:
    assert keys_of([]) == ()
    assert keys_of([60, 64, 67, 72]) == (), "a chord fits many scales"
    assert keys_of(list(range(60, 72))) == ()


def test_of_two_keys_with_the_same_notes_the_tonic_that_begins_and_ends_wins() -> None:
    assert keys_of([69, 72, 74, 76, 79, 76, 72, 69])[0].name == "A minor pentatonic"
    assert keys_of([72, 74, 76, 79, 81, 79, 76, 72])[0].name == "C major pentatonic"


@pytest.mark.parametrize(
    ("tonic", "scale", "name"),
    [
        (10, "ionian", "Bb major"),
        (6, "ionian", "F# major"),
        (7, "aeolian", "G minor"),
        (3, "aeolian", "D# minor"),
        (0, "aeolian", "C minor"),
        (8, "aeolian", "G# minor"),
        (10, "minor pentatonic", "Bb minor pentatonic"),
        (3, "dorian", "Eb dorian"),
    ],
)
def test_tonics_are_spelled_as_their_major_keys_are(tonic: int, scale: str, name: str) -> None:
    """Keys with flats: F, Bb, Eb, Ab and Db major and what shares their notes (the circle of fifths)."""
    assert Key(tonic, SCALES[scale]).name == name


@given(st.lists(st.integers(40, 88), min_size=1, max_size=40))
def test_every_scale_that_is_named_holds_every_note(pitches: list[int]) -> None:
    for key in keys_of(pitches):
        assert {pitch % 12 for pitch in pitches} <= set(key.scale.classes(key.tonic))
