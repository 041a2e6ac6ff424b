"""What of MusicXML 4.0 is kept, what is lost, and why: the table that import warns from.

Rows follow the order of the standard's elements for guitar music. `kept` elements survive reading and
writing; `lossy` ones are read in part; `dropped` ones are passed over.
"""

from dataclasses import dataclass
from typing import Literal

Grade = Literal["kept", "lossy", "dropped"]


@dataclass(frozen=True)
class Row:
    """A row of the table: the elements it speaks of, how they fare in and out, and the reason."""

    number: int
    elements: tuple[str, ...]
    read: Grade
    written: Grade
    reason: str = ""


_LOOK = "a matter of layout, which the look decides here"
_NO_CHORDS = "chord symbols and diagrams are not part of a fragment"
_OTHER = "no sound or place on the neck depends on it here"

ROWS: tuple[Row, ...] = (
    Row(1, ("clef",), "kept", "kept", "read to find the tab staff; written as TAB, or treble with an octave"),
    Row(2, ("staff-details", "staff-lines"), "kept", "kept"),
    Row(3, ("staff-tuning",), "kept", "kept"),
    Row(4, ("capo",), "kept", "kept"),
    Row(5, ("transpose",), "lossy", "dropped", "read to find the sounding pitch; written parts are at pitch"),
    Row(6, ("for-part", "part-transpose", "part-clef", "concert-score"), "dropped", "dropped", _LOOK),
    Row(7, ("string",), "kept", "kept"),
    Row(8, ("fret",), "kept", "kept"),
    Row(9, ("fingering",), "lossy", "kept", "one finger a note is kept; substitutions are not"),
    Row(10, ("pluck",), "dropped", "dropped", "fingers of the picking hand have no place in a fragment yet"),
    Row(11, ("up-bow", "down-bow"), "kept", "kept"),
    Row(12, ("hammer-on", "pull-off"), "kept", "kept"),
    Row(13, ("slur",), "lossy", "kept", "read where it joins two notes of a string; phrasing is not kept"),
    Row(14, ("tied", "tie"), "kept", "kept"),
    Row(15, ("bend", "bend-alter", "pre-bend", "release"), "kept", "kept"),
    Row(16, ("tap",), "lossy", "kept", "which hand taps is not kept"),
    Row(17, ("harmonic", "natural", "artificial"), "kept", "kept"),
    Row(18, ("open-string", "thumb-position"), "lossy", "dropped", "an open string is known by its fret 0"),
    Row(19, ("slide",), "kept", "kept"),
    Row(20, ("glissando",), "lossy", "dropped", "read as a slide"),
    Row(
        21,
        (
            "snap-pizzicato",
            "fingernails",
            "stopped",
            "half-muted",
            "open",
            "golpe",
            "heel",
            "toe",
            "arrow",
            "handbell",
            "brass-bend",
            "flip",
            "smear",
            "hole",
            "harmon-mute",
            "double-tongue",
            "triple-tongue",
        ),
        "dropped",
        "dropped",
        _OTHER,
    ),
    Row(22, ("other-technical",), "lossy", "kept", "only the words that are written here are understood"),
    Row(23, ("wavy-line", "tremolo"), "kept", "kept"),
    Row(24, ("notehead",), "lossy", "kept", "x and brackets are kept; other shapes are a matter of look"),
    Row(25, ("play", "mute"), "lossy", "kept", "palm muting is kept; other mutes are not"),
    Row(26, ("string-mute",), "dropped", "dropped", _OTHER),
    Row(27, ("accent", "strong-accent", "staccato", "scoop", "plop", "doit", "falloff"), "kept", "kept"),
    Row(28, ("arpeggiate", "non-arpeggiate"), "dropped", "dropped", "a raked chord is written note by note"),
    Row(29, ("grace",), "lossy", "kept", "the time that a grace note takes is not kept"),
    Row(30, ("time-modification", "tuplet"), "kept", "kept", "rhythm is read from durations"),
    Row(31, ("sound", "swing"), "lossy", "kept", "only a tempo at the start is kept"),
    Row(32, ("metronome",), "lossy", "kept", "only a tempo at the start is kept"),
    Row(33, ("midi-instrument",), "dropped", "kept", "the sound of a fragment is chosen in the lesson"),
    Row(34, ("instrument-sound",), "dropped", "kept", "the sound of a fragment is chosen in the lesson"),
    Row(35, ("harmony", "frame"), "dropped", "dropped", _NO_CHORDS),
    Row(36, ("scordatura", "accord"), "dropped", "dropped", "tunings are read from staff-details"),
    Row(
        37,
        (
            "words",
            "rehearsal",
            "dashes",
            "bracket",
            "octave-shift",
            "wedge",
            "pedal",
            "damp",
            "damp-all",
            "image",
            "segno",
            "coda",
            "symbol",
        ),
        "dropped",
        "dropped",
        "words belong to the scenes of a lesson",
    ),
    Row(38, ("listen", "listening", "sync"), "dropped", "dropped", _OTHER),
    Row(39, ("chord", "voice", "backup", "forward", "dot", "beam", "stem", "rest"), "kept", "kept"),
    Row(40, ("color",), "dropped", "dropped", _LOOK),
)

BESIDES: dict[str, str] = {
    "ending": "first and second endings are not kept: write the bars out",
    "key": "key signatures are not kept",
    "lyric": "lyrics are not kept",
    "dynamics": "dynamics are not kept",
    "figured-bass": "figured bass is not kept",
    "fermata": "fermatas are not kept",
    "cue": "cue notes are left out",
    "with-bar": "a bend with the bar is read as a bend",
}
"""Elements outside the table that are lost, with the words of the warning."""


def losses() -> dict[str, str]:
    """For each element that reading drops or keeps in part, the words of its warning."""
    found = dict(BESIDES)
    for row in ROWS:
        if row.read == "dropped":
            found |= {element: f"{element} is not kept: {row.reason}" for element in row.elements}
        elif row.read == "lossy" and row.elements[0] in WARN_OF_LOSSY:
            found |= {row.elements[0]: f"{row.elements[0]} is kept in part: {row.reason}"}
    return found


WARN_OF_LOSSY = frozenset({"glissando", "pluck", "thumb-position", "swing"})
"""Lossy elements whose loss is worth a warning wherever they stand; others are usual and harmless."""
