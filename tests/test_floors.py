"""The shape of the package: imports run down the floors, each folder says what it is and no more."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "pipeline"
FLOORS = ("music", "reasoning", "drawing", "sound", "views files", "lesson", "targets", "cli")
"""From the bottom up; modules of one floor's folders never import a sibling folder of that floor."""
LONE_IMPORTERS = {"svgwrite": 1, "ffmpeg": 1, "yaml": 1}
MODULES = sorted(PACKAGE.rglob("*.py"))


def floor_of(name: str) -> int:
    """The height of a module path below `pipeline`: -1 is the ground."""
    for height, names in enumerate(FLOORS):
        if name in names.split():
            return height
    return -1


def imported(path: Path) -> set[str]:
    """Every module a file imports, at the top or inside functions."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


def top(path: Path) -> str:
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_imports_run_downwards(path: Path) -> None:
    here = top(path)
    for name in imported(path):
        if not name.startswith("pipeline."):
            continue
        there = name.split(".")[1]
        ground = floor_of(there) == floor_of(here) == -1
        allowed = there == here or floor_of(there) < floor_of(here) or ground or here == "__main__"
        assert allowed, f"{path.name} on floor {here} imports {name}"


def test_two_levels_at_most() -> None:
    assert all(len(path.relative_to(PACKAGE).parts) <= 2 for path in MODULES)


@pytest.mark.parametrize("path", [path for path in MODULES if path.name == "__init__.py"], ids=str)
def test_a_folder_says_what_it_is_and_nothing_else(path: Path) -> None:
    body = ast.parse(path.read_text("utf-8")).body
    assert len(body) == 1
    assert ast.get_docstring(ast.parse(path.read_text("utf-8")))


@pytest.mark.parametrize(("library", "count"), LONE_IMPORTERS.items())
def test_a_library_with_traps_has_one_importer(library: str, count: int) -> None:
    users = [path for path in MODULES if any(name.split(".")[0] == library for name in imported(path))]
    assert len(users) == count, [path.name for path in users]


def test_the_clients_five_are_all_at_work() -> None:
    users = set().union(*(imported(path) for path in MODULES))
    assert {"moviepy", "PIL", "svgwrite", "ffmpeg", "yaml"} <= {name.split(".")[0] for name in users}


def test_every_module_says_what_it_is() -> None:
    silent = [path.name for path in MODULES if not ast.get_docstring(ast.parse(path.read_text("utf-8")))]
    assert not silent
