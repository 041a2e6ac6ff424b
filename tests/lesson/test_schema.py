"""The script's JSON Schema agrees with the types. The validator is an independent one: the `jsonschema`
package, JSON Schema draft 2020-12 (json-schema.org/draft/2020-12)."""

from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from pipeline.lesson.schema import field_notes, schema_text, script_schema
from pipeline.lesson.shown import view_classes
from pipeline.source import parse_yaml

ROOT = Path(__file__).parents[2]
EXAMPLES = [Path(__file__).parent / "data" / "short.yaml", *sorted((ROOT / "scenes").rglob("*.yaml"))]
VALIDATOR = Draft202012Validator(script_schema())


def plain(text: str) -> Any:
    return parse_yaml(text, "lesson.yaml").data


def test_the_schema_is_one() -> None:
    Draft202012Validator.check_schema(script_schema())
    assert schema_text() == schema_text()


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_are_valid(path: Path) -> None:
    assert not [error.message for error in VALIDATOR.iter_errors(plain(path.read_text("utf-8")))]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("title: A Short Climb", "titel: A Short Climb"),
        ("frame: {size: 1280x720", "frame: {size: big"),
        ("frets: 22", "frets: many"),
        ("show: tab", "show: nothing"),
        ("strip: scrolling", "strip: rolling"),
        ("speeds: [100, 50, 25]", "speeds: [200]"),
        ("paper: [a4]", "paper: [napkin]"),
        ("part: cautions", "part: jokes"),
        ("rights: made for the tests", "gain: 0"),
    ],
)
def test_broken_examples_are_not(old: str, new: str) -> None:
    text = EXAMPLES[0].read_text("utf-8")
    assert old in text
    assert not VALIDATOR.is_valid(plain(text.replace(old, new, 1)))


@pytest.mark.parametrize("name", view_classes())
def test_every_key_of_a_view_is_described(name: str) -> None:
    keys = {key.replace("_", "-") for key in view_classes()[name].__dataclass_fields__}
    assert keys == set(field_notes(name))


def test_every_key_of_the_script_is_described() -> None:
    schema = script_schema()
    kinds = {"Episode": schema, **schema["$defs"]}
    silent = [
        f"{kind}.{key}"
        for kind, keys in kinds.items()
        for key, value in keys.get("properties", {}).items()
        if "description" not in value and not (key == "show" and kind.endswith("View"))
    ]
    assert not silent


def test_lists_that_may_not_be_empty_say_so() -> None:
    kinds = script_schema()["$defs"]
    assert script_schema()["properties"]["segments"]["minItems"] == 1
    for kind, key in (("SegmentKeys", "scenes"), ("SceneKeys", "views"), ("HandoutKeys", "parts")):
        assert kinds[kind]["properties"][key]["minItems"] == 1


LIST = """title: A
teacher: B
fragments:
  run: {notes: [{onset: 0, string: 2, fret: 5, palm-mute: true, bend: [[0, 0], [1/2, 2]], clues: s?6}]}
segments: [{id: a, title: A, scenes: [{id: b, fragment: run, views: [{show: tab}]}]}]
"""


@pytest.mark.parametrize(
    "wrong", ["palm_mute: true", "fret: five", "bend: 2", "harmonic: natural", "finger: 7"]
)
def test_a_list_of_notes_is_in_the_schema(wrong: str) -> None:
    assert VALIDATOR.is_valid(plain(LIST))
    broken = LIST.replace("string: 2, fret: 5, palm-mute: true, bend: [[0, 0], [1/2, 2]]", wrong)
    assert not VALIDATOR.is_valid(plain(broken))


def test_every_key_of_a_note_is_described() -> None:
    form = script_schema()["$defs"]["FragmentKeys"]["properties"]["notes"]["anyOf"][0]["items"]
    assert form["required"] == ["onset"]
    assert all(key["description"] for key in form["properties"].values())
