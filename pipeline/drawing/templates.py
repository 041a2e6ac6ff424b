"""Where the templates are: inside the installed package, else at the top of the checkout."""

from functools import cache
from importlib.resources import files
from pathlib import Path


@cache
def templates_folder() -> Path:
    """The folder that holds `looks/` and `handouts/`."""
    package = Path(str(files("pipeline")))
    installed = package / "_templates"
    return installed if installed.is_dir() else package.parent / "templates"
