"""Cells moved along a scale, and the shifts of a hand."""

from hypothesis import given
from hypothesis import strategies as st

from pipeline.reasoning.cells import Cell, cells, degrees
from pipeline.reasoning.reading import Placement
from pipeline.reasoning.shifts import shifts

C_MAJOR = (0, 2, 4, 5, 7, 9, 11)
SCALE = [60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79]


def moved(contour: list[int], times: int, step: int, start: int = 0) -> list[int]:
    return [SCALE[start + step * i + d] for i in range(times) for d in contour]


def test_groups_of_four_moved_up_a_step() -> None:
    found = cells(moved([0, 1, 2, 3], 5, 1), C_MAJOR)
    assert found == (Cell(0, 4, 5, 1, (0, 1, 2, 3)),)
    assert found[0].words == "5 groups of 4 from note 1, moved up 1 step each time"
    assert found[0].starts == (0, 4, 8, 12, 16)


def test_thirds_and_groups_of_three_downwards() -> None:
    assert cells(moved([0, 2], 5, 1), C_MAJOR)[0].size == 2
    down = cells(moved([2, 1, 0], 4, -1, 8), C_MAJOR)[0]
    assert (down.size, down.step, down.times) == (3, -1, 4)


def test_a_cell_begins_where_its_shape_begins_and_may_end_in_the_middle() -> None:
    line = [72, 79, 60, *moved([0, 2, 1, 3], 3, 1)[:-2]]
    found = cells(line, C_MAJOR)[0]
    assert (found.start, found.size, found.times, found.rest) == (3, 4, 2, 2)


def test_a_plain_scale_is_no_cell() -> None:
    assert cells(SCALE, C_MAJOR) == ()


def test_a_figure_repeated_in_place_has_no_step() -> None:
    found = cells([60, 64, 67, 60, 64, 67, 60, 64, 67], C_MAJOR)[0]
    assert (found.size, found.times, found.step) == (3, 3, 0)
    assert found.words.endswith("in place")


def test_without_a_scale_steps_are_those_of_the_notes_used() -> None:
    """A pentatonic line in groups of three: the semitones change, the steps do not."""
    used = [57, 60, 62, 64, 67, 69, 72]
    line = [used[i + d] for i in range(5) for d in (0, 1, 2)]
    assert cells(line)[0] == Cell(0, 3, 5, 1, (0, 1, 2))


def test_two_cells_in_a_row_are_both_found() -> None:
    line = moved([0, 1, 2, 3], 4, 1) + moved([2, 0], 5, -1, 8)
    assert [(c.start, c.size) for c in cells(line, C_MAJOR)] == [(0, 4), (16, 2)]


@given(st.lists(st.integers(40, 88), max_size=30))
def test_cells_never_overlap_and_are_true(pitches: list[int]) -> None:
    steps = degrees(pitches)
    end = 0
    for cell in cells(pitches):
        assert cell.start >= end
        end = cell.end
        for index in range(cell.start, cell.end - cell.size):
            assert steps[index + cell.size] - steps[index] == cell.step


@given(st.lists(st.integers(40, 80), min_size=1, max_size=20))
def test_an_octave_is_as_many_steps_as_there_are_pitch_classes(pitches: list[int]) -> None:
    classes = len({p % 12 for p in pitches})
    higher = degrees([p + 12 for p in pitches], pitches)
    assert higher == [d + classes for d in degrees(pitches)]


def test_shifts_say_how_far_and_in_what_time(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line([(1, 5), (1, 0), (1, 12), (1, 14)])
    places = [
        Placement(1, 5, 1, 5),
        Placement(1, 0, None, 5),
        Placement(1, 12, 1, 12),
        Placement(1, 14, 3, 12),
    ]
    found = shifts(fragment, places)
    assert [(s.note, s.before, s.after, s.ms) for s in found] == [(2, 5, 12, 125)]
    assert found[0].mm == fragment.guitar.fret_mm(12) - fragment.guitar.fret_mm(5)
    assert found[0].words == "up from position 5 to 12 (161 mm in 125 ms)"
