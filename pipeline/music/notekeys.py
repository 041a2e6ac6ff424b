"""The keys of a note in a list of notes: how each is written, what it means, which values it takes.

Reading, writing, the tables of keys and the JSON Schema are all made from this table.
"""

from dataclasses import dataclass
from typing import Literal, get_args

from pipeline.music.note import Attack, HarmonicKind, Stroke, Vibrato

Kind = Literal["beats", "pitch", "number", "word", "flag", "bend", "harmonic", "clues"]


@dataclass(frozen=True)
class NoteKey:
    """A key as it is written, with hyphens. Numbers go from `least` to `most`, words are among `words`."""

    name: str
    kind: Kind
    meaning: str
    default: str = ""
    words: tuple[str, ...] = ()
    least: int = 0
    most: int = 0

    @property
    def field(self) -> str:
        """The field of a note that it sets."""
        return self.name.replace("-", "_")


def _flag(name: str, meaning: str) -> NoteKey:
    return NoteKey(name, "flag", meaning, "false")


NOTE_KEYS: tuple[NoteKey, ...] = (
    NoteKey(
        "onset", "beats", "Where it starts: quarter notes from the start, such as `1.5` or `7/3`.", "needed"
    ),
    NoteKey(
        "duration",
        "beats",
        "How long it lasts, in quarter notes; by default to the next note that starts later.",
    ),
    NoteKey(
        "pitch",
        "pitch",
        "What the stopped string sounds, as a name such as `E4` or a MIDI note; needed without `string` and "
        "`fret`. Alone it leaves open where the note is played; with `string` it gives the fret.",
    ),
    NoteKey("string", "number", "Which string, 1 the highest.", least=1, most=9),
    NoteKey("fret", "number", "Which fret, 0 the open string.", least=0, most=36),
    NoteKey("finger", "number", "Which finger: 1 the index finger to 4 the little one, 0 the thumb.", most=4),
    NoteKey("position", "number", "The fret under the index finger while the note is held.", most=36),
    NoteKey("stroke", "word", "`down` or `up`.", words=get_args(Stroke)),
    NoteKey(
        "attack",
        "word",
        "What sets it sounding: `pick`, `hammer`, `pull`, `slide`, `tap`, or `tie`, which goes on with the "
        "note before.",
        "pick",
        get_args(Attack),
    ),
    NoteKey("vibrato", "word", "`none`, `narrow` or `wide`.", "none", get_args(Vibrato)),
    NoteKey("slide-in", "word", "Slid into from `below` or `above`.", words=("below", "above")),
    NoteKey("slide-out", "word", "Slid out of, `up` or `down`.", words=("up", "down")),
    _flag("grace", "A grace note to the note that starts with it; it takes no time."),
    _flag("dead", "A dead note, which may lack a fret."),
    _flag("ghost", "A ghost note."),
    _flag("palm-mute", "Muted by the palm."),
    _flag("let-ring", "Left to ring."),
    _flag("accent", "Accented."),
    _flag("staccato", "Cut short."),
    _flag("tremolo", "Picked over and over."),
    _flag("shift-slide", "Slid to from the note before and picked again."),
    NoteKey(
        "bend",
        "bend",
        "Points of a bend, each the share of the note (0 to 1) and the semitones: `[[0, 0], [1/2, 2]]`.",
    ),
    NoteKey(
        "harmonic",
        "harmonic",
        "A harmonic: `{kind: natural, partial: 2, touch: 12}`, where `kind` is `natural`, `artificial` or "
        "`pinch`, `partial` the one that sounds and `touch` the fret that is touched.",
        words=get_args(HarmonicKind),
    ),
    NoteKey("clues", "clues", "What was heard of it, in the signs of the clues row, such as `s?6`."),
)
BY_NAME: dict[str, NoteKey] = {key.name: key for key in NOTE_KEYS}
"""The keys by the name they are written with."""
