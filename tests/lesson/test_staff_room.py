"""A staff over tab beside a neck, arranged as views are where nothing is said: nothing is left out."""

from pathlib import Path

import pytest

from pipeline.drawing.overlap import leaves
from pipeline.drawing.picture import Text
from pipeline.lesson.check import read_checked
from pipeline.lesson.resolve import read_lesson
from pipeline.views.stage import Yielding

SCRIPT = """\
title: Rooms
teacher: Orla Vanterpool
fragments:
  low:
    tempo: 120
    guitar: {strings: A1 E2 A2 D3 G3 B3 E4}
    text: |
      count      1  &  a  2 &  a  3 e & a 4
      strokes    d  d  u  d d  u  d u d u d
      fingers             3       1 3 1 3 1
      A2       |----------------------5-7----|
      E2       |------------------5-7--------|
      A1       |-0_-0_-0_-3-0_-0_---------5!-|
  odd:
    tempo: 150
    meter: 7/8
    text: |
      count      1 2 3 4 5 6 7  1      2   3  4        6
      strokes    d u d u d u d  d      u      d        d
      fingers    1 3 1 3 1 3 4  1   1  4   1  3        3
      B3       |--------------|--------15-p12-15b17r15-15~~-|
      G3       |---------5-7-9|-12-/14----------------------|
      D3       |-----5-7------|-----------------------------|
      A2       |-5-7----------|-----------------------------|
segments:
  - id: one
    title: One
    scenes:
      - {id: low, fragment: low, views: [{show: staff}, {show: neck}]}
      - {id: odd, fragment: odd, views: [{show: staff}, {show: neck}]}
"""
SAID = {"low": ("PM 0", "stroke 0", "finger 3", "mark"), "odd": ("bend 11", "stroke 0", "finger 0", "mark")}
"""Names of words and signs that stand in each scene's picture: of techniques, strokes and fingers."""


@pytest.mark.parametrize("scene", sorted(SAID))
def test_a_staff_beside_a_neck_leaves_nothing_out(scene: str, tmp_path: Path) -> None:
    path = tmp_path / "lesson.yaml"
    path.write_text(SCRIPT, "utf-8")
    assert not read_checked(path).cautions
    (found,) = (one for one in read_lesson(path).segments[0].scenes if one.id == scene)
    for placed in found.composition.placed:
        assert isinstance(placed.view, Yielding)
        assert placed.view.left_out(placed.stage) == ()
    marks = list(leaves(found.picture(found.still_at).marks))
    names = [leaf.mark.name for leaf in marks]
    for said in SAID[scene]:
        assert any(name.startswith(said) for name in names), said
    assert all(leaf.mark.size >= found.height / 30 for leaf in marks if isinstance(leaf.mark, Text))
