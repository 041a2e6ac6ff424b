"""Rooms of views: none less than its view needs as long as the frame holds them; else one fault."""

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.drawing.bounds import picture_ink
from pipeline.drawing.overlap import leaves
from pipeline.drawing.picture import Text
from pipeline.errors import Faulty
from pipeline.lesson.check import read_checked
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.rooms import ARRANGEMENTS, Need, boxes, divided, safe_area

SCRIPT = """\
title: Rooms
teacher: Orla Vanterpool
fragments:
  stair:
    tempo: 138
    text: |
      count      1 e  &  a 2 e  &  a
      strokes    d u       d u
      fingers    1 3  4  3 1 3  4  3
      D3       |-----------5-7-h8-p7-|
      A2       |-5-7-h8-p7-----------|
segments:
  - id: one
    title: One
    scenes:
      - id: shown
        fragment: stair
        arrangement: foot
        views:
"""
LONG = (
    "Watch the little finger: it must land before the pick has left the string, or the slur is lost and "
    "the whole group of four limps."
)


def script(folder: Path, *views: str, arrangement: str = "foot") -> Path:
    path = folder / "lesson.yaml"
    text = SCRIPT.replace("arrangement: foot", f"arrangement: {arrangement}")
    path.write_text(text + "".join(f"          - {{{view}}}\n" for view in views), "utf-8")
    return path


needs = st.tuples(st.floats(0, 300), st.floats(0, 200)).map(lambda pair: Need(pair[0], sum(pair)))
asked = st.lists(st.tuples(st.floats(0.1, 3), needs), min_size=1, max_size=5)


@given(asked, st.floats(50, 1500))
def test_parts_fill_a_room_and_none_is_less_than_its_least_where_all_fit(
    asked: list[tuple[float, Need]], room: float
) -> None:
    shares, wanted = [share for share, _ in asked], [need for _, need in asked]
    parts = divided(room, shares, wanted)
    assert sum(parts) == pytest.approx(room)
    if sum(need.least for need in wanted) <= room:
        assert all(part >= need.least - 1e-6 for part, need in zip(parts, wanted, strict=True))
    if sum(need.easy for need in wanted) <= room:
        assert all(part >= need.easy - 1e-6 for part, need in zip(parts, wanted, strict=True))


@pytest.mark.parametrize("arrangement", sorted(ARRANGEMENTS))
def test_boxes_never_meet_and_stay_in_the_safe_area(arrangement: str) -> None:
    safe = safe_area(1920, 1080)
    placed = boxes(arrangement, 1920, 1080, [1, 2, 0.4], lambda view, width: Need(100 + 50 * view, 400))
    for box in placed:
        assert min(box.x - safe.x, box.y - safe.y, safe.right - box.right, safe.bottom - box.bottom) >= -0.5
    assert not any(a.meets(b) for i, a in enumerate(placed) for b in placed[:i])


def test_a_view_with_room_enough_keeps_its_share() -> None:
    plain = boxes("stack", 1920, 1080, [1, 0.5])
    assert boxes("stack", 1920, 1080, [1, 0.5], lambda view, width: Need(100, 300)) == plain


def test_long_words_beside_music_get_the_room_that_they_need(tmp_path: Path) -> None:
    """All words stand on the first card, and so on a still."""
    path = script(tmp_path, "show: tab", f'show: words, kind: call-out, text: "{LONG}"')
    assert read_checked(path).cautions == ()
    scene = read_lesson(path).scene("shown")
    texts = [leaf.mark for leaf in leaves(scene.picture(scene.still_at).marks) if isinstance(leaf.mark, Text)]
    assert " ".join(text.text for text in texts if text.name == "words") == LONG
    assert {text.name.split()[0] for text in texts} >= {"finger", "attack"}


def test_words_that_need_several_cards_are_told(tmp_path: Path) -> None:
    path = script(tmp_path, "show: tab", f'show: words, text: "{LONG * 6}"')
    caution = read_checked(path).cautions[-1]
    assert str(caution) == (
        f"{path}:21:13: caution: these words take 2 cards, one after another, and a still shows only the "
        "first; say it in fewer words or give them more room"
    )


@pytest.mark.parametrize("arrangement", ["foot", "head", "stack", "first-above"])
@pytest.mark.parametrize("second", ["neck", "scalemap", "nodes, partials: 5"])
def test_a_staff_beside_a_neck_stays_in_its_panel(arrangement: str, second: str, tmp_path: Path) -> None:
    views = ("show: staff", f"show: {second}")
    scene = read_lesson(script(tmp_path, *views, arrangement=arrangement)).scene("shown")
    for placed in scene.composition.placed:
        ink = picture_ink(placed.view.picture(placed.stage, scene.still_at))
        assert ink is not None
        assert min(ink.x, ink.y) >= -0.6
        assert max(ink.right - placed.box.width, ink.bottom - placed.box.height) <= 0.6
        names = [
            leaf.box
            for leaf in leaves(placed.view.picture(placed.stage, scene.still_at).marks)
            if leaf.label.startswith("string") and leaf.label.endswith("name")
        ]
        assert not any(a.meets(b) for a, b in pairwise(names))


def test_views_that_no_room_holds_are_one_fault_with_what_would_hold_them(tmp_path: Path) -> None:
    path = script(tmp_path, "show: staff", "show: neck", "show: strokes", "show: nodes")
    with pytest.raises(Faulty) as caught:
        read_checked(path)
    (fault,) = caught.value.faults
    assert str(fault).startswith(f"{path}:20:13: staff needs ")
    assert "and the arrangement 'foot' leaves it " in str(fault)
    assert str(fault).endswith(
        "show fewer views at once, or choose the arrangement row or first-above or first-left"
    )


def test_what_is_left_out_for_want_of_room_is_told(tmp_path: Path) -> None:
    path = script(tmp_path, "show: tab", "show: neck", "show: words, text: Slowly")
    (caution,) = read_checked(path).cautions
    assert str(caution) == (
        f"{path}:20:13: caution: there is no room here for note values, fingers; show fewer views at once, "
        "or choose another arrangement"
    )


def test_a_closer_look_than_the_frame_holds_is_a_fault(tmp_path: Path) -> None:
    path = script(tmp_path, "show: staff", "show: neck")
    text = path.read_text("utf-8").replace(
        "        views:", "        zooms: [{into: neck, at: 1:2, by: 8}]\n        views:"
    )
    path.write_text(text, "utf-8")
    with pytest.raises(
        Faulty, match=r":19:17: there is no room for neck 8 times larger; write 3\.\d at most"
    ):
        read_checked(path)
    path.write_text(text.replace("by: 8", "by: 3"), "utf-8")
    assert read_checked(path)


def test_rows_are_as_many_as_there_are_and_never_less_than_none(tmp_path: Path) -> None:
    """The passage has one bar, so nine rows of it are one."""
    assert read_checked(script(tmp_path, "show: tab, rows: 9", arrangement="stack")).cautions == ()
    with pytest.raises(Faulty, match=r":20:\d+: there are no -3 rows; write 0 or more"):
        read_checked(script(tmp_path, "show: tab, rows: -3"))
