"""Captions as WebVTT and SubRip: at most two lines each, every sign of the text safe, speed known.

WebVTT follows the W3C's grammar (https://www.w3.org/TR/webvtt1/). SubRip has no standard: its form is common
practice, no source.
"""

import re
import textwrap
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pipeline.files.place import placed

WIDEST = 42
"""Signs a line: common practice online, no source (37 on teletext)."""
LINES = 2
"""BBC Subtitle Guidelines, "Line breaks": two lines, rarely three."""
FASTEST = 200
"""Words a minute; above it captions are hard to follow (Ofcom figures, bbc.co.uk/rd/blog/2015-09)."""
TICK = Fraction(1, 1000)


@dataclass(frozen=True, order=True)
class Caption:
    """Words on screen over [start, end) seconds of the film."""

    start: Fraction
    end: Fraction
    text: str

    @property
    def words_a_minute(self) -> float:
        length = self.end - self.start
        return float(len(self.text.split()) * 60 / length) if length > 0 else float("inf")

    @property
    def too_fast(self) -> bool:
        return self.words_a_minute > FASTEST


def write_webvtt(path: Path, captions: Iterable[Caption]) -> None:
    """Write a `.vtt` file, UTF-8. Raises Faulty where the disk refuses."""
    with placed(path) as part:
        part.write_bytes(webvtt(captions).encode("utf-8"))


def write_srt(path: Path, captions: Iterable[Caption]) -> None:
    """Write a `.srt` file, UTF-8 with CR LF. Raises Faulty where the disk refuses."""
    with placed(path) as part:
        part.write_bytes(srt(captions).encode("utf-8"))


def webvtt(captions: Iterable[Caption]) -> str:
    """The text of a WebVTT file."""
    blocks = ["WEBVTT"]
    for number, cue in enumerate(_shown(captions), 1):
        lines = [_escaped(line) for line in wrapped(cue.text)]
        blocks.append("\n".join([str(number), f"{_stamp(cue.start)} --> {_stamp(cue.end)}", *lines]))
    return "\n\n".join(blocks) + "\n"


def srt(captions: Iterable[Caption]) -> str:
    """The text of a SubRip file."""
    blocks = []
    for number, cue in enumerate(_shown(captions), 1):
        span = f"{_stamp(cue.start)} --> {_stamp(cue.end)}".replace(".", ",")
        blocks.append("\r\n".join([str(number), span, *map(_unmarked, wrapped(cue.text))]))
    return "".join(block + "\r\n\r\n" for block in blocks)


def clean(text: str) -> str:
    """One line of plain words: no control signs, no arrow that a reader would take for a time."""
    plain = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(re.sub("-{2,}>", "→", plain).split())


def wrapped(text: str) -> list[str]:
    """The text in one line or two; it breaks where the sense does, if both lines then are short enough."""
    if len(text) <= WIDEST:
        return [text]
    halves = [pair for pair in _halves(text) if max(map(len, pair)) <= WIDEST]
    if halves:
        return list(halves[0])
    return textwrap.wrap(text, WIDEST, break_on_hyphens=False)


def divided(caption: Caption) -> list[Caption]:
    """A caption whose words fill more than two lines as several, each with its share of the time."""
    if len(textwrap.wrap(caption.text, WIDEST, break_on_hyphens=False)) <= LINES:
        return [caption]
    first, second = next(iter(_halves(caption.text)), _cut(caption.text))
    share = Fraction(len(first), len(first) + len(second))
    middle = caption.start + (caption.end - caption.start) * share
    early, late = Caption(caption.start, middle, first), Caption(middle, caption.end, second)
    return [*divided(early), *divided(late)]


def _halves(text: str) -> list[tuple[str, str]]:
    """The text in two at each gap between words, the best first: near the middle, and after a mark."""
    gaps = [number for number, sign in enumerate(text) if sign == " "]
    return [(text[:gap], text[gap + 1 :]) for gap in sorted(gaps, key=lambda gap: _harm(text, gap))]


def _harm(text: str, gap: int) -> float:
    """How far a gap lies from the middle, as a share of the text, and how much it tears apart."""
    before = text[:gap].rstrip("\"')”’»")[-1:]
    tears = 0.0 if before in tuple(".?!…") else 0.15 if before in tuple(",;:–—") else 0.35
    return abs(gap - len(text) / 2) / len(text) + tears


def _cut(word: str) -> tuple[str, str]:
    """A word without end, cut in its middle."""
    return word[: len(word) // 2], word[len(word) // 2 :]


def _shown(captions: Iterable[Caption]) -> list[Caption]:
    """In order of time, divided, cleaned, at least a thousandth of a second long.

    Captions at one moment, of which one is divided, are put in order again by when their parts start.
    """
    cues = []
    for caption in sorted(captions):
        if text := clean(caption.text):
            start = _rounded(caption.start)
            whole = Caption(start, max(_rounded(caption.end), start + TICK), text)
            cues += divided(whole)
    timed = [Caption(_rounded(c.start), max(_rounded(c.end), _rounded(c.start) + TICK), c.text) for c in cues]
    return sorted(timed, key=lambda cue: cue.start)


def _rounded(second: Fraction) -> Fraction:
    return round(second / TICK) * TICK


def _stamp(second: Fraction) -> str:
    """HH:MM:SS.mmm (W3C WebVTT, "WebVTT timestamp")."""
    ticks = round(second / TICK)
    return f"{ticks // 3600000:02}:{ticks // 60000 % 60:02}:{ticks // 1000 % 60:02}.{ticks % 1000:03}"


def _escaped(line: str) -> str:
    return line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _unmarked(line: str) -> str:
    """SubRip has no escapes, but players read `<i>` and `{\\an8}` as commands."""
    return line.replace("<", "‹").replace(">", "›").replace("{", "(").replace("}", ")")
