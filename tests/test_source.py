"""YAML read safely. The expected values of plain scalars are those of YAML 1.2.2, section 10.2 (JSON schema)
and 10.3 (core schema); where YAML 1.1 differs, the text stays a string."""

import json
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import Faulty, Place
from pipeline.source import DEEPEST, parse_yaml, read_yaml
from pipeline.textfile import MOST_BYTES


def faults(text: str) -> list[str]:
    with pytest.raises(Faulty) as caught:
        parse_yaml(text, "a.yaml")
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize(
    "text",
    [
        *("1:30", "010", "no", "yes", "on", "Off", "y", "~", "=", "2024-01-01", "0x1F", "1_000"),
        *(".5", "+1", ".inf", ".nan", "True", "NULL", "0o17", "1e", "<<", "E2", "30000/1001"),
    ],
)
def test_what_is_not_json_stays_text(text: str) -> None:
    assert parse_yaml(f"a: {text}", "a.yaml").data == {"a": text}


@pytest.mark.parametrize("text", ["1", "0", "-7", "1.5", "-0.25", "1e3", "2E-2", "true", "false", "null"])
def test_plain_json_scalars_mean_what_json_says(text: str) -> None:
    data = parse_yaml(f"a: {text}", "a.yaml").data["a"]
    assert data == json.loads(text)
    assert type(data) is type(json.loads(text))


def test_keys_are_texts_and_empty_values_null() -> None:
    assert parse_yaml("1: 2\nno:\n", "a.yaml").data == {"1": 2, "no": None}


LEAVES = (
    st.none()
    | st.booleans()
    | st.integers(-(10**20), 10**20)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), max_size=8)
)
KEYS = st.sampled_from("abcdef")


@given(
    st.recursive(LEAVES, lambda inner: st.lists(inner) | st.dictionaries(KEYS, inner), max_leaves=12),
)
def test_json_is_read_as_json(data: object) -> None:
    text = json.dumps({"top": data}, ensure_ascii=False)
    assert parse_yaml(text, "a.json").data == json.loads(text)


def test_places_of_keys_and_values() -> None:
    source = parse_yaml("a:\n  - b: 1\n    cc: two\n", "a.yaml")
    assert source.place(("a", 0, "cc")) == Place("a.yaml", 3, 9)
    assert source.place(("a", 0, "cc"), key=True) == Place("a.yaml", 3, 5)
    assert source.place(("a", 0, "missing")) == Place("a.yaml", 2, 5)


def test_places_inside_a_block_text() -> None:
    text = "a:\n  tab: |  # note\n\n      e|-1-\n       B|-x-\n"
    source = parse_yaml(text, "a.yaml")
    rows = source.data["a"]["tab"].split("\n")
    at = source.inside(("a", "tab"))(2, rows[2].index("x"))
    assert text.split("\n")[at.line - 1][at.column - 1] == "x"


def test_places_inside_a_block_text_with_windows_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_bytes(b"tab: |\r\n  one\r\n  twx\r\n")
    source = read_yaml(path, "a.yaml")
    assert source.data == {"tab": "one\ntwx\n"}
    assert source.inside(("tab",))(1, 2) == Place("a.yaml", 3, 5)


def test_places_inside_a_quoted_text() -> None:
    assert parse_yaml("a: 'bcd'", "a.yaml").inside(("a",))(0, 1) == Place("a.yaml", 1, 6)


def test_duplicate_keys_name_both_lines_and_all_are_found() -> None:
    found = faults("a: 1\nb: 2\na: 3\nc:\n  d: 1\n  d: 2\n")
    assert found == [
        "a.yaml:3:1: the key 'a' is given twice, first in line 1; keep one, in line 1 or in line 3",
        "a.yaml:6:3: the key 'd' is given twice, first in line 5; keep one, in line 5 or in line 6",
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a:\n\tb: 1", "a.yaml:2:1: a tab is used for indentation; use spaces"),
        ("a: b: c", "a.yaml:1:5: a colon stands where no key can be;"),
        ("a: 'x\nb: 2", "a.yaml:1:4: a quote is never closed;"),
        ("a: @x", "a.yaml:1:4: a text cannot begin with '@'; put it in quotes"),
        ("a: *x", "a.yaml:1:4: no anchor is called 'x';"),
        ("a: &x [*x]", "a.yaml:1:8: the alias 'x' stands inside itself;"),
        ("a: 1\n---\nb: 2", "a.yaml:2:1: a second document begins here;"),
        ("a: !!python/object:os.system x", "a.yaml:1:4: the tag 'tag:yaml.org,2002:python/object:os.system'"),
        ("? [1]\n: 2", "a.yaml:1:3: a key must be a plain word;"),
        ("a: 1e999", "a.yaml:1:4: the number is too large;"),
        ("a: " + "1" * 5000, "a.yaml:1:4: the number is too long;"),
        ("a: x\x07y", "a.yaml:1:5: an invisible character (U+0007) stands here; remove it"),
        ('a: "x\\x07y"', "a.yaml:1:4: an invisible character (U+0007) is written; remove it"),
        ("", "a.yaml: the file is empty;"),
        ("a: [1\nb: 2", "a.yaml:2:2: a '[' list is not closed;"),
    ],
)
def test_one_clear_fault(text: str, expected: str) -> None:
    (found,) = faults(text)
    assert found.startswith(expected)


@pytest.mark.parametrize("text", ["[" * 100_000, "- " * 5000 + "x", "a: " + "{b: " * 900 + "1" + "}" * 900])
def test_deep_nesting_is_one_fault(text: str) -> None:
    (found,) = faults(text)
    assert "nested too deeply" in found
    assert str(DEEPEST) in found


def test_alias_bombs_are_one_fault() -> None:
    wide = "a0: &a0 [x]\n" + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]\n" for n in range(1, 9))
    deep = "a0: &a0 [x]\n" + "".join(f"a{n}: &a{n} [*a{n - 1}]\n" for n in range(1, 200))
    assert "too many values" in faults(wide)[0]
    assert "nested too deeply" in faults(deep)[0]


def test_aliases_share_their_value() -> None:
    assert parse_yaml("a: &x [1, 2]\nb: *x", "a.yaml").data == {"a": [1, 2], "b": [1, 2]}


def test_bytes_that_are_no_utf8(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_bytes(b"a: 1\nb: caf\xe9\n")
    with pytest.raises(Faulty, match=r"a\.yaml:2:7: the text is not UTF-8; save the file as UTF-8"):
        read_yaml(path)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(Faulty, match="there is no such file"):
        read_yaml(tmp_path / "none.yaml")
    with pytest.raises(Faulty, match="this is a folder"):
        read_yaml(tmp_path)
    large = tmp_path / "large.yaml"
    with large.open("wb") as file:
        file.truncate(MOST_BYTES + 1)
    with pytest.raises(Faulty, match="too large"):
        read_yaml(large)
    os.mkfifo(tmp_path / "pipe.yaml")
    for endless in (Path("/dev/zero"), tmp_path / "pipe.yaml"):
        with pytest.raises(Faulty, match="a device or a pipe"):
            read_yaml(endless)
