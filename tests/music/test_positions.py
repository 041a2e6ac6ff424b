"""Positions against the printed rows of the trade and, for any neck, against what makes a position."""

import pytest

from pipeline.errors import Place
from pipeline.music.guitar import STANDARD, Guitar
from pipeline.music.positions import Position, matches, positions, stays
from pipeline.music.scales import SCALES
from pipeline.music.tabtext import read_tab

# Common practice, no source (from memory): A minor pentatonic, strings 6 to 1, box 1 at the fifth fret.
PENTATONIC = """
5-8 5-7 5-7 5-7 5-8 5-8
8-10 7-10 7-10 7-9 8-10 8-10
10-12 10-12 10-12 9-12 10-13 10-12
12-15 12-15 12-14 12-14 13-15 12-15
15-17 15-17 14-17 14-17 15-17 15-17
"""
# Common practice, no source (from memory): G major, three notes on each string, strings 6 to 1.
THREES = """
3-5-7 3-5-7 4-5-7 4-5-7 5-7-8 5-7-8
5-7-8 5-7-9 5-7-9 5-7-9 7-8-10 7-8-10
7-8-10 7-9-10 7-9-10 7-9-11 8-10-12 8-10-12
8-10-12 9-10-12 9-10-12 9-11-12 10-12-13 10-12-14
10-12-14 10-12-14 10-12-14 11-12-14 12-13-15 12-14-15
12-14-15 12-14-15 12-14-16 12-14-16 13-15-17 14-15-17
14-15-17 14-15-17 14-16-17 14-16-17 15-17-19 15-17-19
"""
NECKS = (
    Guitar(),
    Guitar(capo=3),
    Guitar.tuned("D2 A2 D3 G3 B3 E4"),
    Guitar((*STANDARD, 35)),
    Guitar((*STANDARD, 35, 30)),
    Guitar((43, 38, 33, 28)),
    Guitar.tuned("E2 A2 D3 G3 C4 F4"),
)


def rows(table: str) -> list[tuple[tuple[int, ...], ...]]:
    lines = table.strip().splitlines()
    return [tuple(tuple(int(fret) for fret in cell.split("-")) for cell in line.split()) for line in lines]


def at(row: int, column: int) -> Place:
    return Place("x", row + 1, column + 1)


def test_pentatonic_boxes_are_those_of_the_trade() -> None:
    found = positions(Guitar(), SCALES["minor pentatonic"], 57, 2)
    by_degree = {p.degree: p for p in found if p.strings[0][0] >= 5 and p.strings[0][0] < 17}
    assert [by_degree[degree].strings for degree in range(1, 6)] == rows(PENTATONIC)
    assert (0, 3) in [p.strings[0] for p in found]  # box 4 an octave lower


def test_three_notes_a_string_are_those_of_the_trade() -> None:
    found = positions(Guitar(), SCALES["ionian"], 55, 3)
    by_degree = {p.degree: p for p in found if 3 <= p.strings[0][0] < 15}
    assert [by_degree[degree].strings for degree in range(1, 8)] == rows(THREES)


@pytest.mark.parametrize("guitar", NECKS)
@pytest.mark.parametrize(
    ("name", "a_string"), [("minor pentatonic", 2), ("ionian", 3), ("harmonic minor", 3)]
)
def test_a_position_is_consecutive_scale_tones_evenly_on_the_strings(
    guitar: Guitar, name: str, a_string: int
) -> None:
    scale = SCALES[name]
    found = positions(guitar, scale, 4, a_string)
    assert found
    for position in found:
        notes = position.notes(guitar)
        assert len(notes) == a_string * guitar.string_count
        assert notes == scale.notes(4, notes[0], notes[-1])
        assert {len(frets) for frets in position.strings} == {a_string}
        assert scale.degree(4, notes[0]) == position.degree


@pytest.mark.parametrize("tonic", range(12))
def test_spans_in_standard_tuning(tonic: int) -> None:
    """Common practice, no source: a box spans five frets, three notes a string at most five on a string."""
    for box in positions(Guitar(), SCALES["minor pentatonic"], tonic, 2):
        assert box.span <= 5
    for pattern in positions(Guitar(), SCALES["ionian"], tonic, 3):
        assert all(frets[-1] - frets[0] + 1 <= 5 for frets in pattern.strings)
        assert pattern.span <= 7


def boxes() -> tuple[Position, ...]:
    return positions(Guitar(), SCALES["minor pentatonic"], 57, 2)


def test_a_phrase_is_matched_to_its_box() -> None:
    phrase = read_tab("p", "E4 |-5-8-5-----|\nB3 |-------8-5-|", Guitar(), at)
    best = matches(phrase, boxes())[0]
    assert (best.inside, best.of, best.position.degree) == (5, 5, 1)


def test_stays_say_where_the_position_changes() -> None:
    phrase = read_tab("p", "E4 |-5-8-5----8--10-15-17-|\nB3 |-------8--------------|", Guitar(), at)
    found = [(stay.position.degree, stay.first, stay.last) for stay in stays(phrase, boxes())]
    assert found == [(1, 0, 4), (2, 5, 5), (5, 6, 7)]


def test_notes_outside_every_position_are_left_out() -> None:
    phrase = read_tab("p", "E4 |-5-6-8-|", Guitar(), at)
    assert [(stay.first, stay.last) for stay in stays(phrase, boxes())] == [(0, 0), (2, 2)]
