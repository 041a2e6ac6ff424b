"""Captions against the W3C's grammar, written out here: webvtt-py accepts nearly anything."""

import re
from collections.abc import Iterable
from fractions import Fraction
from html import unescape
from itertools import pairwise
from pathlib import Path

import pytest
import webvtt as reader
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from pipeline.files.captions import Caption, clean, srt, webvtt, wrapped, write_srt, write_webvtt

STAMP = r"(\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3})"
TIMING = re.compile(rf"{STAMP} --> {STAMP}")
"""W3C WebVTT, "WebVTT timestamp" and "WebVTT cue timings": the hours may be absent, ours never are."""
ESCAPE = re.compile(r"&(amp|lt|gt|lrm|rlm|nbsp);")


def seconds(parts: tuple[str, ...]) -> Fraction:
    hours, minutes, whole, thousandths = map(int, parts)
    return Fraction(hours * 3600 + minutes * 60 + whole) + Fraction(thousandths, 1000)


def strictly_read(text: str) -> list[tuple[Fraction, Fraction, str]]:
    """Read a WebVTT file of cues only, failing wherever a clause of the standard is broken."""
    assert "\0" not in text
    assert "\r" not in text
    head, *blocks = text.rstrip("\n").split("\n\n")
    assert head == "WEBVTT", '"WebVTT file structure": the sign, then nothing, a blank line after it'
    cues: list[tuple[Fraction, Fraction, str]] = []
    for block in blocks:
        lines = block.split("\n")
        assert "-->" not in lines[0], '"WebVTT cue identifier"'
        timing = TIMING.fullmatch(lines[1])
        assert timing, lines[1]
        start, end = seconds(timing.groups()[:4]), seconds(timing.groups()[4:])
        assert end > start, '"WebVTT cue timings": the end is later than the start'
        assert not cues or start >= cues[-1][0], '"WebVTT cue timings": not before an earlier cue'
        payload = lines[2:]
        assert payload
        assert all(line.strip() for line in payload)
        for line in payload:
            assert "-->" not in line, '"WebVTT cue text"'
            assert "<" not in line
            assert "&" not in ESCAPE.sub("", line)
        whole = " ".join(payload)
        cues.append((start, end, unescape(whole)))
    return cues


CALMLY = settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])

times = st.fractions(min_value=0, max_value=40000, max_denominator=60060)
captions = st.builds(
    lambda start, length, text: Caption(start, start + length, text),
    times,
    st.fractions(min_value=0, max_value=30, max_denominator=1001),
    st.text(max_size=300),
)


NO_TIME = Fraction(0)


@CALMLY
@given(st.lists(captions, max_size=6))
@example([Caption(NO_TIME, NO_TIME, "0" * 83), Caption(NO_TIME, NO_TIME, "1")])
def test_any_captions_make_a_file_to_the_standard(shown: list[Caption]) -> None:
    cues = strictly_read(webvtt(shown))
    assert sorted(words(cues)) == sorted(words((c.start, c.end, clean(c.text)) for c in shown)), "every sign"
    if all(one.end < two.start for one, two in pairwise(sorted(shown))):
        assert words(cues) == words((c.start, c.end, clean(c.text)) for c in sorted(shown)), "in order"


def words(cues: Iterable[tuple[Fraction, Fraction, str]]) -> str:
    """What is shown, one after another; where a line breaks a gap between words may go."""
    return "".join(text for _, _, text in cues).replace(" ", "")


@CALMLY
@given(st.lists(captions, max_size=4))
def test_no_caption_fills_more_than_two_lines(shown: list[Caption]) -> None:
    for block in webvtt(shown).rstrip("\n").split("\n\n")[1:]:
        lines = [
            line.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&") for line in block.split("\n")
        ]
        assert len(lines) <= 4
        assert all(len(line) <= 42 for line in lines[2:])


def test_signs_that_would_break_out_stay_text() -> None:
    nasty = Caption(Fraction(0), Fraction(2), "a --> b & <i>c</i>\r\n\r\n00:01.000 --> 00:02.000\x00 WEBVTT")
    ((start, end, text),) = strictly_read(webvtt([nasty]))
    assert (start, end) == (0, 2)
    assert text == "a → b & <i>c</i> 00:01.000 → 00:02.000 WEBVTT"


def test_lines_are_of_about_equal_length() -> None:
    assert wrapped("Pick once, then let the left hand do the work") == [
        "Pick once, then let the",
        "left hand do the work",
    ]
    assert wrapped("Slowly") == ["Slowly"]


@pytest.mark.parametrize(("length", "speed", "flagged"), [("4", 180.0, False), ("3.5", 205.714, True)])
def test_reading_speed(length: str, speed: float, flagged: bool) -> None:
    """Ofcom's figures, read at bbc.co.uk/rd/blog/2015-09: 160 to 180 words a minute, over 200 is hard."""
    caption = Caption(
        Fraction(0), Fraction(length), "one two three four five six seven eight nine ten eleven twelve"
    )
    assert caption.words_a_minute == pytest.approx(speed, abs=0.001)
    assert caption.too_fast is flagged


def test_long_words_are_shared_out_in_time() -> None:
    text = " ".join(f"word{n:02}" for n in range(40))
    cues = strictly_read(webvtt([Caption(Fraction(10), Fraction(20), text)]))
    assert len(cues) == 4
    assert cues[0][0] == 10
    assert cues[-1][1] == 20
    assert all(before[1] == after[0] for before, after in pairwise(cues))
    assert max(end - start for start, end, _ in cues) <= Fraction(3)


@pytest.mark.parametrize("text", ["a " + "b" * 100, "b" * 500, "b" * 84 + " a", "a " * 3 + "b" * 90 + " c"])
def test_words_longer_than_a_caption_are_cut(text: str) -> None:
    cues = strictly_read(webvtt([Caption(Fraction(0), Fraction(9), text)]))
    assert len(cues) > 1
    assert "".join(cue[2] for cue in cues).replace(" ", "") == text.replace(" ", "")


def test_an_hour_and_more() -> None:
    assert "01:02:03.005 --> 100:00:00.000" in webvtt(
        [Caption(Fraction(3723005, 1000), Fraction(360000), "x")]
    )


def test_webvtt_py_reads_the_same(tmp_path: Path) -> None:
    """A reference library: webvtt-py 0.6 must find as many captions with the same words."""
    shown = [Caption(Fraction(n), Fraction(n) + 1, f"Bar {n} & <on>") for n in range(5)]
    write_webvtt(tmp_path / "a.vtt", shown)
    write_srt(tmp_path / "a.srt", shown)
    read = reader.read(str(tmp_path / "a.vtt"))
    assert [(c.start, c.end, unescape(c.text)) for c in read] == [
        (f"00:00:0{n}.000", f"00:00:0{n + 1}.000", f"Bar {n} & <on>") for n in range(5)
    ]
    plain = reader.from_srt(str(tmp_path / "a.srt"))
    assert [(c.start, c.text) for c in plain] == [(f"00:00:0{n}.000", f"Bar {n} & ‹on›") for n in range(5)]


def test_srt_has_commas_numbers_and_no_commands() -> None:
    text = srt([Caption(Fraction(1), Fraction(5, 2), "{\\an8}<i>high</i>")])
    assert text == "1\r\n00:00:01,000 --> 00:00:02,500\r\n(\\an8)‹i›high‹/i›\r\n\r\n"
