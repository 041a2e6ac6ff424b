"""Pieces joined: the frames of the whole, in place, and the same bytes where the codec allows."""

from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import islice
from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.files.boxes import IntBox
from pipeline.files.chunks import Part, join_films, join_overlays
from pipeline.files.coders import changes
from pipeline.files.film_facts import film_facts
from pipeline.files.frames import Frame
from pipeline.files.pieces import changes_of, write_piece
from pipeline.files.spans import chunk_spans
from pipeline.files.video import DRAWN, FILMED, write_film
from pipeline.sound.signal import Signal
from pipeline.timing import Rate
from tests.files.overlays import write_overlay

Bars = Callable[..., Iterator[Frame]]
SIZE = (64, 36)
RATES = [Fraction(24000, 1001), Fraction(25), Fraction(60)]
NTSC = Rate(Fraction(30000, 1001))


def piece(frames: Iterator[Frame], first: int, last: int) -> Iterator[Frame]:
    """Frames of one piece as its own process would draw them: all of the first one is new."""
    for frame in islice(frames, first, last):
        changed = (IntBox(0, 0, *SIZE),) if frame.number == first else frame.changed
        yield Frame(frame.number, frame.canvas, changed)


def counted(count: int) -> Iterator[Frame]:
    """Frames whose number can be read off their grey: frame n is n × 4."""
    for number in range(count):
        canvas = np.full((36, 64, 4), 255, dtype=np.uint8)
        canvas[:, :, :3] = number * 4
        yield Frame(number, canvas, (IntBox(0, 0, 64, 36),))


def numbers(path: Path) -> list[int]:
    with av.open(str(path)) as film:
        grey = [frame.to_ndarray(format="rgb24").mean() for frame in film.decode(video=0)]
    return [round(level / 4) for level in grey]


@pytest.fixture(scope="module")
def films(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Three pieces of 20, 1 and 19 frames that count from 0 to 39."""
    folder = tmp_path_factory.mktemp("pieces")
    made = []
    for first, last in ((0, 20), (20, 21), (21, 40)):
        path = folder / f"{first}.mp4"
        write_film(path, piece(counted(40), first, last), SIZE, NTSC)
        made.append(path)
    return made


def silence(seconds: float) -> Signal:
    return Signal(np.zeros((round(48000 * seconds), 2), dtype=np.float32), 48000)


def test_joined_films_hold_every_frame_in_place(films: list[Path], tmp_path: Path) -> None:
    joined = join_films(tmp_path / "a.mp4", [Part(path) for path in films], NTSC, silence(2))
    assert joined.frames == 40
    assert numbers(tmp_path / "a.mp4") == list(range(40))
    with av.open(str(tmp_path / "a.mp4")) as film:
        times = [frame.pts * frame.time_base for frame in film.decode(video=0)]
    assert times == [NTSC.time_of(number) for number in range(40)]
    facts = film_facts(tmp_path / "a.mp4", "mp4")
    assert (facts.colours, facts.length) == ((1, 1, 1, 1), NTSC.time_of(40))


def test_drawn_pictures_and_footage_join(tmp_path: Path) -> None:
    """They are coded in different ways, but what is said once for a whole film is the same."""
    for first, last, coding in ((0, 20, DRAWN), (20, 40, FILMED)):
        write_film(tmp_path / f"{first}.mp4", piece(counted(40), first, last), SIZE, NTSC, coding=coding)
    join_films(tmp_path / "a.mp4", [Part(tmp_path / "0.mp4"), Part(tmp_path / "20.mp4")], NTSC)
    assert numbers(tmp_path / "a.mp4") == list(range(40))


def test_a_part_may_be_repeated_and_cut_at_key_frames(films: list[Path], tmp_path: Path) -> None:
    whole = tmp_path / "whole.mp4"
    join_films(whole, [Part(path) for path in films], NTSC)
    parts = [Part(whole, 20, 21), Part(whole, 0, 20), Part(whole, 21)]
    join_films(tmp_path / "a.mp4", parts, NTSC)
    assert numbers(tmp_path / "a.mp4") == [20, *range(20), *range(21, 40)]


@pytest.mark.parametrize(("first", "last"), [(3, None), (0, 7), (20, 30)])
def test_a_cut_inside_a_group_is_refused(
    first: int, last: int | None, films: list[Path], tmp_path: Path
) -> None:
    whole = tmp_path / "whole.mp4"
    join_films(whole, [Part(path) for path in films], NTSC)
    with pytest.raises(ValueError, match="key frame"):
        join_films(tmp_path / "a.mp4", [Part(whole, first, last)], NTSC)
    assert not (tmp_path / "a.mp4").exists()


def test_films_of_other_settings_are_refused(films: list[Path], tmp_path: Path, moving_bar: Bars) -> None:
    write_film(tmp_path / "other.mp4", moving_bar(96, 54, 5, ground=(0, 0, 0, 255)), (96, 54), NTSC)
    with pytest.raises(ValueError, match="other settings"):
        join_films(tmp_path / "a.mp4", [Part(films[0]), Part(tmp_path / "other.mp4")], NTSC)
    with pytest.raises(ValueError, match="another frame rate"):
        join_films(tmp_path / "a.mp4", [Part(films[0])], Rate(Fraction(25)))


@pytest.mark.parametrize("codec", ["prores", "qtrle", "png"])
def test_joined_overlays_are_the_bytes_of_one(codec: str, tmp_path: Path, moving_bar: Bars) -> None:
    rate, sound = Rate(Fraction(24000, 1001)), silence(3)
    write_overlay(tmp_path / "whole.mov", moving_bar(*SIZE, 40, every=3), SIZE, rate, sound, codec)  # type: ignore[arg-type]
    pieces = []
    for first, last in ((0, 13), (13, 14), (14, 40)):
        pieces.append(tmp_path / f"{first}.piece")
        write_piece(pieces[-1], changes(piece(moving_bar(*SIZE, 40, every=3), first, last), SIZE, codec))  # type: ignore[arg-type]
    join_overlays(tmp_path / "joined.mov", pieces, SIZE, rate, sound, codec)  # type: ignore[arg-type]
    assert (tmp_path / "joined.mov").read_bytes() == (tmp_path / "whole.mov").read_bytes()


def test_a_piece_holds_what_changes_and_is_refused_where_it_is_cut_off(
    tmp_path: Path, moving_bar: Bars
) -> None:
    path = tmp_path / "a.piece"
    write_piece(path, changes(moving_bar(640, 360, 12, every=3), (640, 360)))
    found = [len(change) for change in changes_of(path)]
    whole = 23 * 5 + 1
    assert found[0] == whole, "every slice of 23 rows of five, and the header"
    assert found[1:3] == [0, 0]
    assert 0 < found[3] < whole / 2
    data = path.read_bytes()
    for end in (3, 40, len(data) // 2, len(data) - 4):
        path.write_bytes(data[:end])
        with pytest.raises(ValueError, match=r"a\.piece is cut off"):
            list(changes_of(path))
    path.write_bytes(data[:-1] + b"\x07")
    with pytest.raises(ValueError, match=r"a\.piece is not the piece it says it is"):
        list(changes_of(path))


def test_chapters_stand_at_their_frames(films: list[Path], tmp_path: Path) -> None:
    chapters = [(0, "Hear it"), (21, 'Slow & "clean" <½>')]
    join_films(tmp_path / "a.mp4", [Part(path) for path in films], NTSC, silence(2), chapters, "A fast run")
    with av.open(str(tmp_path / "a.mp4")) as film:
        marks = film.chapters()
        assert film.metadata["title"] == "A fast run"
    found = [(mark["start"] * mark["time_base"], mark["end"] * mark["time_base"]) for mark in marks]
    assert [mark["metadata"]["title"] for mark in marks] == [name for _, name in chapters]
    assert found[0][0] == 0
    assert abs(found[1][0] - NTSC.time_of(21)) <= Fraction(1, 2000)
    assert found[0][1] == found[1][0]
    assert abs(found[1][1] - NTSC.time_of(40)) <= Fraction(1, 2000)


def test_the_film_can_start_before_it_has_come_whole(films: list[Path], tmp_path: Path) -> None:
    """The index stands before the pictures (ISO/IEC 14496-12 leaves the order open)."""
    join_films(tmp_path / "a.mp4", [Part(path) for path in films], NTSC)
    stored = (tmp_path / "a.mp4").read_bytes()
    assert stored.index(b"moov") < stored.index(b"mdat")


@settings(max_examples=50, deadline=None)
@given(st.integers(1, 5000), st.sampled_from(RATES), st.sets(st.integers(-5, 5005), max_size=4))
def test_spans_cover_every_frame_once(frames: int, rate: Fraction, also: set[int]) -> None:
    spans = chunk_spans(frames, Rate(rate), also)
    assert [n for first, last in spans for n in range(first, last)] == list(range(frames))
    starts = {first for first, _ in spans}
    assert {n for n in also if 0 < n < frames} <= starts
    assert max(last - first for first, last in spans) <= 7.5 * rate + 1
