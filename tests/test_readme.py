"""The README is held to the code: its commands, its keys, its examples and its pictures."""

import re
from pathlib import Path

import pytest

from pipeline.errors import Place
from pipeline.lesson.keytables import key_tables
from pipeline.lesson.script import episode_of
from pipeline.lesson.shown import view_classes
from pipeline.music.guitar import Guitar
from pipeline.music.tabtext import print_tab, read_tab
from pipeline.source import parse_yaml


@pytest.fixture(scope="module")
def readme(checkout: Path) -> str:
    return (checkout / "README.md").read_text("utf-8")


@pytest.mark.parametrize("heading", ["Run it", "Test it"])
def test_a_heading_has_one_block_with_one_command(readme: str, heading: str) -> None:
    part = readme.split(f"\n## {heading}\n")[1].split("\n## ")[0]
    blocks = re.findall(r"```\n(.*?)```", part, re.DOTALL)
    assert len(blocks) == 1
    assert len(blocks[0].strip().splitlines()) == 1


def test_the_tables_of_keys_are_the_programs_own(readme: str) -> None:
    inside = readme.split("prints these tables -->")[1].split("<!-- end of keys")[0]
    assert inside.strip() == key_tables().strip(), "put what `fretscene keys` prints between the marks"


def test_no_key_is_left_unexplained() -> None:
    rows = [line.split(" | ") for line in key_tables().splitlines() if line.startswith("| `")]
    assert len(rows) > 100
    assert not [row[0] for row in rows if not row[1].strip()]


def test_every_view_has_an_example(checkout: Path) -> None:
    examples = {path.stem for path in (checkout / "scenes" / "views").glob("*.yaml")}
    assert examples == set(view_classes())


def test_the_example_script_can_be_read(readme: str) -> None:
    text = re.findall(r"```yaml\n(.*?)```", readme, re.DOTALL)[0]
    episode = episode_of(parse_yaml(text, "README.md"))
    assert episode.segments[0].scenes[0].id == "run-slow"


def test_the_example_of_tab_text_can_be_read_and_printed(readme: str) -> None:
    blocks = re.findall(r"```\n(count.*?)```", readme, re.DOTALL)
    fragment = read_tab("readme", blocks[0], Guitar(), lambda row, column: Place("README.md", row, column))
    again = read_tab("readme", print_tab(fragment), Guitar(), lambda row, column: Place("again", row, column))
    assert again == fragment
    durations = {note.duration for note in fragment.notes}
    assert {duration.denominator for duration in durations} >= {5}, "five notes between 1 and 2"


def test_its_pictures_are_there(readme: str, checkout: Path) -> None:
    for name in re.findall(r"!\[[^\]]+\]\(([^)]+)\)", readme):
        assert (checkout / name).is_file(), name
