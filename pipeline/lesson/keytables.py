"""Every key of a script and of every view as tables in Markdown, made from the types that read it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pipeline.lesson import material, paper, script
from pipeline.lesson.schema import field_notes
from pipeline.lesson.shown import ViewKeys, view_classes, view_keys
from pipeline.music.notekeys import NOTE_KEYS

SECTIONS: tuple[tuple[str, Any], ...] = (
    (
        "Keys that flow down, from the episode to its segments and from a segment to its scenes",
        script.PlayingKeys,
    ),
    ("An episode", script.Episode),
    ("A segment", script.SegmentKeys),
    ("A scene", script.SceneKeys),
    ("`frame`", material.FrameKeys),
    ("`guitar`", material.GuitarKeys),
    ("A clip", material.ClipKeys),
    ("A fragment", material.FragmentKeys),
    ("A note in a fragment's `notes`", NOTE_KEYS),
    ("`transition`", script.TransitionKeys),
    ("`poster`", script.PosterKeys),
    ("A hold", script.HoldKeys),
    ("A zoom", script.ZoomKeys),
    ("`footage`", material.FootageKeys),
    ("`voice`", material.VoiceKeys),
    ("`spoken`", material.SpokenKeys),
    ("`handout`", paper.HandoutKeys),
    ("Handout part `words`", paper.WordsPart),
    ("Handout part `fragment`", paper.FragmentPart),
    ("Handout part `positions`", paper.PositionsPart),
    ("Handout part `still`", paper.StillPart),
    ("Handout part `practice`", paper.PracticePart),
    ("Handout part `reasons`", paper.ReasonsPart),
    ("Handout part `signs`", paper.SignsPart),
    ("Handout parts `cautions` and `credits`", paper.FixedPart),
)
FLOWING = set(script.PlayingKeys.model_fields)


@dataclass(frozen=True)
class Row:
    """A key, what it means, and what it is where it is not given."""

    key: str
    meaning: str
    default: str

    def __str__(self) -> str:
        cells = (f"`{self.key}`", self.meaning, self.default)
        return "| " + " | ".join(" ".join(cell.split()).replace("|", "\\|") for cell in cells) + " |"


def key_tables() -> str:
    """All tables, a heading over each."""
    return "\n".join(_lines())


def _lines() -> Iterator[str]:
    for title, model in SECTIONS:
        yield from _table(title, list(_rows(model)))
    for name, cls in view_classes().items():
        says = str(cls.__doc__ or "").strip().splitlines()[0]
        yield from _table(f"View `{name}`: {says}", list(_view_rows(name)))


def _table(title: str, rows: list[Row]) -> Iterator[str]:
    yield f"**{title}**\n"
    if rows:
        yield "| key | meaning | default |"
        yield "|---|---|---|"
        yield from map(str, rows)
    else:
        yield "No keys."
    yield ""


def _rows(model: Any) -> Iterator[Row]:
    if model is NOTE_KEYS:
        yield from (Row(key.name, key.meaning, key.default) for key in NOTE_KEYS)
        return
    inherited = (
        FLOWING if model is not script.PlayingKeys and issubclass(model, script.PlayingKeys) else set()
    )
    for name, field in model.model_fields.items():
        if name not in inherited and name != "part":
            yield Row(field.alias or name, field.description or "", _default(name, field))


def _view_rows(name: str) -> Iterator[Row]:
    notes, fields = field_notes(name), view_keys()[name].model_fields
    for key, field in fields.items():
        if key not in ViewKeys.model_fields:
            alias = field.alias or key
            yield Row(alias, notes.get(alias, field.description or ""), _default("", field))


def _default(name: str, field: Any) -> str:
    if field.is_required():
        return "needed"
    value = script.DEFAULTS.get(name, field.default)
    if name == "speeds" and name in script.DEFAULTS:
        return "100"
    if isinstance(value, bool):
        return "true" if value else "false"
    plain = isinstance(value, str | int | float) or type(value).__name__ == "Fraction"
    return str(value) if plain else ""
