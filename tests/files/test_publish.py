"""The sheet beside a film."""

from fractions import Fraction
from pathlib import Path

import pytest

from pipeline.files.publish import Sheet, clock, description, write_sheet

FULL = Sheet(
    "A fast run",
    "Ida Unbekannt",
    ((Fraction(1, 2), "Hear it"), (Fraction(75), "Slow\nit down"), (Fraction(3725), "Play")),
    ("Written for this lesson", "Written for this lesson"),
    (("take.flac", "recorded by the teacher"),),
    ("Rest your hand",),
)


def test_every_block_is_there_in_order(tmp_path: Path) -> None:
    write_sheet(tmp_path / "a.txt", FULL)
    assert (tmp_path / "a.txt").read_text("utf-8").split("\n\n") == [
        "A fast run\nWith Ida Unbekannt",
        "0:00 Hear it\n1:15 Slow it down\n1:02:05 Play",
        "Credits\nWritten for this lesson",
        "Recordings and film\ntake.flac: recorded by the teacher",
        "Take care\nRest your hand\n",
    ]


def test_what_is_not_there_leaves_no_heading() -> None:
    assert description(Sheet("A", "B", ((Fraction(0), "Only one"),))) == "A\nWith B\n"


@pytest.mark.parametrize(
    ("second", "shown"), [(0, "0:00"), (59.99, "0:59"), (60, "1:00"), (3599, "59:59"), (3600, "1:00:00")]
)
def test_clock(second: float, shown: str) -> None:
    assert clock(Fraction(second)) == shown
