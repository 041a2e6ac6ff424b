"""The script's JSON Schema, made from the same types, so that editors complete and check while one types.

JSON Schema draft 2020-12, pydantic's own dialect. Descriptions come from the types' docstrings; those of
views from the rows of their manuals.
"""

import inspect
import json
import re
from dataclasses import fields
from functools import cache
from typing import Any

from pipeline.lesson.script import Episode
from pipeline.lesson.shown import view_classes, view_keys

_ROW = re.compile(r"([\w-]+) {2,}(.+)")
DIALECT = "https://json-schema.org/draft/2020-12/schema"


def script_schema() -> dict[str, Any]:
    """The schema of a whole script."""
    schema = Episode.model_json_schema(by_alias=True)
    for name, model in view_keys().items():
        described = schema.get("$defs", {}).get(model.__name__)
        if described:
            _describe(described, field_notes(name))
    return {"$schema": DIALECT, **_untitled(schema)}


def schema_text() -> str:
    """The schema as a file's text, the same bytes every time."""
    return json.dumps(script_schema(), indent=1, ensure_ascii=False) + "\n"


@cache
def field_notes(name: str) -> dict[str, str]:
    """What each key of a view means: the rows `field  meaning` of its class's docstring."""
    manual = inspect.cleandoc(view_classes()[name].__doc__ or "")
    names = {field.name.replace("_", "-") for field in fields(view_classes()[name])}
    notes, latest = {}, ""
    for line in manual.splitlines():
        row = _ROW.fullmatch(line)
        if row and row[1].replace("_", "-") in names:
            latest = row[1].replace("_", "-")
            notes[latest] = row[2].strip()
        elif latest and line.startswith("  "):
            notes[latest] += f" {line.strip()}"
        else:
            latest = ""
    return notes


def _describe(schema: dict[str, Any], notes: dict[str, str]) -> None:
    for key, note in notes.items():
        if key in schema["properties"]:
            schema["properties"][key].setdefault("description", note)


def _untitled(schema: Any) -> Any:
    """Without the titles pydantic makes of names: they say nothing, and editors show them first."""
    if isinstance(schema, list):
        return [_untitled(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    return {
        key: _untitled(value)
        for key, value in schema.items()
        if not (key == "title" and isinstance(value, str))
    }
