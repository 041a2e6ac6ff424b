"""A lesson of three short scenes in two segments: played, dissolved into, and words alone."""

from pathlib import Path

import pytest

HEAD = """
title: Outputs
teacher: Nobody
frame: {size: 320x180, rate: 25}
fragments:
  run:
    tempo: 240
    text: |
      count   1 2 3 4
           1|-1-3-5-3-|
           2|---------|
"""
"""A passage of four notes on a small frame."""
TAKE = """\
clips:
  take: {file: take.wav, rights: made here, marks: {1:1: 0.2, 1:3: 0.7}}
"""
"""A recording of its first and third note."""
SCRIPT = (
    HEAD
    + """\
segments:
  - id: first
    title: First
    scenes:
      - {id: one, fragment: run, views: [{show: tab}], spoken: Four notes.}
      - id: two
        duration: 0.4
        views: [{show: words, text: two}]
        transition: {kind: dissolve, lasting: 0.2}
  - id: second
    title: Second
    scenes:
      - {id: three, duration: 0.4, views: [{show: words, text: three}]}
"""
)


@pytest.fixture
def script(tmp_path: Path) -> Path:
    path = tmp_path / "lesson.yaml"
    path.write_text(SCRIPT, "utf-8")
    return path
