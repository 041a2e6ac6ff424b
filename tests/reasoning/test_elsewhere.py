"""Which notes a rival puts elsewhere, in words short enough to read."""

import pytest

from pipeline.reasoning.elsewhere import elsewhere
from pipeline.reasoning.reading import Placement, Reading

PITCHES = [60, 62, 64, 65, 67, 69, 71, 72]


def reading(strings: str) -> Reading:
    return Reading("x", tuple(Placement(int(string), 5, 1, 5) for string in strings))


@pytest.mark.parametrize(
    ("strings", "told"),
    [
        ("33332222", ""),
        ("43332222", "note 1 (C4) lies elsewhere, on string 4 at fret 5"),
        ("34442222", "notes 2 to 4 lie elsewhere, note 2 (D4) on string 4 at fret 5"),
        ("34332233", "notes 2 and 7 to 8 lie elsewhere, note 2 (D4) on string 4 at fret 5"),
        ("34342322", "notes 2, 4 and 6 lie elsewhere, note 2 (D4) on string 4 at fret 5"),
        ("43432323", "4 of 8 notes lie elsewhere, note 1 (C4) on string 4 at fret 5"),
        ("44443333", "every note lies elsewhere, note 1 (C4) on string 4 at fret 5"),
    ],
)
def test_notes_that_lie_elsewhere(line, strings: str, told: str) -> None:  # type: ignore[no-untyped-def]
    assert elsewhere(line(PITCHES), reading(strings), reading("33332222")) == told


def test_another_fret_is_another_place(line) -> None:  # type: ignore[no-untyped-def]
    one = Reading("x", (Placement(3, 5, 1, 5),))
    other = Reading("y", (Placement(3, 0, None, 5),))
    assert elsewhere(line([60]), other, one) == "note 1 (C4) lies elsewhere, on string 3 at fret 0"
