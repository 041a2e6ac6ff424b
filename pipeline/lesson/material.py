"""What a lesson is made of: the frame, the guitar, recordings, written passages, footage, a voice."""

from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Field, WithJsonSchema, field_validator, model_validator

from pipeline.lesson.note_schema import note_list_schema
from pipeline.lesson.values import (
    At,
    Beats,
    Decibels,
    FileName,
    FrameRate,
    FrameSize,
    Keys,
    Lasting,
    MeterText,
    Seconds,
    SpanInSeconds,
    Strings,
    Tempo,
    Words,
    told,
)
from pipeline.music.guitar import STANDARD, Guitar
from pipeline.music.meter import COMMON

ZERO = Fraction(0)
MM_PER_INCH = 25.4
INCHES = (12, 40)
"""A scale length between these is one in inches (300 to 1000 mm)."""
Notes = Annotated[tuple[Any, ...], WithJsonSchema(note_list_schema())]


class FrameKeys(Keys):
    """Size and rate of the film's frames."""

    size: FrameSize = (1920, 1080)
    """Width and height in pixels, such as `1920x1080`, `1080x1920` or `1080x1080`."""
    rate: FrameRate = Fraction(25)
    """Frames a second: a number or a fraction such as `30000/1001`."""


class GuitarKeys(Keys):
    """The instrument and how it is strung."""

    strings: Strings = STANDARD
    """Open strings as pitch names, lowest string first: `E2 A2 D3 G3 B3 E4` (4 to 9 strings)."""
    frets: int = Field(default=24, ge=5, le=36)
    """How many frets the neck has."""
    scale_length: float = Field(default=648.0, ge=300, le=1000)
    """From nut to bridge, in millimetres."""
    capo: int = Field(default=0, ge=0, le=20)
    """The fret a capo lies on; frets are then counted from it."""
    handedness: Literal["right", "left"] = "right"
    """`left` mirrors the neck in every picture."""

    @field_validator("scale_length", mode="before")
    @classmethod
    def _in_millimetres(cls, length: Any) -> Any:
        """Scale lengths are often known in inches."""
        if isinstance(length, int | float) and INCHES[0] <= length <= INCHES[1]:
            wrong = f"{length:g} would be inches, and it is written in millimetres"
            raise told(wrong, f"write {length * MM_PER_INCH:.0f}")
        return length

    @model_validator(mode="after")
    def _capo_on_the_neck(self) -> "GuitarKeys":
        if self.capo >= self.frets:
            raise told(f"the capo lies on fret {self.capo} of {self.frets}", "put it on the neck")
        return self

    def over(self, episodes: "GuitarKeys") -> "GuitarKeys":
        """These keys, with those of the episode's guitar where they leave one out."""
        return episodes.model_copy(update={key: getattr(self, key) for key in self.model_fields_set})

    def made(self) -> Guitar:
        """The guitar itself."""
        left = self.handedness == "left"
        return Guitar(self.strings, self.frets, self.scale_length, self.capo, left)


class ClipKeys(Keys):
    """A recording, and where its beats lie. Its `marks` or `tempo` let pictures follow it."""

    file: FileName
    """The sound file, from the script's folder (wav, flac, ogg, mp3, m4a, or a film's sound)."""
    rights: Words
    """Whose recording it is and why it may be used here; printed in the credits."""
    span: SpanInSeconds | None = None
    """The seconds of the file that this clip is; all times of the clip still count from the file's start."""
    marks: dict[At, Seconds] = Field(default_factory=dict)
    """Where beats lie: moment of the fragment to second of the file, such as `{1:1: 0.52, 2:1: 2.38}`."""
    tempo: Tempo | None = None
    """Quarter notes a minute, where the playing is steady; instead of `marks`, or beside a single mark."""
    gain: Decibels = ZERO
    """Decibels louder or softer than all sources are brought to (−23 LUFS)."""

    @field_validator("marks", mode="before")
    @classmethod
    def _none_yet(cls, marks: Any) -> Any:
        """A bare `marks:` waits for `fretscene align`."""
        return {} if marks is None else marks

    @model_validator(mode="after")
    def _of_one_mind(self) -> "ClipKeys":
        if len(self.marks) > 1 and self.tempo is not None:
            raise told("marks and a tempo contradict each other", "keep the marks, or one mark and the tempo")
        return self


class FragmentKeys(Keys):
    """A written passage: as aligned text, as a list of notes, or in a file of its own."""

    text: str | None = None
    """The passage as aligned rows of text (see the README)."""
    notes: Notes | None = None
    """The passage as a list of notes, for passages that a program makes."""
    file: FileName | None = None
    """A file with it: `.txt` (aligned text), `.yaml` (a list of notes), `.musicxml` (or `.mxl`) or
    `.mid`."""
    meter: MeterText = COMMON
    """Beats over their unit, such as `7/8`, or in groups `(2+2+3)/8`; the text may change it on the way."""
    tempo: Tempo = Fraction(120)
    """Quarter notes a minute at full speed."""
    pickup: Beats = ZERO
    """Quarter notes of a first bar that is not full, for a list of notes; in text the counts say it."""
    flats: bool = False
    """Spell accidentals with flats."""
    guitar: GuitarKeys | None = None
    """Another guitar than the episode's: what it leaves out is as the episode's."""

    @model_validator(mode="after")
    def _one_form(self) -> "FragmentKeys":
        given = [name for name in ("text", "notes", "file") if getattr(self, name) is not None]
        if len(given) != 1:
            wrong = f"it has both {given[0]} and {given[1]}" if given else "the passage is missing"
            raise told(wrong, "give exactly one of text, notes and file")
        return self


class FootageKeys(Keys):
    """Film in the scene's view `footage`, or under all of it, slowed along with the sound; or a picture."""

    file: FileName
    """The film file, from the script's folder; or a picture (png or jpeg), for the view `footage` only."""
    rights: Words
    """Whose film it is and why it may be used here; printed in the credits."""
    start: Seconds = ZERO
    """The second of the film at which the clip's file starts (or the scene, where it has no clip)."""
    slowed: bool = True
    """Whether it follows the slowed clip; else it runs at its own speed from the scene's start."""


class VoiceKeys(Keys):
    """A recorded voice over a scene."""

    file: FileName
    """The sound file, from the script's folder."""
    at: Seconds = ZERO
    """The second of the scene at which it starts."""
    gain: Decibels = ZERO
    """Decibels louder or softer than all sources are brought to (−23 LUFS)."""


class SpokenKeys(Keys):
    """Words that are spoken: a caption."""

    text: Words
    """What is said."""
    at: Seconds | None = None
    """The second of the scene; by default right after the caption before it."""
    lasting: Lasting | None = None
    """Seconds it stays; by default long enough to read."""
