"""The JSON Schema of a list of notes, made from the table that reads it."""

from typing import Any

from pipeline.music.notekeys import NOTE_KEYS, NoteKey

_NUMBER: dict[str, Any] = {"type": ["number", "string"]}


def note_list_schema() -> dict[str, Any]:
    """The schema of the whole list."""
    note = {
        "type": "object",
        "properties": {key.name: {**_value(key), "description": key.meaning} for key in NOTE_KEYS},
        "required": [key.name for key in NOTE_KEYS if key.default == "needed"],
        "additionalProperties": False,
    }
    return {"type": "array", "items": note}


def _value(key: NoteKey) -> dict[str, Any]:
    match key.kind:
        case "beats":
            return _NUMBER
        case "pitch":
            return {"type": ["string", "integer"]}
        case "number":
            return {"type": ["integer", "null"], "minimum": key.least, "maximum": key.most}
        case "word":
            return {"enum": [*key.words, None]}
        case "flag":
            return {"type": "boolean"}
        case "bend":
            return {
                "type": "array",
                "items": {"type": "array", "items": _NUMBER, "minItems": 2, "maxItems": 2},
            }
        case "harmonic":
            return _harmonic(key)
        case "clues":
            return {"type": "string"}


def _harmonic(key: NoteKey) -> dict[str, Any]:
    parts = {"kind": {"enum": list(key.words)}, "partial": {"type": "integer"}, "touch": _NUMBER}
    return {"type": "object", "properties": parts, "required": ["kind"], "additionalProperties": False}
