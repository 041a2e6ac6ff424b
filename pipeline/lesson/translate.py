"""Pydantic's findings in plain words: one fault each, with its place in the file and a remedy."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from pipeline.errors import Fault, did_you_mean
from pipeline.lesson.values import shown
from pipeline.source import Source, Step

EXAMPLES = {
    "views": "- show: tab",
    "parts": "- part: practice",
    "speeds": "- 50",
    "spoken": "- text: Listen.",
}
"""An entry of a list that a script often holds."""
TAGS = ("show", "part")
"""Keys that tell the kinds of one list's entries apart."""
Found = Mapping[str, Any]
Finding = tuple[Any, tuple[Step, ...], tuple[str, ...]]
"""What pydantic found, the path in the file that it means, and the keys known where the path ends."""
Wording = tuple[str, str]


def findings_of(error: ValidationError, data: Any, model: type[BaseModel]) -> list[Finding]:
    """Every finding about some data, with its path there and the keys known at its end."""
    return [(found, *_walked(found["loc"], data, model)) for found in error.errors(include_url=False)]


def faults_of(findings: Iterable[Finding], source: Source) -> list[Fault]:
    """Every finding as a fault. A key that is misspelt is not told a second time as missing."""
    findings = list(findings)
    misspelt = {
        (path[:-1], did_you_mean(str(path[-1]), known))
        for found, path, known in findings
        if found["type"] == "extra_forbidden"
    }
    return [
        _fault(found, path, known, source)
        for found, path, known in findings
        if found["type"] != "missing" or (path[:-1], f"did you mean {path[-1]!r}?") not in misspelt
    ]


def _fault(found: Any, path: tuple[Step, ...], known: tuple[str, ...], source: Source) -> Fault:
    kind = found["type"]
    if kind == "extra_forbidden":
        place = source.place(path, key=True)
        return Fault(place, f"unknown key {path[-1]!r}", did_you_mean(str(path[-1]), known))
    wrong, remedy = _wording(kind, found)
    if found["input"] is None and kind != "missing":
        wrong = "nothing is written there"
    if kind == "tuple_type" and path and path[-1] in EXAMPLES:
        remedy += f", such as `{EXAMPLES[str(path[-1])]}`"
    at_key = bool(found["loc"]) and found["loc"][-1] == "[key]"
    return Fault(source.place(path, key=at_key), f"{_name(path, kind)}{wrong}", remedy)


def _name(path: tuple[Step, ...], kind: str) -> str:
    """The key a message is about, so that it can be read without the file."""
    keys = [step for step in path if isinstance(step, str)]
    if kind == "missing" or not keys:
        return ""
    return f"{keys[-1]}: "


def _walked(
    loc: tuple[Step, ...], data: Any, model: type[BaseModel]
) -> tuple[tuple[Step, ...], tuple[str, ...]]:
    """The path in the file that a finding means, and the keys known where it ends.

    Pydantic puts the names of union members and `[key]` into its paths; the file has no such steps.
    """
    path: list[Step] = []
    models: tuple[type[BaseModel], ...] = (model,)
    known: tuple[str, ...] = ()
    for step in loc:
        if len(models) > 1 and isinstance(data, dict) and step in (data.get(tag) for tag in TAGS):
            models = _tagged(models, step) or models
            continue
        inside = isinstance(data, dict) and step in data
        listed = isinstance(data, list) and isinstance(step, int) and step < len(data)
        if not (inside or listed or (step == loc[-1] and isinstance(data, dict))):
            models = _tagged(models, step) or models
            continue
        if _tagged(models, step) and not inside:
            models = _tagged(models, step)
            continue
        path.append(step)
        data = data[step] if inside or listed else None
        known = tuple(alias for one in models for alias in _aliases(one))
        models = tuple(inner for one in models for inner in _below(one, step)) or models
    return tuple(path), known


def _tagged(models: Iterable[type[BaseModel]], step: Step) -> tuple[type[BaseModel], ...]:
    return tuple(model for model in models if step in _tags(model))


def _tags(model: type[BaseModel]) -> tuple[str, ...]:
    annotations = (model.model_fields[tag].annotation for tag in TAGS if tag in model.model_fields)
    return tuple(value for annotation in annotations for value in get_args(annotation))


def _aliases(model: type[BaseModel]) -> tuple[str, ...]:
    return tuple(field.alias or name for name, field in model.model_fields.items())


def _below(model: type[BaseModel], step: Step) -> tuple[type[BaseModel], ...]:
    """The models that the value of a field may be made of."""
    for name, field in model.model_fields.items():
        if step in (field.alias, name):
            return tuple(_models(field.annotation))
    return ()


def _models(annotation: Any) -> Iterable[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


def _wording(kind: str, found: Found) -> Wording:
    if kind in _WORDINGS:
        return _WORDINGS[kind](found)
    if kind.endswith("_type") or kind == "is_instance_of":
        what = kind.removesuffix("_type").replace("_", " ")
        return f"{shown(found['input'])} is no {what}", f"write a {what}"
    return found["msg"][:1].lower() + found["msg"][1:], "see the key's description in the README"


def _told(found: Found) -> Wording:
    return found["ctx"]["wrong"], found["ctx"]["remedy"]


def _literal(found: Found) -> Wording:
    choices = [choice.strip("' ") for choice in found["ctx"]["expected"].replace(" or ", ", ").split(",")]
    return f"{shown(found['input'])} is not known", did_you_mean(str(found["input"]), choices)


def _union(found: Found) -> Wording:
    choices = [choice.strip("' ") for choice in found["ctx"]["expected_tags"].split(",")]
    tag = str(found["ctx"]["tag"])
    key = found["ctx"]["discriminator"].strip("'")
    return f"{key} {tag!r} is not known", did_you_mean(tag, choices)


def _limit(sign: str, bound: str) -> Callable[[Found], Wording]:
    def word(found: Found) -> Wording:
        return f"{shown(found['input'])} is out of range", f"write {sign} {found['ctx'][bound]}"

    return word


_WORDINGS: dict[str, Callable[[Found], Wording]] = {
    "told": _told,
    "missing": lambda found: (f"the key {str(found['loc'][-1])!r} is missing", "add it"),
    "literal_error": _literal,
    "union_tag_invalid": _union,
    "union_tag_not_found": lambda found: (
        f"the entry lacks the key {found['ctx']['discriminator']}",
        f"begin it with {found['ctx']['discriminator'].strip(chr(39))}: and a name",
    ),
    "greater_than_equal": _limit("at least", "ge"),
    "greater_than": _limit("more than", "gt"),
    "less_than_equal": _limit("at most", "le"),
    "less_than": _limit("less than", "lt"),
    "finite_number": lambda found: ("the number is not finite", "write a plain number"),
    "string_type": lambda found: (
        f"{shown(found['input'])} is no text",
        "write a text, in quotes if need be",
    ),
    "int_type": lambda found: (f"{shown(found['input'])} is no whole number", "write one such as 4"),
    "int_from_float": lambda found: (f"{shown(found['input'])} is no whole number", "write one such as 4"),
    "float_type": lambda found: (f"{shown(found['input'])} is no number", "write one such as 1.5"),
    "bool_type": lambda found: (f"{shown(found['input'])} is neither true nor false", "write true or false"),
    "tuple_type": lambda found: (
        f"{shown(found['input'])} is no list",
        "write a list: '- ' before each entry",
    ),
    "dict_type": lambda found: (f"{shown(found['input'])} is no mapping", "write keys with values under it"),
    "model_type": lambda found: (f"{shown(found['input'])} is no mapping", "write keys with values under it"),
    "model_attributes_type": lambda found: (
        f"{shown(found['input'])} is no mapping",
        "write keys with values under it",
    ),
    "too_short": lambda found: ("it is too short", f"give at least {found['ctx']['min_length']}"),
    "too_long": lambda found: ("it is too long", f"give at most {found['ctx']['max_length']}"),
    "string_pattern_mismatch": lambda found: (
        f"{shown(found['input'])} has not the right form",
        f"write it as {found['ctx']['pattern']}",
    ),
}
