"""The views a script may show: found in pipeline/views, their fields turned into keys.

A module of pipeline/views is a view if it defines a frozen dataclass with a `picture` method, named after the
module in CamelCase. Its fields are its keys; beside them every view line takes the keys of `ViewKeys`.
"""

import pkgutil
import types
from collections.abc import Callable, Iterable
from dataclasses import MISSING, fields, is_dataclass
from fractions import Fraction
from functools import cache, reduce
from importlib import import_module
from importlib.abc import InspectLoader
from importlib.util import find_spec
from operator import or_
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic import ConfigDict, Field, create_model

from pipeline import views
from pipeline.lesson.values import Exact, Keys, Share, When
from pipeline.views.stage import View

SHARES = {"words": Fraction(2, 5), "strokes": Fraction(3, 4)}
"""The room that views take which need less than others."""


class ViewKeys(Keys):
    """One view of a scene: `show` names it, the other keys are its own."""

    show: str
    """Which view this is."""
    room: Share | None = None
    """How much of the arrangement's space it takes, as a share of what the other views take."""

    over: bool | None = None
    """Whether it lies over the others and takes no room; lower thirds do where nothing is said."""
    since: When | None = None
    """When it comes: a second of the scene, or a moment of the fragment such as `2:3` (in the first pass)."""
    until: When | None = None
    """When it goes; by default it stays to the scene's end."""

    @property
    def lies_over(self) -> bool:
        """Whether it takes no room beside the other views."""
        return getattr(self, "kind", "") == "lower-third" if self.over is None else self.over

    @property
    def share(self) -> float:
        """How much room it takes beside the other views."""
        return float(self.room or SHARES.get(self.show, Fraction(1)))

    def made(self) -> View:
        """The view itself, its fields set from the keys."""
        cls = view_classes()[self.show]
        view: View = cls(**{field.name: getattr(self, field.name) for field in fields(cls)})
        return view


def title_shown(keys: Iterable[ViewKeys]) -> str:
    """The words of the first title among some views, on one line; nothing where there is none."""
    titles = (view for view in keys if view.show == "words" and getattr(view, "kind", "") == "title")
    return " ".join(str(getattr(next(titles, None), "text", "")).split())


class _FoundKeys(ViewKeys):
    """Keys made from a view's fields: there is no source to take their descriptions from."""

    model_config = ConfigDict(use_attribute_docstrings=False)


@cache
def view_classes() -> dict[str, Any]:
    """Every view's class by the name that a script calls it, sorted by name."""
    found = {}
    for module in pkgutil.iter_modules(views.__path__):
        name = f"{views.__name__}.{module.name}"
        spec = find_spec(name)
        source = spec.loader.get_source(name) if spec and isinstance(spec.loader, InspectLoader) else None
        if f"class {class_name(module.name)}" not in (source or ""):
            continue  # what only draws is loaded when it is wanted
        cls = getattr(import_module(name), class_name(module.name), None)
        if isinstance(cls, type) and is_dataclass(cls) and callable(getattr(cls, "picture", None)):
            found[module.name.replace("_", "-")] = cls
    return dict(sorted(found.items()))


def class_name(module: str) -> str:
    """`chord_box` to `ChordBox`."""
    return "".join(part.capitalize() for part in module.split("_"))


@cache
def view_keys() -> dict[str, type[ViewKeys]]:
    """The mapping that each view's line must be."""
    return {name: _keys_of(name, cls) for name, cls in view_classes().items()}


def view_line() -> Any:
    """The type of one entry of `views`: the keys of any view, told apart by `show`."""
    models = tuple(view_keys().values())
    if len(models) < 2:
        return models[0] if models else ViewKeys
    return Annotated[reduce(or_, models), Field(discriminator="show")]


def _keys_of(name: str, cls: Any) -> type[ViewKeys]:
    hints = get_type_hints(cls, include_extras=True)
    own: dict[str, Any] = {"show": (Literal[name], ...)}
    own |= {field.name: (_exact(hints[field.name]), _default(field)) for field in fields(cls)}
    model: type[ViewKeys] = create_model(
        f"{cls.__name__}View", __base__=_FoundKeys, __doc__=cls.__doc__, **own
    )
    return model


def _default(field: Any) -> Any:
    if field.default_factory is not MISSING:
        return Field(default_factory=field.default_factory)
    return ... if field.default is MISSING else field.default


def _exact(hint: Any) -> Any:
    """The same type with every `Fraction` read by its written digits."""
    if hint is Fraction:
        return Exact
    inner = get_args(hint)
    if not inner or get_origin(hint) is Literal:
        return hint
    swapped = tuple(_exact(part) for part in inner)
    if get_origin(hint) in (Union, types.UnionType):
        return reduce(or_, swapped)
    rebuild: Callable[[Any], Any] | None = getattr(get_origin(hint), "__class_getitem__", None)
    return rebuild(swapped) if rebuild else hint
