"""The clues that can stand in a fragment's text: their signs, kinds and values.

A clue says what was heard (or seen) of a note that limits where and how it was played. What each kind
costs and which readings it rules out belongs to the reasoning floor.
"""

from dataclasses import dataclass

HARD, SOFT = 1.0, 0.5


@dataclass(frozen=True)
class ClueKind:
    """A kind of clue, the one-character sign that stands for it, and what a value after it means."""

    sign: str
    kind: str
    meaning: str
    value: str = ""


KINDS = (
    ClueKind("s", "slurred", "no stroke is heard: the note lies on the string of the note before"),
    ClueKind("/", "slide", "one finger slid along one string from the note before"),
    ClueKind("z", "slip", "a short slide is heard before a repeated note: the hand shifted"),
    ClueKind("o", "open", "an open string is heard"),
    ClueKind("=", "same-pitch", "the pitch before is repeated in another tone: on another string", "string"),
    ClueKind("b", "bend", "the note is bent, so that a finger that can bend holds it"),
    ClueKind("n", "natural", "a natural harmonic is heard", "partial"),
    ClueKind("p", "pinched", "a pinch harmonic is heard", "partial"),
    ClueKind("d", "down", "a downstroke is heard"),
    ClueKind("u", "up", "an upstroke is heard"),
    ClueKind("x", "noise", "a noise of the string or the hand tells of a shift or a damped string", "string"),
    ClueKind("@", "seen", "the hand was seen at a position", "fret"),
)

CLUE_SIGNS: dict[str, str] = {clue.sign: clue.kind for clue in KINDS}
"""Sign to kind."""

SIGN_OF: dict[str, str] = {clue.kind: clue.sign for clue in KINDS}
"""Kind to sign."""
