"""The named costs of a reading: what each counts, in which unit, and its hand-set weight.

A reading costs the sum over its notes of weight times count. Counts are whole numbers and weights are
rounded to millionths, so totals are exact integers: two readings never change places through rounding.
The order of `CAUSES` is the order of the columns of every count table.
"""

from dataclasses import dataclass

SCALE = 1_000_000
"""Integer cost units in a cost of 1."""
HARD = 10**12
"""What breaking a hard clue costs, in integer units: more than any reading of 10,000 notes."""


@dataclass(frozen=True)
class Cause:
    """One named cost. `words` explains a count of it, `{n}` standing for the count."""

    name: str
    unit: str
    weight: float
    meaning: str
    words: str


CAUSES: tuple[Cause, ...] = (
    Cause("low_hand", "mm", 0.002, "hand nearer the nut than the home region", "hand {n} mm below home"),
    Cause("high_hand", "mm", 0.0025, "hand nearer the body than the home region", "hand {n} mm above home"),
    Cause("open_string", "note", 1.5, "an open string", "open string"),
    Cause("stretch", "mm", 0.04, "a finger reaches beyond its own fret", "finger stretched by {n} mm"),
    Cause("ring_finger", "note", 0.02, "the ring finger plays", "ring finger"),
    Cause("little_finger", "note", 0.08, "the little finger plays", "little finger"),
    Cause(
        "thick_string",
        "string",
        0.14,
        "strings passed over from the thinnest",
        "{n} strings from the thinnest",
    ),
    Cause("chord_span", "mm", 0.04, "a grip wider than is comfortable", "grip {n} mm wider than comfortable"),
    Cause("barre", "grip", 0.5, "one finger holds several strings", "barre"),
    Cause("chord_gap", "string", 0.4, "a silent string inside a grip", "{n} silent strings in the grip"),
    Cause("chord_finger", "finger", 0.15, "each finger a grip needs", "{n} fingers down"),
    Cause("bend_finger", "note", 1.0, "a bend by the index or little finger", "bend by a weak finger"),
    Cause(
        "bend_room",
        "note",
        1.0,
        "a bend below the third fret or on a thick string",
        "little room for the bend",
    ),
    Cause("shift", "shift", 1.5, "the hand leaves its position", "shift"),
    Cause("shift_length", "mm", 0.022, "how far the hand moves", "shift of {n} mm"),
    Cause("shift_speed", "mm/s", 0.0013, "how fast the hand must move", "at {n} mm a second"),
    Cause(
        "free_shift",
        "shift",
        0.8,
        "a shift in a rest or under an open string",
        "shift while the hand is free",
    ),
    Cause("walk", "note", 0.5, "one finger walks along its string", "same finger along the string"),
    Cause("roll", "note", 0.5, "one finger rolls over to another string", "finger rolls to another string"),
    Cause("jump", "note", 1.0, "one finger jumps to another string and fret", "same finger jumps"),
    Cause("crossed", "note", 1.0, "fingers in the wrong order", "fingers cross"),
    Cause(
        "spread", "mm", 0.03, "two notes further apart than the hand spans", "{n} mm beyond the hand's span"
    ),
    Cause("cross_string", "note", 0.25, "a change of string", "change of string"),
    Cause("skip_string", "string", 0.45, "strings skipped in a change", "{n} strings skipped"),
    Cause("moved_repeat", "note", 1.7, "a repeated pitch moves to another place", "repeated pitch moves"),
    Cause(
        "changed_finger", "note", 0.4, "another finger takes the same place", "fingers change on one place"
    ),
    Cause("slide_length", "mm", 0.004, "how far a slide travels", "slide of {n} mm"),
    Cause(
        "over_neck",
        "mm",
        0.003,
        "the picking hand moves over the neck to tap, or back, between notes that follow at once",
        "picking hand {n} mm over the neck",
    ),
    Cause("inside", "change", 0.04, "the stroke crosses between the two strings", "crosses inside"),
    Cause("outside", "change", 0.02, "the stroke crosses around the two strings", "crosses outside"),
    Cause("economy", "change", 1.5, "the stroke goes on in one direction", "one stroke through two strings"),
    Cause("repeated_stroke", "note", 2.5, "a stroke twice in one direction", "stroke repeated"),
    Cause("pinch_upstroke", "note", 1.0, "a pinch harmonic on an upstroke", "pinch harmonic on an upstroke"),
    Cause("upstroke_start", "phrase", 0.3, "a phrase begins with an upstroke", "begins with an upstroke"),
    Cause("unheard_slur", "note", 3.0, "a note is taken as slurred, unheard", "slur not heard"),
    Cause("clue", "clue", 6.0, "a soft clue is broken, times its strength", "clue broken"),
)

NAMES: tuple[str, ...] = tuple(cause.name for cause in CAUSES)
COUNT = len(CAUSES)
INDEX: dict[str, int] = {name: index for index, name in enumerate(NAMES)}

# The search is compiled and needs the columns as constants.
LOW_HAND, HIGH_HAND, OPEN_STRING, STRETCH, RING_FINGER, LITTLE_FINGER, THICK_STRING = range(7)
CHORD_SPAN, BARRE, CHORD_GAP, CHORD_FINGER, BEND_FINGER, BEND_ROOM = range(7, 13)
SHIFT, SHIFT_LENGTH, SHIFT_SPEED, FREE_SHIFT, WALK, ROLL, JUMP, CROSSED, SPREAD = range(13, 22)
CROSS_STRING, SKIP_STRING, MOVED_REPEAT, CHANGED_FINGER, SLIDE_LENGTH, OVER_NECK = range(22, 28)
INSIDE, OUTSIDE, ECONOMY, REPEATED_STROKE, PINCH_UPSTROKE, UPSTROKE_START, UNHEARD_SLUR, CLUE = range(28, 36)

STROKE_CAUSES = frozenset(NAMES[INSIDE:CLUE])


def units(weight: float) -> int:
    """A weight as integer cost units."""
    return round(weight * SCALE)


def explained(column: int, count: int, gap_ms: int) -> str:
    """A count of one cause in words; a shift says how long the hand has for it."""
    words = CAUSES[column].words.format(n=count)
    return f"{words} in {gap_ms} ms" if column == SHIFT_LENGTH else words
