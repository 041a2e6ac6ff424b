"""The kinds of value a script's keys take: exact times, moments, speeds, safe names, paths.

Each is read strictly, and a value that does not fit raises `told`, which carries what is wrong and what would
be right. Numbers become `Fraction`s by their written digits, so 0.1 is a tenth.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    WithJsonSchema,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from pipeline.music.guitar import FEWEST_STRINGS, MOST_STRINGS
from pipeline.music.meter import PATTERN, Meter, read_meter
from pipeline.music.pitch import parse_pitch

_DECIMAL = re.compile(r"-?\d{1,12}(?:\.\d{1,12})?", re.ASCII)
_RATIO = re.compile(r"(\d{1,9})/(\d{1,9})", re.ASCII)
_CLOCK = re.compile(r"(\d{1,4}):([0-5]?\d(?:\.\d{1,9})?)", re.ASCII)
_MOMENT = re.compile(r"(\d{1,5}):(\d{1,3}(?:\.\d{1,9})?)(?:\+(\d{1,4})/(\d{1,4}))?", re.ASCII)
_SIZE = re.compile(r"(\d{2,5})x(\d{2,5})", re.ASCII)
_RANGE = re.compile(r"(\d{1,6})(?:\s*-\s*(\d{1,6}))?", re.ASCII)
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}", re.ASCII)
_DEVICES = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)", re.IGNORECASE)
"""Names that some file systems keep for devices (Microsoft, `Naming Files, Paths, and Namespaces`)."""

FINEST_CLOCK = 2**31 - 1
SOUND_RATE = 48_000
"""A film's clock must count its frames and its samples in whole ticks, fewer than that many a second
(ISO/IEC 14496-12, the timescale of a movie)."""


class Keys(BaseModel):
    """A mapping in a script: strict types, no unknown keys, no NaN; keys are written with hyphens."""

    model_config = ConfigDict(
        strict=True,
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        use_attribute_docstrings=True,
        defer_build=True,
        alias_generator=lambda name: name.replace("_", "-"),
    )


def told(wrong: str, remedy: str) -> PydanticCustomError:
    """The error a validator raises: what is wrong, and what would be right."""
    return PydanticCustomError("told", "{wrong}", {"wrong": wrong, "remedy": remedy})


class NotEmpty:
    """An annotation: a list with at least one entry. Entries that are wrong themselves count, too."""

    @staticmethod
    def __get_pydantic_core_schema__(source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(_some, handler(source))

    @staticmethod
    def __get_pydantic_json_schema__(schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {**handler(schema), "minItems": 1}


def _some(values: tuple[Any, ...]) -> tuple[Any, ...]:
    if not values:
        raise told("the list is empty", "give at least one entry")
    return values


def exact(value: Any) -> Fraction:
    """A number as written: 12, 1.5, '1/3'. Raises `told`."""
    if isinstance(value, Fraction):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return Fraction(value)
    if isinstance(value, float) and value - value == 0:
        return Fraction(repr(value))
    if isinstance(value, str):
        if _DECIMAL.fullmatch(value):
            return Fraction(value)
        ratio = _RATIO.fullmatch(value)
        if ratio and int(ratio[2]):
            return Fraction(int(ratio[1]), int(ratio[2]))
    raise told(f"{shown(value)} is no number", "write a number such as 2, 0.5 or 1/3")


def shown(value: Any) -> str:
    """A value as a message quotes it: short, on one line."""
    text = repr(list(value) if isinstance(value, tuple) else value)
    return text if len(text) <= 40 else f"{text[:37]}..."


def _seconds(value: Any) -> Fraction:
    if isinstance(value, str) and (clock := _CLOCK.fullmatch(value)):
        return 60 * int(clock[1]) + Fraction(clock[2])
    try:
        moment = exact(value)
    except PydanticCustomError:
        raise told(
            f"{shown(value)} is no time", "write seconds such as 12.5, or minutes and seconds such as 1:30.5"
        ) from None
    if moment < 0 or moment > 360_000:
        raise told(f"{shown(value)} seconds is out of range", "write a time from 0 to 360000 seconds")
    return moment


def _lasting(value: Any) -> Fraction:
    lasting = _seconds(value)
    if lasting == 0:
        raise told("it lasts no time", "write how many seconds, such as 4, or leave the key away")
    return lasting


def _within(low: Fraction, high: Fraction, what: str) -> Callable[[Any], Fraction]:
    def read(value: Any) -> Fraction:
        number = exact(value)
        if not low <= number <= high:
            raise told(
                f"{what} of {shown(value)} is out of range", f"write {float(low):g} to {float(high):g}"
            )
        return number

    return read


def _frame_rate(value: Any) -> Fraction:
    rate = _within(Fraction(1), Fraction(240), "a frame rate")(value)
    if lcm(rate.numerator, SOUND_RATE) > FINEST_CLOCK:
        wrong = f"a frame rate of {shown(value)} is too fine for films"
        raise told(wrong, "write one such as 25, 24000/1001 or 30000/1001")
    return rate


def _pair(value: Any) -> tuple[Fraction, Fraction]:
    if not isinstance(value, tuple) or len(value) != 2:
        raise told(f"{shown(value)} is no span", "write its start and its end: [2, 7.5]")
    start, end = _seconds(value[0]), _seconds(value[1])
    if start == end:
        raise told("the span is empty", "write an end that is later than its start")
    if end < start:
        raise told("the span ends before it starts", "write the earlier time first")
    return start, end


@dataclass(frozen=True)
class Moment:
    """A moment of a fragment: bar (from 1; a pick-up bar is 0) and beat (from 1, in the meter's unit).

    Where `bar` is None, `beat` counts quarter notes from the fragment's start.
    """

    bar: int | None
    beat: Fraction

    def __str__(self) -> str:
        beat = f"{float(self.beat):g}"
        return beat if self.bar is None else f"{self.bar}:{beat}"


def moment(value: Any) -> Moment:
    """Read `2:3.5` (bar 2, beat 3 and a half), `2:3+1/3`, or a plain number of quarter notes from 0."""
    if isinstance(value, Moment):
        return value
    if isinstance(value, str) and (match := _MOMENT.fullmatch(value)):
        beat = Fraction(match[2]) + (Fraction(int(match[3]), int(match[4]) or 1) if match[3] else 0)
        if beat >= 1:
            return Moment(int(match[1]), beat)
        raise told(f"{shown(value)} has no such beat", "count the beats of a bar from 1")
    try:
        return Moment(None, exact(value))
    except PydanticCustomError:
        raise told(
            f"{shown(value)} is no moment", "write bar:beat such as 2:3, or quarter notes from the start"
        ) from None


def _when(value: Any) -> "Moment | Fraction":
    """A moment of the fragment where it is written bar:beat, else a second of the scene."""
    return moment(value) if isinstance(value, str) and ":" in value else _seconds(value)


def _size(value: Any) -> tuple[int, int]:
    match = _SIZE.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise told(f"{shown(value)} is no frame size", "write width x height such as 1920x1080")
    width, height = int(match[1]), int(match[2])
    if width % 2 or height % 2:
        raise told(f"{value} has an odd side", "write even numbers: film codecs need them")
    if not (64 <= width <= 7680 and 64 <= height <= 7680):
        raise told(f"{value} is out of range", "write sides from 64 to 7680")
    return width, height


def _meter(value: Any) -> Meter:
    try:
        return value if isinstance(value, Meter) else read_meter(value if isinstance(value, str) else "")
    except ValueError:
        remedy = "write beats over their unit such as 4/4 or 7/8, in groups (2+2+3)/8"
        raise told(f"{shown(value)} is no meter", remedy) from None


def _strings(value: Any) -> tuple[int, ...]:
    names = value.split() if isinstance(value, str) else []
    if not FEWEST_STRINGS <= len(names) <= MOST_STRINGS:
        raise told(
            f"{shown(value)} is no tuning",
            f"write {FEWEST_STRINGS} to {MOST_STRINGS} pitch names, lowest string first: E2 A2 D3 G3 B3 E4",
        )
    try:
        strings = tuple(parse_pitch(name) for name in reversed(names))
    except ValueError as error:
        raise told(str(error), "write pitch names such as E2, F#3 or Bb3") from None
    if all(above < below for above, below in pairwise(strings)):
        lowest_first = " ".join(reversed(names))
        raise told("the strings stand from the highest to the lowest", f"lowest first: {lowest_first}")
    return strings


def _run(value: Any) -> tuple[int, int]:
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    match = _RANGE.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise told(f"{shown(value)} is no range", "write one number or first-last such as 3-6")
    first, last = int(match[1]), int(match[2] or match[1])
    if last < first:
        raise told(f"the range {text} runs backwards", f"write {last}-{first}")
    return first, last


def _name(value: Any) -> str:
    if not isinstance(value, str) or not _NAME.fullmatch(value):
        raise told(
            f"{shown(value)} cannot be a name here",
            "use up to 64 letters, digits, - and _, beginning with a letter or digit",
        )
    if _DEVICES.fullmatch(value):
        raise told(f"{value!r} is kept for a device by some systems", "choose another name")
    return value


def _words(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise told(f"{shown(value)} is no text", "write words")
    return value.strip()


def _file(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise told(f"{shown(value)} is no file name", "write a path from the script's folder")
    if re.match(r"[A-Za-z][A-Za-z0-9+.-]+:", value):
        raise told(f"{shown(value)} is an address", "name a file in the lesson's folder")
    return value


_NUMBER_OR_TEXT: dict[str, Any] = {"type": ["number", "string"]}

Exact = Annotated[Fraction, BeforeValidator(exact), WithJsonSchema(_NUMBER_OR_TEXT)]
Seconds = Annotated[Fraction, BeforeValidator(_seconds), WithJsonSchema(_NUMBER_OR_TEXT)]
Lasting = Annotated[Fraction, BeforeValidator(_lasting), WithJsonSchema(_NUMBER_OR_TEXT)]
SpanInSeconds = Annotated[
    tuple[Fraction, Fraction],
    BeforeValidator(_pair),
    WithJsonSchema({"type": "array", "items": _NUMBER_OR_TEXT, "minItems": 2, "maxItems": 2}),
]
Percent = Annotated[
    Fraction,
    BeforeValidator(_within(Fraction(10), Fraction(100), "a speed")),
    WithJsonSchema({"type": ["number", "string"], "minimum": 10, "maximum": 100}),
]
Tempo = Annotated[
    Fraction,
    BeforeValidator(_within(Fraction(10), Fraction(480), "a tempo")),
    WithJsonSchema({"type": ["number", "string"], "minimum": 10, "maximum": 480}),
]
Share = Annotated[
    Fraction,
    BeforeValidator(_within(Fraction(1, 100), Fraction(100), "a share")),
    WithJsonSchema({"type": ["number", "string"], "minimum": 0.01, "maximum": 100}),
]
Growth = Annotated[
    Fraction,
    BeforeValidator(_within(Fraction(1), Fraction(8), "a growth")),
    WithJsonSchema({"type": ["number", "string"], "minimum": 1, "maximum": 8}),
]
Decibels = Annotated[
    Fraction,
    BeforeValidator(_within(Fraction(-96), Fraction(24), "a gain")),
    WithJsonSchema({"type": ["number", "string"], "minimum": -96, "maximum": 24}),
]
Beats = Annotated[
    Fraction,
    BeforeValidator(_within(Fraction(0), Fraction(16), "a length in beats")),
    WithJsonSchema({"type": ["number", "string"], "minimum": 0, "maximum": 16}),
]
FrameRate = Annotated[
    Fraction,
    BeforeValidator(_frame_rate),
    WithJsonSchema({"type": ["number", "string"], "examples": [25, "30000/1001"]}),
]
FrameSize = Annotated[
    tuple[int, int],
    BeforeValidator(_size),
    WithJsonSchema({"type": "string", "pattern": r"^\d{2,5}x\d{2,5}$", "examples": ["1920x1080"]}),
]
MeterText = Annotated[
    Meter,
    BeforeValidator(_meter),
    WithJsonSchema({"type": "string", "pattern": f"^({PATTERN})$", "examples": ["4/4", "(2+2+3)/8"]}),
]
Strings = Annotated[
    tuple[int, ...],
    BeforeValidator(_strings),
    WithJsonSchema({"type": "string", "examples": ["E2 A2 D3 G3 B3 E4"]}),
]
Range = Annotated[
    tuple[int, int],
    BeforeValidator(_run),
    WithJsonSchema({"type": ["integer", "string"], "examples": ["3-6", 2]}),
]
Name = Annotated[
    str, BeforeValidator(_name), WithJsonSchema({"type": "string", "pattern": f"^{_NAME.pattern}$"})
]
Words = Annotated[str, BeforeValidator(_words), WithJsonSchema({"type": "string", "minLength": 1})]
FileName = Annotated[str, BeforeValidator(_file), WithJsonSchema({"type": "string", "minLength": 1})]
At = Annotated[
    Moment,
    BeforeValidator(moment),
    WithJsonSchema({"type": ["string", "number"], "examples": ["2:3", "2:3.5", 4]}),
]
When = Annotated[
    Moment | Fraction,
    BeforeValidator(_when),
    WithJsonSchema({"type": ["string", "number"], "examples": ["2:3", 4.5]}),
]
