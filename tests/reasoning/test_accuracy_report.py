"""The accuracy benchmark reads its data as described and counts what it says it counts."""

from pathlib import Path

import pytest

from pipeline.reasoning.habits import Habits
from tests.benchmarks.strings import (
    ambiguous,
    given,
    interval,
    lowest_fret,
    nearest,
    read_tracks,
    right,
    shortest,
    unaided,
)

CSV = """track,player,onset,duration,midi,string,fret
a,00,0.000,0.2,64,2,5
a,00,0.030,0.2,60,3,5
a,00,0.200,0.2,65,2,6
a,00,0.236,0.2,40,6,0
b,01,1.000,0.2,67,1,3
"""


@pytest.fixture
def tracks(tmp_path: Path):  # type: ignore[no-untyped-def]
    path = tmp_path / "some.csv"
    path.write_text(CSV)
    return read_tracks(path)


def test_onsets_within_35_ms_are_one_chord(tracks) -> None:  # type: ignore[no-untyped-def]
    assert [track.name for track in tracks] == ["a", "b"]
    assert [len(group) for group in tracks[0].fragment.chords] == [2, 1, 1]
    assert tracks[0].strings == (3, 2, 2, 6) or tracks[0].strings == (2, 3, 2, 6)


def test_a_note_with_one_string_is_not_ambiguous(tracks) -> None:  # type: ignore[no-untyped-def]
    assert ambiguous(tracks[0])[-1] is False
    assert ambiguous(tracks[1]) == [True]


def test_baselines_by_hand(tracks) -> None:  # type: ignore[no-untyped-def]
    """G4 alone lies lowest on string 1; nearest and shortest begin or end there too."""
    fragment = tracks[1].fragment
    assert lowest_fret(fragment) == [1]
    assert nearest(fragment) == [1]
    assert len(shortest(fragment)) == 1
    assert right(tracks[1], [1]) == [True]


def test_only_the_strings_that_are_told_are_given(tracks) -> None:  # type: ignore[no-untyped-def]
    told = given(tracks[0], [2])
    assert [note.string for note in told.notes] == [None, None, 2, None]


def test_the_interval_holds_the_mean_and_is_seeded() -> None:
    flags = [[True, False], [True, True], [False, False], [True, True]]
    low, high = interval(flags)
    assert low <= 5 / 8 <= high
    assert interval(flags) == (low, high)


def test_on_the_open_data_the_first_reading_beats_every_baseline(shared_data: Path) -> None:
    """GuitarSet, two accompaniment parts (Xi et al., ISMIR 2018); the figures are the benchmark's own."""
    tracks = read_tracks(shared_data / "strings" / "guitarset_comp.csv")
    assert [len(track.strings) for track in tracks] == [133, 151]
    share = {row[:24].strip(): float(row[24:30]) for row in unaided(tracks, Habits())}
    assert share["first reading"] > max(share["lowest fret"], share["nearest"], share["shortest path"])
