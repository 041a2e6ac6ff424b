"""Exact times: passes, clicks, holds, frames. Expected values are worked out by hand from tempo and meter."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lesson.timeline import RUN_UP, SOUND_RATE, Following, Plan, Stop, laid_out
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note
from pipeline.timing import Rate, Span, TimeMap

F = Fraction
NONE, LATE = F(0), F(100)

PAL, NTSC = Rate(F(25)), Rate(F(30000, 1001))


def fragment(bars: int = 2, tempo: int = 120, unit: int = 4, pickup: F = NONE) -> Fragment:
    """Bars of 4/4 or 6/8 with a note on every quarter beat."""
    beats, length = (6, F(3)) if unit == 8 else (4, F(4))
    measures = [Measure(F(0), pickup, beats, unit)] if pickup else []
    measures += (Measure(pickup + index * length, length, beats, unit) for index in range(bars))
    notes = [Note(F(k), F(1), 60, 2, 1) for k in range(int(measures[-1].end))]
    return Fragment("run", Guitar(), tuple(notes), tuple(measures), F(tempo))


def plan(piece: Fragment, **changes: object) -> Plan:
    return Plan(piece, **{"beats": Span("beat", F(0), piece.length), **changes})  # type: ignore[arg-type]


def recorded(piece: Fragment, marks: tuple[tuple[F, F], ...], end: F = LATE) -> Following:
    seconds = TimeMap("beat", "clip", marks)
    return Following(
        seconds, Span("clip", F(0), end), tuple(seconds(n.onset) for n in piece.notes), frozenset()
    )


def test_a_guide_pass_lasts_its_beats_at_tempo_times_speed() -> None:
    times = laid_out(plan(fragment(), speeds=(F(1), F(1, 2)), lead=F(1, 2), pause=F(2), tail=F(1)), PAL)
    assert [piece.span for piece in times.pieces] == [
        Span("scene", F(1, 2), F(9, 2)),
        Span("scene", F(13, 2), F(29, 2)),
    ]
    assert times.duration == F(31, 2) + F(1, 50)  # 15.5 s is 387.5 frames: rounded up to 388
    assert times.frames == 388


def test_loops_follow_at_once_without_a_pause() -> None:
    times = laid_out(plan(fragment(1), loops=3), PAL)
    assert [piece.span.start for piece in times.pieces] == [0, 2, 4]
    assert [piece.number for piece in times.pieces] == [1, 2, 3]


def test_the_count_in_leads_to_the_first_beat_with_one_accented() -> None:
    times = laid_out(plan(fragment(1), count_in=6, speeds=(F(1, 2),)), PAL)
    assert [click.moment for click in times.clicks] == [0, 1, 2, 3, 4, 5]
    assert [click.accent for click in times.clicks] == [False, False, True, False, False, False]
    assert times.pieces[0].span.start == 6


def test_clicks_count_eighths_in_six_eight() -> None:
    times = laid_out(plan(fragment(1, unit=8), count_in=6), PAL)
    assert [click.moment for click in times.clicks] == [F(k, 4) for k in range(6)]
    assert [click.accent for click in times.clicks] == [True, *[False] * 5]


def test_a_count_in_to_a_pickup_keeps_the_bar() -> None:
    times = laid_out(plan(fragment(1, pickup=F(1)), count_in=3), PAL)
    assert [click.accent for click in times.clicks] == [True, False, False]


def test_every_new_speed_is_counted_in_and_loops_are_not() -> None:
    times = laid_out(plan(fragment(1), count_in=2, loops=2, speeds=(F(1), F(1, 2))), PAL)
    assert [click.moment for click in times.clicks] == [0, F(1, 2), 5, 6]
    assert [piece.span.start for piece in times.pieces] == [1, 3, 7, 11]


def test_a_hold_cuts_the_pass_and_delays_the_rest() -> None:
    times = laid_out(plan(fragment(1), loops=2, stops=(Stop(F(2), F(3), 2),)), PAL)
    assert [(p.number, p.beats.start, p.beats.end) for p in times.pieces] == [(1, 0, 4), (2, 0, 2), (2, 2, 4)]
    assert [piece.span.start for piece in times.pieces] == [0, 2, 6]
    assert times.second_of(F(2), 2) == 6
    assert times.second_of(F(1), 2) == F(5, 2)
    assert times.second_of(None, 2) == 7


def test_a_hold_on_the_first_beat_delays_all() -> None:
    times = laid_out(plan(fragment(1), stops=(Stop(F(0), F(3)),)), PAL)
    assert [piece.span.start for piece in times.pieces] == [3]


@pytest.mark.parametrize("speed", [F(1), F(1, 2), F(1, 4), F(7, 10)])
def test_a_recording_is_followed_note_by_note(speed: F) -> None:
    """The clip second of each note, sent through the excerpt, is the scene second the picture gets."""
    piece = fragment()
    marks = ((F(0), F(1, 2)), (F(3), F(21, 10)), (F(8), F(23, 5)))
    following = recorded(piece, marks)
    times = laid_out(plan(piece, following=following, speeds=(speed,), lead=F(1)), NTSC)
    (only,) = times.pieces
    assert only.excerpt is not None
    assert only.clip_moments is not None
    assert only.start == (1 - RUN_UP / speed if speed in (1, F(1, 2), F(1, 4)) else only.start)
    for note in piece.notes:
        assert only.moments(note.onset) == only.clip_moments(following.seconds(note.onset))
        straight = only.moments(F(0)) + (following.seconds(note.onset) - F(1, 2)) / speed
        assert abs(only.moments(note.onset) - straight) <= F(2, SOUND_RATE)


def test_an_excerpt_stays_inside_its_clip() -> None:
    piece = fragment()
    following = recorded(piece, ((F(0), F(0)), (F(8), F(4))), end=F(9, 2))
    (only,) = laid_out(plan(piece, following=following), PAL).pieces
    assert only.excerpt == Span("clip", F(0), F(9, 2))


def test_bars_out_of_a_longer_fragment_do_not_ring_into_what_follows() -> None:
    piece = fragment()
    following = recorded(piece, ((F(0), F(1)), (F(8), F(5))))
    beats = Span("beat", F(0), F(4))
    (only,) = laid_out(plan(piece, following=following, beats=beats, rings=False), PAL).pieces
    assert only.excerpt == Span("clip", 1 - RUN_UP, F(3))


@given(
    bars=st.integers(1, 3),
    speeds=st.lists(st.sampled_from([F(1), F(3, 4), F(1, 2), F(1, 4)]), min_size=1, max_size=3),
    loops=st.integers(1, 3),
    rate=st.sampled_from([PAL, NTSC, Rate(F(24000, 1001)), Rate(F(60))]),
    hold=st.fractions(0, 4, max_denominator=8),
)
def test_times_never_overlap_and_frames_cover_them(
    bars: int, speeds: list[F], loops: int, rate: Rate, hold: F
) -> None:
    piece = fragment(bars)
    asked = plan(
        piece, speeds=tuple(speeds), loops=loops, count_in=4, pause=F(1, 3), stops=(Stop(hold, F(1, 2)),),
        tail=F(1, 7),
    )  # fmt: skip
    times = laid_out(asked, rate)
    spans = [one.span for one in times.pieces]
    assert all(a.end <= b.start for a, b in pairwise(spans))
    assert sum(one.beats.length for one in times.pieces) == piece.length * len(speeds) * loops
    assert times.duration == times.frames / rate.value
    assert 0 <= times.duration - (spans[-1].end + F(1, 7)) < 1 / rate.value


def test_a_scene_without_playing_lasts_what_it_says() -> None:
    assert laid_out(Plan(None, at_least=F(4)), NTSC).frames == 120
