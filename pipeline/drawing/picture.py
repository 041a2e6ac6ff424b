"""A picture as data: a size and an immutable tuple of four kinds of mark.

Coordinates are pixels (points on paper) from the top left, y downwards. Marks are hashable and compare by
value. The marks directly under a `Picture` are its layers: backends for film redraw only the layers that
differ from one frame to the next, so a view makes what stands still into a few groups and keeps each moving
thing a layer of its own, moved by its group's transform.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, NamedTuple


class Colour(NamedTuple):
    """sRGB with straight alpha, each 0 to 255."""

    red: int
    green: int
    blue: int
    alpha: int = 255

    @classmethod
    def parse(cls, text: str) -> "Colour":
        """Read `#rrggbb` or `#rrggbbaa`. Raises ValueError."""
        digits = text.removeprefix("#")
        if len(digits) not in (6, 8):
            raise ValueError(f"{text!r} is no colour such as #20252b")
        return cls(*bytes.fromhex(digits))

    def with_alpha(self, share: float) -> "Colour":
        """The same colour at a share (0 to 1) of its alpha."""
        return self._replace(alpha=round(self.alpha * share))

    @property
    def hex(self) -> str:
        return f"#{self.red:02x}{self.green:02x}{self.blue:02x}"


class Box(NamedTuple):
    """A rectangle: left, top, width, height."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.x + self.width

    @property
    def bottom(self) -> float:
        return self.y + self.height

    @property
    def centre(self) -> tuple[float, float]:
        return self.x + self.width / 2, self.y + self.height / 2

    def inset(self, by: float) -> "Box":
        return Box(self.x + by, self.y + by, self.width - 2 * by, self.height - 2 * by)

    def meets(self, other: "Box") -> bool:
        """Whether the two rectangles overlap by more than an edge."""
        return (
            self.x < other.right and other.x < self.right and self.y < other.bottom and other.y < self.bottom
        )

    def union(self, other: "Box") -> "Box":
        x, y = min(self.x, other.x), min(self.y, other.y)
        return Box(x, y, max(self.right, other.right) - x, max(self.bottom, other.bottom) - y)


Segment = tuple[Literal["M", "L", "C", "Z"], tuple[float, ...]]
"""Move (x, y), line (x, y), cubic (x1, y1, x2, y2, x, y), close ()."""
Outline = tuple[Segment, ...]


MITRE = 1.5
"""Lines with flat ends have sharp corners up to a right angle; sharper ones are bevelled."""


@dataclass(frozen=True)
class Stroke:
    """How a line is drawn: colour, width, round or flat ends (and corners), dash lengths."""

    colour: Colour
    width: float
    round_ends: bool = True
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Path:
    """A filled and/or stroked outline (non-zero winding). `name` says what it is, for tests and readers."""

    outline: Outline
    fill: Colour | None = None
    stroke: Stroke | None = None
    name: str = ""


@dataclass(frozen=True)
class Text:
    """One line of text with its baseline at (x, y). `face` names a typeface of the look, e.g. `bold`."""

    x: float
    y: float
    text: str
    size: float
    fill: Colour
    face: str = "regular"
    anchor: Literal["start", "middle", "end"] = "start"
    name: str = ""


@dataclass(frozen=True)
class Pixels:
    """Straight RGBA bytes, row by row, with a digest so that hashing stays cheap."""

    width: int
    height: int
    digest: str
    data: bytes = field(repr=False, compare=False, hash=False)


@dataclass(frozen=True)
class Image:
    """Pixels laid into a box."""

    box: Box
    pixels: Pixels
    name: str = ""


Affine = tuple[float, float, float, float, float, float]
"""a b c d e f as in SVG: x' = a x + c y + e, y' = b x + d y + f."""
IDENTITY: Affine = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


@dataclass(frozen=True, eq=False)
class Group:
    """Marks under one transform and opacity, cut to `clip` (in the parent's coordinates) where given.

    The hash is made once, when it is first asked for: groups of thousands of marks are compared at every
    frame, and most comparisons end at the first mark that is the very same object.
    """

    marks: tuple["Mark", ...]
    transform: Affine = IDENTITY
    opacity: float = 1.0
    clip: Box | None = None
    name: str = ""

    @cached_property
    def _hash(self) -> int:
        return hash((self.marks, self.transform, self.opacity, self.clip, self.name))

    def __hash__(self) -> int:
        return self._hash

    def __getstate__(self) -> dict[str, object]:
        """The fields without the hash: strings hash otherwise in another process."""
        return {name: value for name, value in self.__dict__.items() if name != "_hash"}

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        if not isinstance(other, Group):
            return False
        mine, theirs = self.__dict__.get("_hash"), other.__dict__.get("_hash")
        if mine is not None and theirs is not None and mine != theirs:
            return False
        return (self.transform, self.opacity, self.clip, self.name) == (
            other.transform,
            other.opacity,
            other.clip,
            other.name,
        ) and (self.marks is other.marks or self.marks == other.marks)

    def moved(self, dx: float, dy: float) -> "Group":
        """The same group shifted in its parent."""
        a, b, c, d, e, f = self.transform
        return Group(self.marks, (a, b, c, d, e + dx, f + dy), self.opacity, self.clip, self.name)


Mark = Group | Path | Text | Image


@dataclass(frozen=True)
class Picture:
    """A finished picture; where `background` is None the ground is transparent."""

    width: float
    height: float
    marks: tuple[Mark, ...]
    background: Colour | None = None


def translate(marks: Iterable[Mark], dx: float, dy: float, name: str = "") -> Group:
    """A group of marks moved by (dx, dy)."""
    return Group(tuple(marks), (1.0, 0.0, 0.0, 1.0, float(dx), float(dy)), name=name)
