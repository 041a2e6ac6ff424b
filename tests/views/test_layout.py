"""The parts that views are made of, against rules that can be worked out by hand."""

from fractions import Fraction
from itertools import pairwise

import corpus
import pytest
import reading
from hypothesis import given
from hypothesis import strategies as st

from pipeline.drawing.typeface import text_width
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note
from pipeline.music.scales import SCALES
from pipeline.timing import Span, TimeMap
from pipeline.views.board import window_for
from pipeline.views.glide import eased, glide_through
from pipeline.views.hand import hand_at, stays_of
from pipeline.views.neck import Neck, board_of
from pipeline.views.nodes import pitch_words
from pipeline.views.notevalues import rhythms
from pipeline.views.pickpath import change_of
from pipeline.views.rows import shown_measures
from pipeline.views.scalemap import ALSO_CALLED, ScaleName
from pipeline.views.signs import amount_label
from pipeline.views.sounding import line_of, moment_at
from pipeline.views.stage import Pass, Stage
from pipeline.views.tab import Tab, lay
from pipeline.views.turning import turn_of
from pipeline.views.wrapping import cards_of, wrapped

F = Fraction


def note(onset: Fraction, string: int, fret: int, **more: object) -> Note:
    return Note(onset, F(1, 4), 40 + fret, string, fret, **more)  # type: ignore[arg-type]


# time --------------------------------------------------------------------------------------------------


def test_a_grace_note_sounds_before_its_note_and_never_before_half_of_the_gap() -> None:
    fragment = corpus.every_technique()
    line = line_of(fragment)
    grace = next(i for i, n in enumerate(fragment.notes) if n.grace)
    assert line.starts[grace] == F(1) - F(1, 8)
    assert line.ends[grace] == F(1)
    assert line.at(F(7, 8), F(0)) == (grace,)
    assert line.at(F(13, 16), F(0)) == (0,)


def test_between_passes_the_next_pass_is_awaited() -> None:
    fragment = corpus.lead_line()
    first = Pass(Span("beat", F(0), F(4)), TimeMap.linear("beat", "scene", F(0), F(1), F(1, 2)))
    again = Pass(Span("beat", F(0), F(4)), TimeMap.linear("beat", "scene", F(0), F(5), F(1)), F(1, 2))
    stage = Stage(1728, 480, corpus.stage_of(None).look, F(10), fragment, (first, again))
    assert moment_at(stage, F(0)).coming == (0,)
    assert moment_at(stage, F(1)).sounding == (0,)
    assert moment_at(stage, F(3)).sounding == ()
    assert moment_at(stage, F(4)).coming == (0,)
    assert moment_at(stage, F(5)).sounding == (0,)
    assert moment_at(stage, F(9)).coming == ()


def test_only_played_measures_are_shown() -> None:
    fragment = corpus.lead_line()
    one = Pass(Span("beat", F(4), F(8)), TimeMap.linear("beat", "scene", F(4), F(0), F(1)))
    stage = Stage(1728, 480, corpus.stage_of(None).look, F(5), fragment, (one,))
    assert shown_measures(stage, fragment) == range(1, 2)


@given(st.lists(st.tuples(st.integers(1, 50), st.integers(0, 80)), min_size=2, max_size=12))
def test_a_glide_meets_its_points_and_never_goes_back(steps: list[tuple[int, int]]) -> None:
    points, at, value = [], 0.0, 0.0
    for width, rise in steps:
        points.append((at, value))
        at, value = at + width, value + rise
    glide = glide_through(points)
    assert all(glide(a) == pytest.approx(v, abs=1e-9) for a, v in points)
    seen = [glide(points[-1][0] * i / 200) for i in range(201)]
    assert all(b >= a - 1e-9 for a, b in pairwise(seen))


def test_easing_rests_at_both_ends() -> None:
    assert (eased(-1), eased(0), eased(0.5), eased(1), eased(2)) == (0, 0, 0.5, 1, 1)
    assert eased(0.01) < 0.001


# the hand ----------------------------------------------------------------------------------------------


def test_the_hand_arrives_with_the_first_note_of_its_new_place() -> None:
    notes = tuple(
        note(F(i, 4), 3, 5 + i % 3 + (7 if i >= 8 else 0), position=12 if i >= 8 else 5) for i in range(16)
    )
    fragment = corpus.lead_line().with_notes(notes)
    stays = stays_of(notes, line_of(fragment))
    assert [(s.beat, s.position) for s in stays] == [(F(0), 5), (F(2), 12)]
    one = Pass(Span("beat", F(0), F(4)), TimeMap.linear("beat", "scene", F(0), F(0), F(1)))
    before = hand_at(stays, one, 1.74, 0.28, 0.6)
    there = hand_at(stays, one, 2.0, 0.28, 0.6)
    moving = hand_at(stays, one, 1.95, 0.28, 0.6)
    assert before is not None
    assert there is not None
    assert moving is not None
    assert (before.position, there.position, there.before) == (5.0, 12.0, 5)
    assert 5 < moving.position < 12
    assert before.coming == 12


# rhythm ------------------------------------------------------------------------------------------------


def test_sextuplets_and_quintuplets_are_numbered_and_beamed_by_the_beat() -> None:
    found = rhythms(corpus.lead_line())
    assert [tuplet.actual for tuplet in found[1].tuplets] == [6, 6, 6, 5]
    assert [len(run) for run in found[0].runs()] == [4, 4, 4, 4]
    assert [len(run) for run in found[1].runs()] == [6, 6, 6, 5]


def test_an_empty_bar_has_one_whole_rest() -> None:
    signs = rhythms(corpus.every_technique())[-1].signs
    assert [(sign.value, sign.event.notes) for sign in signs] == [(F(4), ())]


# tab ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(corpus.corpus()))
def test_labels_of_one_string_never_touch(name: str) -> None:
    fragment = corpus.corpus()[name]
    stage = corpus.stage_of(fragment)
    laid = lay(Tab(), stage)
    assert laid is not None
    for system in laid.systems:
        for string in range(1, fragment.guitar.string_count + 1):
            own = sorted((x, i) for i, x in system.note_x if fragment.notes[i].string == string)
            for (x, i), (after, j) in pairwise(own):
                reach = laid.brush.sheet.note_half(i) + laid.brush.sheet.note_half(j)
                assert after - x > reach, (i, j)
        assert system.width <= stage.width - 2 * laid.left + 0.01


def test_rows_break_at_bars_where_bars_fit() -> None:
    laid = lay(Tab(), corpus.stage_of(corpus.lead_line()))
    assert laid is not None
    assert all(p.piece.opens and p.piece.closes for s in laid.systems for p in s.placed)


def test_the_height_for_paper_holds_every_row() -> None:
    fragment = corpus.lead_line()
    look = corpus.stage_of(None).look
    stage = Stage(1728, 3000, look, F(0), fragment, frame_height=1080)
    view = Tab()
    tall = view.height(stage)
    exact = Stage(1728, round(tall) + 1, look, F(0), fragment, frame_height=1080)
    laid = lay(view, exact)
    assert laid is not None
    assert laid.rows >= len(laid.systems)


def test_a_bend_is_labelled_in_whole_tones() -> None:
    labels = [amount_label(F(s)) for s in (F(1, 2), 1, F(3, 2), 2, 3, 4)]
    assert labels == ["¼", "½", "¾", "full", "1½", "2"]


# neck --------------------------------------------------------------------------------------------------


def test_frets_lie_where_equal_temperament_puts_them_and_mirror_for_left_hands() -> None:
    """12 frets halve the string: L * (1 - 2 ** (-n / 12)) (see `Guitar.fret_mm`)."""
    right = board_of(Neck(region="whole"), corpus.stage_of(corpus.lead_line()))
    left = board_of(Neck(region="whole"), corpus.stage_of(corpus.lead_line(corpus.LEFT)))
    nut, twelfth, octave = (right.x(right.guitar.fret_mm(f)) for f in (0, 12, 24))
    assert (twelfth - nut) / (octave - nut) == pytest.approx((1 / 2) / (3 / 4))
    for fret in range(25):
        mm = right.guitar.fret_mm(fret)
        assert right.x(mm) + left.x(mm) == pytest.approx(1728)


@given(st.sets(st.integers(1, 24), min_size=1), st.floats(50, 400))
def test_a_window_holds_its_frets_and_is_wide_enough(frets: set[int], least: float) -> None:
    guitar = Guitar()
    window = window_for(guitar, frets, least)
    for fret in frets:
        middle = (guitar.fret_mm(fret) + guitar.fret_mm(fret - 1)) / 2
        assert window.left <= middle <= window.right
    assert window.right - window.left >= min(least, guitar.fret_mm(24)) - 1e-6


# strokes, nodes, scales --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("strings", "strokes", "name"),
    [
        ((3, 2), ("down", "up"), "outside"), ((3, 2), ("up", "down"), "inside"),
        ((2, 3), ("up", "down"), "outside"), ((2, 3), ("down", "up"), "inside"),
        ((3, 2), ("down", "down"), "onward"), ((3, 2), ("up", "up"), ""), ((3, 3), ("down", "up"), ""),
    ],
)  # fmt: skip
def test_changes_of_string_are_named(strings: tuple[int, int], strokes: tuple[str, str], name: str) -> None:
    """Common practice, no source: three notes a string from a down-stroke cross outside."""
    one, other = (note(F(i), s, 5, stroke=k) for i, (s, k) in enumerate(zip(strings, strokes, strict=True)))
    assert change_of(one, other) == name


def test_partials_are_named_with_their_cents() -> None:
    """1200 * log2(5) - 2800 = -13.69, 1200 * log2(7) - 3400 = -31.17 (arithmetic)."""
    words = [pitch_words(Guitar(), 3, 0, k) for k in (2, 3, 4, 5, 7)]
    assert words == ["G4", "D5 +2 ¢", "G5", "B5 −14 ¢", "F6 −31 ¢"]


def test_every_known_scale_can_be_named_in_a_script() -> None:
    named = set(ScaleName.__args__)  # type: ignore[attr-defined]
    assert named == set(SCALES) | set(ALSO_CALLED)


# words -------------------------------------------------------------------------------------------------


@given(st.text(max_size=200), st.floats(60, 800))
def test_wrapped_lines_fit_and_lose_nothing(text: str, width: float) -> None:
    lines = wrapped(text, width, "regular", 36.0)
    assert all(text_width(line, "regular", 36.0) <= width or len(line) == 1 for line in lines)


@given(st.text("abc defg\n", max_size=900), st.floats(120, 600))
def test_cards_keep_every_word_and_the_smallest_size(text: str, height: float) -> None:
    cards = cards_of(text, "Heading", 500.0, height, 44.0, "regular", 60.0, "bold", 36.0, 1.28)
    shown = "".join(line for card in cards for line in card.lines).replace(" ", "")
    assert cards[0].heading == ("Heading",)
    assert shown == "".join(text.split())
    for card in cards:
        assert min(card.size, card.heading_size) >= 36.0
        assert (len(card.lines) * card.size + len(card.heading) * card.heading_size) * 1.28 <= height + 1e-6


# page turns --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("height", [471, 972])
def test_what_comes_next_is_in_sight_before_a_row_ends(height: int) -> None:
    stage = corpus.stage_of(corpus.lead_line(), height=height)
    laid = lay(Tab(), stage)
    assert laid is not None
    for row, after in pairwise(laid.systems):
        just_before = stage.passes[0].moments(row.end) - F(1, 100)
        shown = Tab().picture(stage, just_before)
        names = {name for name in reading.group_names(shown) if name.startswith("note ")}
        first = min(after.note_x, key=lambda pair: pair[1])[0]
        assert f"note {first} next" in names


def test_a_row_turns_only_where_nothing_rings() -> None:
    laid = lay(Tab(), corpus.stage_of(corpus.lead_line()))
    assert laid is not None
    turn = turn_of(laid, 0)
    assert turn is not None
    system, line = laid.systems[0], laid.brush.line
    assert all(line.ends[i] <= turn.beat for i, x in system.note_x if x < turn.cut)
    assert turn.ahead <= turn.cut
    assert all(abs(x - turn.cut) > laid.brush.sheet.note_half(i) for i, x in system.note_x)


# rows --------------------------------------------------------------------------------------------------


def test_no_row_of_a_cut_bar_is_bare() -> None:
    """Twenty notes a second in a narrow room: the bar is cut, and its last beats are a rest."""
    stage = corpus.stage_of(corpus.fast(), width=972, height=1728, frame=1920)
    laid = lay(Tab(), stage)
    assert laid is not None
    assert len(laid.systems) > 3
    for system in laid.systems:
        assert any(placed.piece.columns for placed in system.placed)
    assert laid.systems[-1].end == 8
