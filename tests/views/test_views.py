"""One suite for every view: in the frame, legible, pure, documented, lit to the very frame."""

import math
from dataclasses import fields
from fractions import Fraction
from functools import cache
from typing import Any

import corpus
import numpy as np
import pytest
import reading

from pipeline.drawing.bounds import picture_ink
from pipeline.drawing.look import ON_TEXT, look_names
from pipeline.lesson.inspection_marks import mark_contrast
from pipeline.lesson.shown import view_classes
from pipeline.music.fragment import ClueMark, Fragment
from pipeline.timing import TimeMap
from pipeline.views.stage import Heard, Stage

F = Fraction
GIVEN: dict[str, dict[str, Any]] = {
    "words": {"text": "One finger a fret, and the thumb stays behind the neck.", "heading": "A habit"},
    "footage": {"caption": "Over the shoulder"},
    "sound": {"spot": 2, "spot_to": 4, "remark": "No pick is heard here."},
}
VARIANTS: list[tuple[str, dict[str, Any]]] = [
    *((name, {}) for name in view_classes()),
    ("tab", {"strip": "scrolling"}),
    ("tab", {"rows": 2, "rhythm": False}),
    ("neck", {"region": "whole", "inside": "fret"}),
    ("neck", {"inside": "name", "hand": False}),
    ("strokes", {"thick_on_top": False}),
    ("words", {"kind": "title"}),
    ("words", {"kind": "call-out"}),
    ("words", {"kind": "lower-third"}),
    ("readings", {"arrange": "side"}),
    ("readings", {"arrange": "stacked"}),
    ("sound", {"parts": "wave", "labels": "number"}),
]
MOVING = ("tab", "neck", "strokes", "readings", "sound", "staff")
SHAPES = ((1728, 480, 1080), (1728, 972, 1080), (900, 700, 1080), (576, 324, 360))


def made(name: str, given: dict[str, Any]) -> Any:
    return view_classes()[name](**(GIVEN.get(name, {}) | given))


def noise(stage: Stage) -> Heard:
    """A recording of seeded noise that lasts as long as the pass, heard at full speed."""
    seconds = float(stage.passes[0].span.length)
    samples = np.random.default_rng(7).normal(0, 0.1, max(2000, int(8000 * seconds))).astype("<f4")
    moments = TimeMap.linear("clip", "scene", F(0), stage.passes[0].span.start, F(1))
    return Heard(f"noise {len(samples)}", 8000, F(0), samples.tobytes(), (moments,))


@cache
def staged(
    fragment: str, width: int = 1728, height: int = 480, frame: int = 1080, look: str = "dusk"
) -> Stage:
    """A stage with everything that some view looks at."""
    written: Fragment = corpus.corpus()[fragment]
    if written.placed and len(written.notes) > 6:
        written = written.but(clues=(ClueMark(3, "slip"), ClueMark(6, "same-pitch", "2", 0.5)))
    bare = corpus.stage_of(written, width, height, frame, look=look)
    rivals = corpus.rivals(written) if written.placed else ()
    return corpus.stage_of(written, width, height, frame, look=look, readings=rivals, heard=noise(bare))


def moments(stage: Stage, count: int = 5) -> list[Fraction]:
    """Moments over the whole scene, its ends included."""
    return [stage.duration * i / (count - 1) for i in range(count)]


every_view = pytest.mark.parametrize(
    ("name", "given"), VARIANTS, ids=lambda v: v if isinstance(v, str) else str(v)
)
every_fragment = pytest.mark.parametrize("fragment", sorted(corpus.corpus()))


@every_fragment
@every_view
def test_everything_stays_in_the_frame_and_is_large_enough(
    name: str, given: dict[str, Any], fragment: str
) -> None:
    stage, view = staged(fragment), made(name, given)
    for t in moments(stage, 4):
        picture = view.picture(stage, t)
        assert (picture.width, picture.height) == (stage.width, stage.height)
        box = picture_ink(picture)
        if box is not None:
            assert min(box.x, box.y) >= -0.6, (t, box)
            assert max(box.right - stage.width, box.bottom - stage.height) <= 0.6, (t, box)
        assert min(reading.sizes_of_text(picture), default=1e9) >= stage.full_height / 30 - 1e-6


@pytest.mark.parametrize("fragment", ["lead line", "every technique", "rake", "nine strings", "unplaced"])
@every_view
def test_the_least_height_is_enough(name: str, given: dict[str, Any], fragment: str) -> None:
    """In a room that is just as high as a view asks, everything stays in it, and no words touch."""
    tall, view = staged(fragment), made(name, given)
    least = math.ceil(view.least_height(tall))
    assert 0 <= least < 972, "a view alone on the frame must fit"
    stage = staged(fragment, height=max(least, 8))
    assert view.least_height(stage) == view.least_height(tall), "the stage's own height plays no part"
    for t in moments(stage, 3):
        picture = view.picture(stage, t)
        box = picture_ink(picture)
        if box is None:
            continue
        assert min(box.x, box.y) >= -0.6, (t, box)
        assert max(box.right - stage.width, box.bottom - stage.height) <= 0.6, (t, box)
    boxes = [box for box in reading.word_boxes(view.picture(stage, stage.duration)) if "mark" not in box[0]]
    assert reading.collisions(boxes) == []


@every_fragment
@every_view
def test_nothing_unknown_is_written_out(name: str, given: dict[str, Any], fragment: str) -> None:
    """A dead note has no fret, a note from MIDI no string: no view says so by the name of nothing."""
    stage, view = staged(fragment), made(name, given)
    for t in moments(stage, 4):
        assert not [mark for mark, _ in reading.texts(view.picture(stage, t)) if "None" in mark.text]


@pytest.mark.parametrize("shape", SHAPES, ids=str)
@every_view
def test_other_rooms_hold_everything_too(
    name: str, given: dict[str, Any], shape: tuple[int, int, int]
) -> None:
    for fragment in ("lead line", "every technique"):
        stage, view = staged(fragment, *shape), made(name, given)
        for t in moments(stage, 3):
            box = picture_ink(view.picture(stage, t))
            if box is not None:
                assert min(box.x, box.y) >= -0.6, (fragment, t, box)
                assert max(box.right - stage.width, box.bottom - stage.height) <= 0.6, (fragment, t, box)


@every_view
def test_a_view_is_pure(name: str, given: dict[str, Any]) -> None:
    first, again = staged("lead line"), staged.__wrapped__("lead line")
    assert first is not again
    for t in moments(first, 4):
        one = made(name, given).picture(first, t)
        assert one == made(name, given).picture(again, t)
        assert hash(one) == hash(made(name, given).picture(first, t))


@every_view
def test_what_stands_still_is_the_same_object(name: str, given: dict[str, Any]) -> None:
    """Film compares layers by identity first: two frames in one note share all but a few."""
    stage, view = staged("lone note"), made(name, given)
    middle = stage.duration / 2
    one, other = view.picture(stage, middle), view.picture(stage, middle + F(1, 60))
    kept = {id(mark) for mark in one.marks} & {id(mark) for mark in other.marks}
    assert len(one.marks) - len(kept) <= 12
    assert (
        all(mark == again for mark, again in zip(one.marks, other.marks, strict=True))
        or len(kept) >= 1
        or (name in ("words", "tab", "footage", "strokes"))
    )


@pytest.mark.parametrize("name", sorted(view_classes()))
def test_every_key_is_documented_and_has_an_example(name: str, checkout: Any) -> None:
    cls = view_classes()[name]
    rows = {line.split()[0] for line in (cls.__doc__ or "").splitlines() if line.strip()}
    assert {field.name.replace("_", "-") for field in fields(cls)} <= rows
    assert (checkout / "scenes" / "views" / f"{name}.yaml").is_file()


@pytest.mark.parametrize("rate", [F(25), F(30000, 1001), F(60)], ids=["25", "29.97", "60"])
@pytest.mark.parametrize("fragment", ["twenty a second", "lead line", "nine-string chords"])
@pytest.mark.parametrize(
    ("name", "given"), [v for v in VARIANTS if v[0] in MOVING and v[1].get("parts") != "wave"], ids=str
)
def test_a_note_is_lit_from_its_onset_to_its_end_and_no_frame_more(
    name: str, given: dict[str, Any], fragment: str, rate: Fraction
) -> None:
    """Worked out here from the notes alone: lit where onset <= t < end, or its string is played again."""
    stage, view = staged(fragment), made(name, given)
    assert stage.fragment is not None
    notes, at = stage.fragment.notes, stage.passes[0].moments
    spans = []
    for i, note in enumerate(notes):
        again = [n.onset for n in notes if n.string == note.string and n.onset > note.onset]
        spans.append((i, at(note.onset), at(min([note.end, *again]))))
    first, last = int(stage.passes[0].span.start * rate) - 2, int(stage.passes[0].span.end * rate) + 3
    seen: set[int] = set()
    frames = range(first, last) if len(notes) < 60 else range(first, first + 100)
    for frame in frames:
        t = F(frame) / rate
        wanted = {i for i, start, end in spans if start <= t < end}
        assert reading.sounding(view.picture(stage, t)) == wanted, t
        seen |= wanted
    if len(frames) > 100:
        assert seen == set(range(len(notes)))


@every_fragment
@pytest.mark.parametrize(
    ("name", "given"),
    [("tab", {}), ("tab", {"rows": 1}), ("sound", {}), ("readings", {}), ("nodes", {}), ("words", {})],
    ids=str,
)
def test_no_words_run_into_each_other(name: str, given: dict[str, Any], fragment: str) -> None:
    """At rest, where no mark stands over another on purpose."""
    stage = staged(fragment)
    view = made(name, given)
    for t in (F(0), stage.duration):
        boxes = reading.word_boxes(view.picture(stage, t))
        boxes = [(name, box) for name, box in boxes if not name.startswith("mark ")]
        assert reading.collisions(boxes) == []


@pytest.mark.parametrize("look", look_names())
@every_view
def test_words_are_written_in_colours_that_were_measured(name: str, given: dict[str, Any], look: str) -> None:
    """The look's own test holds each of these pairs to 4.5:1 (WCAG 2.2, SC 1.4.3)."""
    stage, view = staged("lead line", look=look), made(name, given)
    measured = {stage.look.colour(role) for role, _ in ON_TEXT} | {stage.look.colour("panel")}
    for t in moments(stage, 3):
        for mark, _ in reading.texts(view.picture(stage, t)):
            assert mark.fill in measured, mark


@pytest.mark.parametrize("name", ["tab", "neck", "strokes"])
def test_states_differ_by_shape_and_weight_not_only_by_colour(name: str) -> None:
    stage = staged("lead line")
    picture = made(name, {}).picture(stage, stage.passes[0].span.start)
    lit = [mark for mark, _ in reading.walk(picture.marks) if mark.name == "lit"]
    faces = {mark.face for mark, _ in reading.texts(picture) if mark.name in ("fret 0", "mark 0")}
    assert lit
    assert "black" in faces


def test_a_stage_without_anything_is_an_empty_view() -> None:
    stage = corpus.stage_of(None)
    for name in view_classes():
        assert made(name, {}).picture(stage, F(0)).width == 1728


@pytest.mark.parametrize("look", look_names())
def test_a_spot_stands_out_from_the_loudest_sound(look: str) -> None:
    """3:1 against what lies under the frame (WCAG 2.2, SC 1.4.11), here noise over all frequencies."""
    stage = staged("lead line", look=look)
    picture = made("sound", {"parts": "spectrogram"}).picture(stage, F(0))
    least = mark_contrast(picture, stage.look.colour("ground"), stage.look)
    assert least.value >= 3, least
