"""The scale map in frames of every shape: each place stands once, and those of the position can be read."""

from fractions import Fraction

import corpus
import pytest

from pipeline.drawing.picture import Mark
from pipeline.music.guitar import Guitar
from pipeline.views.scalemap import Scalemap, board_with, boards_of, live_label, places_of

DORIAN = {9, 11, 0, 2, 4, 6, 7}
"""Pitch classes of A B C D E F sharp G (common practice, no source)."""
SIZES = [(1728, 972, 1080, 1), (972, 972, 1080, 2), (972, 1728, 1350, 2), (576, 324, 360, 1)]


def names(mark: Mark) -> list[str]:
    return [mark.name, *(name for one in getattr(mark, "marks", ()) for name in names(one))]


@pytest.mark.parametrize(("width", "height", "frame", "count"), SIZES)
def test_a_neck_in_a_narrow_room_is_drawn_in_halves(width: int, height: int, frame: int, count: int) -> None:
    stage = corpus.stage_of(corpus.lead_line(), width, height, frame)
    view = Scalemap(tonic="A", scale="dorian", position=3)
    boards = boards_of(view, stage)
    assert len(boards) == count
    assert all(one.box.bottom <= height and one.box.right <= width for one in boards)
    places = [place for board in boards for place in places_of(view, board)]
    assert len(places) == len(set(places))
    pitches = {(s, f): corpus.PLAIN.pitch(s, f) % 12 for s in range(1, 7) for f in range(25)}
    assert {(s, f) for s, f, _ in places} == {place for place, pitch in pitches.items() if pitch in DORIAN}
    drawn = [name for mark in view.picture(stage, Fraction(0)).marks for name in names(mark)]
    assert sorted(n for n in drawn if n.startswith("place ")) == sorted(
        f"place {s}/{f}" for s, f, _ in places
    )
    labels = [name for name in drawn if name.startswith("mark ")]
    assert len(labels) == 19 or count == 1  # 18 of the position and the note that sounds


@pytest.mark.parametrize("fret", range(25))
def test_every_fret_is_on_one_board(fret: int) -> None:
    stage = corpus.stage_of(corpus.lead_line(), 972, 1728, 1920)
    view = Scalemap()
    board = board_with(view, stage, fret)
    assert board is boards_of(view, stage)[fret > 12]


def test_a_short_neck_stays_whole() -> None:
    short = corpus.lead_line().but(guitar=Guitar((64, 59, 55, 50, 45, 40), 15))
    assert len(boards_of(Scalemap(), corpus.stage_of(short, 972, 1728, 1920))) == 1


@pytest.mark.parametrize(
    ("fret", "degree", "name"),
    [(5, "5", "E"), (6, "♭6", "F"), (7, "6", "F♯"), (2, "♯3", "C♯"), (9, "♯7", "G♯"), (11, "♭2", "A♯")],
)
def test_a_note_outside_of_the_scale_has_its_degree_with_a_sign(fret: int, degree: str, name: str) -> None:
    """A dorian is A B C D E F sharp G (common practice, no source); the second string is B."""
    view = Scalemap(tonic="A", scale="dorian")
    assert live_label(view, corpus.PLAIN, 2, fret) == degree
    assert live_label(Scalemap(tonic="A", scale="dorian", labels="name"), corpus.PLAIN, 2, fret) == name
    assert live_label(Scalemap(tonic="A", scale="dorian", labels="none"), corpus.PLAIN, 2, fret) == ""


def test_five_notes_have_no_degrees_between_them() -> None:
    assert live_label(Scalemap(tonic="A", scale="minor pentatonic"), corpus.PLAIN, 2, 7) == ""
