"""A fault of form hides nothing else, and draws no other fault after it."""

import copy
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from pipeline.errors import Fault, Faulty
from pipeline.lesson.check import read_checked
from pipeline.source import Step, read_yaml

DATA = Path(__file__).parent / "data"
Changed = Callable[..., list[str]]
OF_FORM = ("show: tab\n", "show: tap\n")
NO_OTHER = {("fragments", "climb"), ("clips", "climb")}
"""Names that stay, since who drops them breaks every line that names them."""


def test_faults_of_form_and_of_sense_come_together(changed: Changed) -> None:
    found = changed(
        OF_FORM,
        ("look: dusk", "look: dust"),
        ("file: climb.wav", "file: ../x.wav"),
        ("5-7-8-|", "5-7-99|"),
        ("paper: [a4]", "paper: [a5]"),
        ("scene: whole, at: 1:3", "scene: hole, at: 1:3"),
        ("teacher: Ida Marrow\n", ""),
        ("notes: 1-4", "notes: 1-4\n        notes: 1-4"),
    )
    words = (
        "the key 'teacher' is missing",
        "did you mean 'dusk'",
        "leaves the lesson's folder",
        "fret 99",
        "did you mean 'tab'",
        "'notes' is given twice",
        "'a5' is not known",
        "did you mean 'whole'",
    )
    assert len(found) == len(words)
    for line, word in zip(found, words, strict=True):
        assert word in line


def test_a_misspelt_key_is_told_once(changed: Changed) -> None:
    """What follows from the key it was meant to be (no marks, so no beats) is not told."""
    (found,) = changed(("marks:", "mark:"))
    assert "did you mean 'marks'" in found


def test_what_hangs_on_a_faulty_value_is_not_judged(changed: Changed) -> None:
    (found,) = changed(("strings: E2 A2 D3 G3 B3 E4", "strings: E2 A2"))
    assert "is no tuning" in found


def test_an_entry_that_cannot_be_read_keeps_its_neighbours_places(changed: Changed) -> None:
    found = changed(
        ("          - Watch the third beat.\n", "          - 7\n"), ("notes: 1-4", "notes: 40-41")
    )
    assert [line.split(":")[1] for line in found] == ["40", "59"]


def paths(data: Any, path: tuple[Step, ...] = ()) -> Iterator[tuple[Step, ...]]:
    if path and path not in NO_OTHER:
        yield path
    if isinstance(data, dict):
        for key, value in data.items():
            yield from paths(value, (*path, key))
    elif isinstance(data, list):
        for index, value in enumerate(data):
            yield from paths(value, (*path, index))


WHOLE = read_yaml(DATA / "short.yaml").data


@pytest.mark.parametrize("path", list(paths(WHOLE)), ids=lambda path: ".".join(map(str, path)))
def test_one_value_of_the_wrong_kind_is_one_fault(short: Path, path: tuple[Step, ...]) -> None:
    """Any value of the script in turn: its own fault is told, and no line elsewhere is blamed for it."""
    data = copy.deepcopy(WHOLE)
    holder = data
    for step in path[:-1]:
        holder = holder[step]
    holder[path[-1]] = True
    assert len(faults_in(short, data)) <= 1


def faults_in(script: Path, data: Any) -> tuple[Fault, ...]:
    script.write_text(json.dumps(data, indent=1), "utf-8")
    try:
        read_checked(script)
    except Faulty as error:
        return error.faults
    return ()
