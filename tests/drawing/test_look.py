"""Looks: every role is set, legible by measure, and every mistake in a look file is told at once."""

import pickle
from pathlib import Path

import pytest

from pipeline.drawing.look import Look, load_look, look_names, measure
from pipeline.drawing.picture import Colour
from pipeline.drawing.roles import COLOURS, LINES, MOTION, SIZES, SMALLEST_CAPS, SMALLEST_TEXT
from pipeline.drawing.templates import templates_folder
from pipeline.drawing.typeface import cap_height
from pipeline.errors import Faulty, Place

TYPE = ("title", "heading", "body", "small", "digit", "dot-digit", "finger", "count")


@pytest.fixture(params=look_names())
def look(request: pytest.FixtureRequest) -> Look:
    return load_look(str(request.param))


def test_there_are_three() -> None:
    assert look_names() == ("dusk", "linen", "proof")


def test_every_role_is_set(look: Look) -> None:
    assert [role for role, _ in look.palette] == list(COLOURS)
    assert [role for role, _ in look.sizes] == list(SIZES)
    assert [role for role, _ in look.lines] == list(LINES)
    assert [role for role, _ in look.motion] == list(MOTION)
    assert all(look.seconds(role) < 1 for role in MOTION)


def test_contrast_is_enough(look: Look) -> None:
    """WCAG 2.2, 1.4.3 and 1.4.11: 4.5:1 where words stand, 3:1 for marks."""
    short = [found for found in measure(look) if found.ratio < found.floor]
    assert short == []
    assert {found.floor for found in measure(look)} == {4.5, 3.0}


def test_words_are_large_enough(look: Look) -> None:
    assert all(look.size(role) >= SMALLEST_TEXT for role in TYPE)
    assert cap_height("semibold", look.size("digit")) >= SMALLEST_CAPS


def test_colours_are_opaque_but_for_the_scrim(look: Look) -> None:
    assert [role for role, colour in look.palette if colour.alpha < 255] == ["scrim"]


def test_sizes_stand_in_order(look: Look) -> None:
    assert look.size("title") > look.size("heading") > look.size("body") > look.size("small")
    assert look.size("string-gap") > cap_height("semibold", look.size("digit"))
    assert look.line("hair") <= look.line("string") < look.line("string-thick")


def test_a_look_survives_a_process_border(look: Look) -> None:
    again = pickle.loads(pickle.dumps(look))
    assert again == look
    assert hash(again) == hash(look)


def test_a_look_from_a_file(tmp_path: Path) -> None:
    own = tmp_path / "own.yaml"
    text = (templates_folder() / "looks" / "dusk.yaml").read_text("utf-8")
    own.write_text(text.replace('"#ffb650"', '"#ffcc88"'), "utf-8")
    assert load_look(own).colour("sounding") == Colour(0xFF, 0xCC, 0x88)
    assert load_look(str(own)).name == "own"


def test_an_unknown_name_is_told_with_the_nearest() -> None:
    with pytest.raises(Faulty, match=r"lesson.yaml:3:7: no look is called 'dust'; did you mean 'dusk'\?"):
        load_look("dust", Place("lesson.yaml", 3, 7))
    with pytest.raises(Faulty, match="known here: dusk, linen, proof"):
        load_look("zzz")


def broken(tmp_path: Path, old: str, new: str) -> list[str]:
    path = tmp_path / "broken.yaml"
    text = (templates_folder() / "looks" / "dusk.yaml").read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")
    with pytest.raises(Faulty) as caught:
        load_look(path)
    return [str(fault).removeprefix(str(tmp_path) + "/") for fault in caught.value.faults]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"#f5eee3"', '"white"', "ink: 'white' is no colour such as '#20252b'; it is words and digits"),
        ('"#f5eee3"', "17", "ink: 17 is no colour"),
        ("  title: 0.088", "  title: large", "title: 'large' is no number; it is type size of titles"),
        ("  title: 0.088", "  title: 88", "title: 88 is not between 0 and 1"),
        ("  title: 0.088", "  title: true", "title: True is no number"),
        ("  fade: 0.24", "", "motion lack the role 'fade'; add it: fades of words"),
        ("  nut: ", "  nutt: ", "unknown key 'nutt'; did you mean 'nut'?"),
        ("motion:", "motions:", "unknown key 'motions'; did you mean 'motion'?"),
    ],
)
def test_mistakes_are_told(tmp_path: Path, old: str, new: str, told: str) -> None:
    lines = broken(tmp_path, old, new)
    assert any(told in line for line in lines), lines
    assert all(line.startswith("broken.yaml:") for line in lines)


def test_all_mistakes_are_told_at_once(tmp_path: Path) -> None:
    assert len(broken(tmp_path, "  arrive: 0.16\n  leave: 0.30", "  arrive: soon\n  leaf: 1")) == 3


def test_a_file_that_is_no_look(tmp_path: Path) -> None:
    path = tmp_path / "list.yaml"
    path.write_text("- 1\n")
    with pytest.raises(Faulty, match="this is no look; write the tables colours, sizes, lines, motion"):
        load_look(path)
    with pytest.raises(Faulty, match="there is no such file"):
        load_look(tmp_path / "none.yaml")
