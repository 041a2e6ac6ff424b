"""Each rule of legible, safe film against made-up pictures that keep it and that break it."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.drawing.look import Look, load_look, look_names
from pipeline.drawing.outline import rect
from pipeline.drawing.picture import Box, Colour, Group, Mark, Picture, Stroke, Text
from pipeline.drawing.picture import Path as Shape
from pipeline.errors import Place
from pipeline.lesson.arrange import Composition, Placed
from pipeline.lesson.heard import Recording
from pipeline.lesson.inspection import Broken, broken, inspect, moments
from pipeline.lesson.inspection_marks import mark_contrast, word_contrast
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.scene import Footage, Run, Scene
from pipeline.timing import Rate, TimeMap
from pipeline.views.stage import Stage

F = Fraction
WIDTH, HEIGHT = 480, 270
DUSK = load_look("dusk")
INK, GROUND = DUSK.colour("ink"), DUSK.colour("ground")


@dataclass(frozen=True)
class Shown:
    """A view that shows what a test makes up."""

    marks: Callable[[Fraction], tuple[Mark, ...]]

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        return Picture(stage.width, stage.height, self.marks(t))


def scene_of(*marks: Mark, moving: Callable[[Fraction], tuple[Mark, ...]] | None = None,
             look: Look = DUSK, rate: int = 25, seconds: int = 2) -> Scene:  # fmt: skip
    view, box = Shown(moving or (lambda t: marks)), Box(0, 0, WIDTH, HEIGHT)
    stage = Stage(WIDTH, HEIGHT, look, F(seconds))
    placed = Placed("made-up", view, stage, box, F(0), F(seconds))
    frame = Composition(WIDTH, HEIGHT, (placed,))
    return Scene("made-up", "", Rate(F(rate)), rate * seconds, look, frame)


def word(text: str = "words", y: float = 135, size: float = 12, fill: Colour = INK, x: float = 100) -> Text:
    return Text(x, y, text, size, fill, name=text)


def faults(scene: Scene) -> list[Broken]:
    return list(broken(inspect(scene)))


def only(scene: Scene) -> str:
    """The one fault of a scene."""
    found = faults(scene)
    assert len(found) == 1, found
    return found[0].wrong


def test_a_plain_picture_breaks_no_rule_and_its_figures_are_right() -> None:
    found = inspect(scene_of(word()))
    assert list(broken(found)) == []
    assert found.text.value == pytest.approx(12 / HEIGHT)
    assert found.flashes.flashes == 0
    assert found.safe.value < found.frame.value


@pytest.mark.parametrize(("size", "kept"), [(9.0, True), (8.9, False)])
def test_words_are_a_thirtieth_of_the_frame_at_least(size: float, kept: bool) -> None:
    assert ([fault.wrong for fault in faults(scene_of(word(size=size)))] == []) == kept


def test_on_upright_frames_type_goes_by_the_width() -> None:
    """270 x 480: 1.25 widths are 337.5, a thirtieth of them 11.25."""
    scene = scene_of(word(size=11.3, x=60))
    upright = replace(scene, composition=replace(scene.composition, width=270, height=480))
    assert faults(upright) == []
    small = scene_of(word(size=11.2, x=60))
    upright = replace(small, composition=replace(small.composition, width=270, height=480))
    assert "'words' is written at 1/30" in only(upright)


def test_words_made_small_by_their_group_are_measured_as_they_are_seen() -> None:
    small = Group((word(size=16, x=200, y=270),), (0.5, 0.0, 0.0, 0.5, 0.0, 0.0))
    assert "'words' is written at 1/34" in only(scene_of(small))


# Contrast of greys on white by the formula of WCAG 2.2; wcag-contrast-ratio 0.9 gives the same figures.
@pytest.mark.parametrize(("grey", "value"), [("#767676", 4.5422), ("#777777", 4.4781), ("#949494", 3.0335)])
def test_contrast_of_words_is_that_of_the_guidelines(grey: str, value: float) -> None:
    picture = Picture(WIDTH, HEIGHT, (word(fill=Colour.parse(grey)),))
    assert word_contrast(picture, Colour(255, 255, 255)).value == pytest.approx(value, abs=5e-4)


@pytest.mark.parametrize(("grey", "value"), [("#949494", 3.0335), ("#959595", 2.9953)])
def test_contrast_of_marks_is_that_of_the_guidelines(grey: str, value: float) -> None:
    look = changed(string=grey)
    line = Shape(rect(Box(50, 100, 300, 2)), look.colour("string"))
    found = mark_contrast(Picture(WIDTH, HEIGHT, (line,)), Colour(255, 255, 255), look)
    assert found.value == pytest.approx(value, abs=5e-4)


def changed(**colours: str) -> Look:
    palette = tuple((role, Colour.parse(colours.get(role, colour.hex))) for role, colour in DUSK.palette)
    return replace(DUSK, palette=palette)


def test_contrast_is_measured_on_what_lies_under_the_words() -> None:
    plate = Shape(rect(Box(90, 110, 120, 40)), Colour.parse("#d0c8bc"))
    assert "stand out by" in only(scene_of(plate, word()))
    dark = Shape(rect(Box(90, 110, 120, 40)), Colour.parse("#302a24"))
    assert faults(scene_of(plate, dark, word())) == []


def test_a_line_through_letters_is_no_ground_and_hidden_words_are_not_judged() -> None:
    across = Shape(rect(Box(90, 130, 200, 1)), INK)
    assert faults(scene_of(across, word())) == []
    plate = Shape(rect(Box(90, 110, 120, 40)), INK)
    assert faults(scene_of(word(fill=INK), plate, word("over it", fill=GROUND))) == []


def test_a_look_with_pale_strings_is_caught() -> None:
    look = changed(string="#2e2924")
    string = Shape(rect(Box(50, 100, 300, 2)), stroke=Stroke(look.colour("string"), 2), name="string 1")
    assert "marks 'string 1' stand out by" in only(scene_of(string, look=look))


def test_words_over_film_must_stand_out_on_dark_and_on_light() -> None:
    still = Run(F(0), F(2), TimeMap("scene", "clip", ((F(0), F(0)),)))
    film = Footage(Recording("film.mp4", "00", Place("a.yaml")), (still,))
    assert "words 'words'" in only(replace(scene_of(word()), footage=film))
    scrim = Shape(rect(Box(90, 110, 120, 40)), DUSK.colour("scrim"))
    assert faults(replace(scene_of(scrim, word()), footage=film)) == []


@pytest.mark.parametrize(("hertz", "safe"), [(2, True), (3, True), (4, False), (5, False)])
def test_more_than_three_flashes_a_second_are_caught(hertz: int, safe: bool) -> None:
    """WCAG 2.2, SC 2.3.1."""
    sheet = Shape(rect(Box(0, 0, WIDTH, HEIGHT)), Colour(255, 255, 255))

    def marks(t: Fraction) -> tuple[Mark, ...]:
        return (sheet,) if t * hertz % 1 < F(1, 2) else ()

    found = inspect(scene_of(moving=marks, rate=50))
    assert found.flashes.safe == safe
    assert any("flashes" in fault.wrong for fault in broken(found)) == (not safe)


def test_words_on_words_are_caught_but_not_while_they_come_and_go() -> None:
    assert "lie on one another" in only(scene_of(word("first"), word("second", x=104)))
    leaving = Group((word("second", x=104),), opacity=0.4)
    assert faults(scene_of(word("first"), leaving)) == []


def test_characters_without_a_glyph_are_named() -> None:
    assert only(scene_of(word("a 漢 b"))) == "the typeface has no 漢"


@pytest.mark.parametrize(
    ("x", "room"), [(-20, "the frame"), (10, "the safe area")], ids=["out of frame", "out of safe area"]
)
def test_words_stay_in_their_room(x: float, room: str) -> None:
    assert any(fault.wrong.endswith(f"out of {room}") for fault in faults(scene_of(word(x=x))))


def test_a_look_whose_states_look_alike_is_caught() -> None:
    """Red and green of one lightness: told apart by usual sight, not without green (Machado et al. 2009)."""
    look = changed(past="#b05a3c", sounding="#6b7a3c")
    wrong = [fault.wrong for fault in faults(scene_of(word(), look=look))]
    assert any("past and sounding look alike with no" in one for one in wrong)


def test_the_moments_are_frames_over_the_whole_scene() -> None:
    scene = scene_of(word())
    found = moments(scene)
    assert all((t * 25).denominator == 1 for t in found)
    assert found[0] < F(1, 4)
    assert found[-1] > F(7, 4)


@pytest.mark.parametrize("look", look_names())
def test_a_title_scene_keeps_every_rule_in_every_look(look: str, tmp_path: Path) -> None:
    script = tmp_path / "title.yaml"
    script.write_text(TITLE.format(look=look, heading="Part one"), "utf-8")
    assert [*broken(inspect(read_lesson(script).scenes[0]))] == []


def test_the_command_prints_figures_and_points_at_the_view(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    script = tmp_path / "title.yaml"
    script.write_text(TITLE.format(look="dusk", heading="漢"), "utf-8")
    assert main(["check", "--pictures", str(script)]) == 2
    said = capsys.readouterr()
    assert said.out.splitlines()[1].split()[:4] == ["scene", "smallest", "words", "marks"]
    assert f"{script}:9:13: scene opening: the typeface has no 漢; " in said.err
    script.write_text(TITLE.format(look="dusk", heading="Part one"), "utf-8")
    assert main(["check", "--pictures", str(script)]) == 0


TITLE = """\
title: A title
teacher: Orla Vanterpool
frame: {{size: 640x360, rate: 25}}
look: {look}
segments:
  - id: one
    title: One
    scenes:
      - id: opening
        duration: 2
        views:
          - {{show: words, kind: title, heading: "{heading}", text: The stair}}
"""
