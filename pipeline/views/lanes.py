"""The lanes over and under the strings of a strip, and how they share the height of a row.

Nothing here has a colour; y counts from the top of a row.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from pipeline.music.fragment import Fragment
from pipeline.music.note import Note
from pipeline.views.labels import LETTERS


@dataclass(frozen=True)
class Wants:
    """What a strip shows beside the frets."""

    strokes: bool = True
    fingers: bool = True
    rhythm: bool = True
    numbers: bool = True
    tuning: bool = True
    clef: float = 0.0
    """Room in pixels for the clef of a staff that stands over the strip; the staff shows meter, rhythm and
    accents."""
    reaches: tuple[tuple[Fraction, float, float], ...] = ()
    """Pixels that the staff takes to the left and right of what starts at a beat: accidentals, dots."""
    bent: float = 0.0
    """Pixels that each move of a bend takes there."""
    signed: tuple[tuple[int, float], ...] = ()
    """Notes with accidentals there, and how many pixels these reach to the left."""


@dataclass(frozen=True)
class Measures:
    """Sizes of the strip in pixels, and the y of every lane of a system."""

    gap: float
    digit: float
    small: float
    sign: float
    first: float
    strings: int
    height: float
    lanes: tuple[tuple[str, float], ...]
    left_out: tuple[str, ...] = ()
    """Lanes that the room could not hold."""

    def string_y(self, string: int) -> float:
        return self.first + (string - 1) * self.gap

    @property
    def last(self) -> float:
        return self.string_y(self.strings)

    @property
    def middle(self) -> float:
        return (self.first + self.last) / 2

    @cached_property
    def _lane(self) -> dict[str, float]:
        return dict(self.lanes)

    def lane(self, name: str) -> float | None:
        """The middle of a lane, None where the strip has no such lane."""
        return self._lane.get(name)

    @property
    def number_lane(self) -> float:
        """Where bar numbers stand: the lane next to the strings."""
        above = [y for _, y in self.lanes if y < self.first]
        return max(above, default=self.first - self.small)


WORDED: tuple[tuple[str, Callable[[Note], bool]], ...] = (
    ("harmonic", lambda note: note.harmonic is not None),
    ("mute", lambda note: note.palm_mute),
    ("ring", lambda note: note.let_ring),
)
"""What is said in words over the strings; kinds that never come near each other share a lane."""


APART = 3
"""So many columns must lie between words of two kinds in one lane."""


def word_lanes(fragment: Fragment) -> list[list[str]]:
    """The kinds of words over the strings, put together into as few lanes as keep them apart."""
    lanes: list[list[str]] = []
    columns: dict[str, set[int]] = {}
    for kind, holds in WORDED:
        own = {c for c, chord in enumerate(fragment.chords) if any(holds(fragment.notes[i]) for i in chord)}
        columns[kind] = {c + d for c in own for d in range(APART)}
        if not own:
            continue
        free = next((lane for lane in lanes if not any(columns[kind] & columns[k] for k in lane)), None)
        if free is None:
            lanes.append([kind])
        else:
            free.append(kind)
    return lanes


def wanted_lanes(fragment: Fragment, wants: Wants) -> tuple[list[list[str]], list[list[str]]]:
    """The lanes over the strings, from the strings up, and those under them, each with what stands in it."""
    notes = fragment.notes
    above = {
        "bend": any(n.bend for n in notes),
        "attack": any(n.attack in LETTERS or n.tremolo or (wants.strokes and n.stroke) for n in notes),
        "accent": not wants.clef and any(n.accent or n.staccato for n in notes),
    }
    below = {"finger": wants.fingers and any(n.finger is not None for n in notes), "rhythm": wants.rhythm}
    over = [[name] for name, there in above.items() if there] + word_lanes(fragment)
    if not over and wants.numbers:
        over = [["number"]]
    return over, [[name] for name, there in below.items() if there]


LANE_HEIGHTS = {
    "bend": 1.32, "attack": 1.05, "accent": 0.55, "harmonic": 0.88, "mute": 0.88, "ring": 0.88,
    "number": 0.92, "finger": 1.22, "rhythm": 1.92,
}  # fmt: skip
"""Heights in small type sizes."""


EDGE = 0.58
"""Room between the outer strings and the lanes, in string gaps."""


TIGHTEST = 0.8
"""The least string gap, in small type sizes: digits and letters of neighbouring strings stand apart."""


GIVES_WAY = ("rhythm", "finger", "accent", "mute", "ring", "harmonic", "attack", "bend", "number")
"""Which lanes go first where the room cannot hold them all."""


LANE_WORDS = {
    "rhythm": "note values", "finger": "fingers", "accent": "accents", "mute": "palm mutes",
    "ring": "what rings on", "harmonic": "kinds of harmonics", "attack": "strokes and slur letters",
    "bend": "bends", "number": "bar numbers",
}  # fmt: skip
"""What an author knows the lanes as."""


def measure_strip(fragment: Fragment, wants: Wants, room: float, small: float, gap: float, digit: float,
                  ) -> Measures:  # fmt: skip
    """Fit the lanes into `room` pixels: the string gap gives way first, never the words' size.

    `gap` and `digit` are the look's sizes and are not exceeded. Where even the tightest strip is too tall,
    whole lanes are left out in the order of `GIVES_WAY`.
    """
    over, under = wanted_lanes(fragment, wants)
    left_out: list[str] = []
    for name in ("", *GIVES_WAY):
        left_out += [name for lane in over + under if name in lane]
        over = [kept for lane in over if (kept := [k for k in lane if k != name])]
        under = [kept for lane in under if (kept := [k for k in lane if k != name])]
        sizes = _measured(fragment.guitar.string_count, (over, under), room, small, (gap, digit))
        if sizes.height <= room + small * 0.1:
            break
    return replace(sizes, left_out=tuple(left_out))


def full_height(fragment: Fragment, wants: Wants, small: float) -> float:
    """The height in pixels of the tightest strip that leaves no lane out."""
    lanes = wanted_lanes(fragment, wants)
    return _measured(fragment.guitar.string_count, lanes, 0.0, small, (small, small)).height


def _measured(strings: int, lanes: tuple[list[list[str]], list[list[str]]], room: float, small: float,
              most: tuple[float, float]) -> Measures:  # fmt: skip
    over, under = lanes
    heights = small * sum(LANE_HEIGHTS[lane[0]] for lane in over + under)
    gap = max(small * TIGHTEST, min(most[0], (room - heights) / (strings - 1 + 2 * EDGE)))
    digit = max(small, min(most[1], gap * 0.95))
    edge = max(EDGE * gap, digit * 0.45)
    y, places = 0.0, list[tuple[str, float]]()
    for lane in reversed(over):
        places.extend((name, y + LANE_HEIGHTS[lane[0]] * small / 2) for name in lane)
        y += LANE_HEIGHTS[lane[0]] * small
    first = y + edge
    y = first + (strings - 1) * gap + edge
    for lane in under:
        places.extend((name, y + LANE_HEIGHTS[lane[0]] * small / 2) for name in lane)
        y += LANE_HEIGHTS[lane[0]] * small
    return Measures(gap, digit, small, small * 0.86, first, strings, y, tuple(places))
