"""A new lesson folder that builds: one script with an invented phrase, ready to be changed."""

import json
from pathlib import Path

from pipeline.errors import Place, faulty

SCRIPT = "lesson.yaml"
NOTES = "README.md"
_TEMPLATE = """\
# A lesson: segments of scenes. Change anything, then run: fretscene check lesson.yaml
title: {title}
teacher: Your name
language: en
frame: {{size: 1920x1080, rate: 25}}
look: dusk
guitar: {{strings: E2 A2 D3 G3 B3 E4, frets: 24}}

# What scenes do where they say nothing else.
count-in: 4
lead: 0.5
tail: 1.5

fragments:
  phrase:
    tempo: 100
    text: |
      count     1  e  &  a  2  e  &  a  3  e  &  a  4     &       1
      strokes   d     u  d  u  d     u     d     u  d     u       d
      fingers   1  3  1  4  1  4  1  4  1  3  1  3  1     4       4
      E4      |-------------5--8-p5-----------------------------|-8~-----|
      B3      |-------5--8-----------8-p5-----------5-----8-----|--------|
      G3      |-5-h7-----------------------7-p5--7--------------|--------|

segments:
  - id: one
    title: {title}
    scenes:
      - id: opening
        duration: 4
        views:
          - {{show: words, kind: title, text: {title}, heading: A first lesson}}
      - id: phrase
        title: The phrase, then at half speed
        fragment: phrase
        speeds: [100, 50]
        spoken: Listen once, then watch it at half speed.
        views:
          - show: tab
          - show: neck

handout:
  parts:
    - {{part: words, text: Play it slowly and without strain; stop when anything hurts.}}
    - {{part: fragment, fragment: phrase}}
    - {{part: positions, fragment: phrase}}
    - {{part: practice, fragment: phrase, minutes: 10}}
    - {{part: cautions}}
    - {{part: credits}}
"""
_NOTES = """\
# {name}

A lesson made with fretscene. `fretscene check {script}` looks for mistakes; `fretscene build {script}` makes
the films, sounds and handouts.
"""


def start(folder: Path, name: str) -> tuple[Path, ...]:
    """Write a new lesson called `name` into a folder, and return the files. Raises Faulty.

    A folder that holds anything is refused, so nothing is ever overwritten.
    """
    if not name.strip() or not name.isprintable():
        raise faulty(Place("name"), "the lesson's name is empty or has hidden signs", "give it a plain name")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise faulty(Place(str(folder)), "the folder is not empty", "name a new folder")
        title = json.dumps(name.strip(), ensure_ascii=False)
        return (
            _write(folder / SCRIPT, _TEMPLATE.format(title=title)),
            _write(folder / NOTES, _NOTES.format(name=name.strip(), script=SCRIPT)),
        )
    except OSError as error:
        wrong = f"the folder cannot be written ({error.strerror})"
        raise faulty(Place(str(folder)), wrong, "choose another") from None


def _write(path: Path, text: str) -> Path:
    with path.open("x", encoding="utf-8") as file:
        file.write(text)
    return path
