"""The plan of a passage: scale, positions, cells, shifts."""

from pipeline.music.scales import SCALES
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.outline import guess_key, outline

A_MINOR_BOX = [(6, 5), (6, 8), (5, 5), (5, 7), (4, 5), (4, 7), (3, 5), (3, 7), (2, 5), (2, 8), (1, 5), (1, 8)]
G_THREE = [(6, 3), (6, 5), (6, 7), (5, 3), (5, 5), (5, 7), (4, 4), (4, 5), (4, 7), (3, 4), (3, 5), (3, 7)]


def test_a_pentatonic_box_is_one_stay(line) -> None:  # type: ignore[no-untyped-def]
    """The first A minor box, frets 5 to 8 (common knowledge of the trade; checks.md section 3)."""
    fragment = line(A_MINOR_BOX[::-1])
    found = outline(fragment, readings(fragment, k=1)[0])
    assert found.scale is not None
    assert (found.tonic, found.scale.name, found.notes_a_string) == (9, "minor pentatonic", 2)
    assert [(stay.first, stay.last) for stay in found.stays] == [(0, 11)]
    assert found.words[0] == "A minor pentatonic, boxes"


def test_three_notes_a_string_with_the_key_given(line) -> None:  # type: ignore[no-untyped-def]
    """The first three-notes-a-string pattern of G major (checks.md section 3)."""
    fragment = line(G_THREE)
    found = outline(fragment, readings(fragment, k=1)[0], key=(7, SCALES["ionian"]))
    assert found.notes_a_string == 3
    stay = found.position_of(0)
    assert stay is not None
    assert stay.position.degree == 1
    assert stay.position.strings[:2] == ((3, 5, 7), (3, 5, 7))


def test_a_second_position_begins_where_the_hand_shifts(line) -> None:  # type: ignore[no-untyped-def]
    up = [*A_MINOR_BOX[:8], (2, 13), (2, 15), (1, 12), (1, 15)]
    fragment = line(up)
    found = outline(fragment, readings(fragment, k=1)[0])
    assert [stay.first for stay in found.stays] == [0, 8]
    assert [shift.note for shift in found.shifts if shift.mm > 60] == [8]


def test_cells_are_part_of_the_plan(line) -> None:  # type: ignore[no-untyped-def]
    used = [57, 60, 62, 64, 67, 69, 72]
    fragment = line([used[i + d] for i in range(5) for d in (0, 1, 2)])
    found = outline(fragment, readings(fragment, k=1)[0])
    assert [(cell.size, cell.times, cell.step) for cell in found.cells] == [(3, 5, 1)]


def test_the_key_of_nothing_and_of_everything() -> None:
    assert guess_key([]) == (0, None)
    assert guess_key(list(range(60, 72))) == (11, None)


def test_of_two_keys_with_the_same_notes_the_tonic_that_ends_wins() -> None:
    tonic, scale = guess_key([69, 72, 74, 76, 79, 76, 72, 69])
    assert scale is not None
    assert (tonic, scale.name) == (9, "minor pentatonic")
    tonic, scale = guess_key([72, 74, 76, 79, 81, 79, 76, 72])
    assert scale is not None
    assert (tonic, scale.name) == (0, "major pentatonic")
