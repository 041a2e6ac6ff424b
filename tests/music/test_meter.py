"""Meters in groups: read, written, beamed by their groups, in text and in MusicXML."""

import pytest

from pipeline.errors import Faulty
from pipeline.lesson.script import episode_of
from pipeline.music.beams import beams
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.meter import Meter, read_meter
from pipeline.music.musicxml_in import read_musicxml
from pipeline.music.musicxml_out import write_musicxml
from pipeline.music.rhythm import pieces, voices
from pipeline.music.tabtext import print_tab, read_tab
from pipeline.source import parse_yaml
from tests.music.fragments import at

SEVEN = Meter(7, 8, (2, 2, 3))


def read(text: str, meter: Meter = SEVEN) -> Fragment:
    return read_tab("odd", text, Guitar(), at, meter)


@pytest.mark.parametrize(
    ("text", "meter", "shown"),
    [
        ("7/8", Meter(7, 8), "7/8"),
        ("2+2+3/8", SEVEN, "(2+2+3)/8"),
        ("(2+2+3)/8", SEVEN, "(2+2+3)/8"),
        ("3+2/4", Meter(5, 4, (3, 2)), "(3+2)/4"),
    ],
)
def test_a_meter_is_read_and_shown(text: str, meter: Meter, shown: str) -> None:
    assert read_meter(text) == meter
    assert str(meter) == shown
    assert read_meter(shown) == meter


@pytest.mark.parametrize(
    "text", ["", "7", "7/", "/8", "0/4", "2+0+3/8", "2+2/3", "33/8", "(7)/8", "(2+3/8", "٧/8"]
)
def test_what_is_no_meter_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is no meter"):
        read_meter(text)


def beamed(fragment: Fragment, measure: int = 0) -> list[str]:
    """The word of each sign's first beam, as MusicXML 4.0 `beam-value` has them."""
    bar = fragment.measures[measure]
    pickup = measure == 0 and bar.pickup
    shown = pieces(bar, voices(fragment)[0], pickup)
    words = beams(bar, shown, pickup)
    return [words.get(index, ["-"])[0] for index in range(len(shown))]


@pytest.mark.parametrize(
    ("meter", "expected"),
    [
        ("(2+2+3)/8", "begin end begin end begin continue end"),
        ("(3+2+2)/8", "begin continue end begin end begin end"),
        ("(4+3)/8", "begin continue continue end begin continue end"),
    ],
)
def test_beams_follow_the_groups(meter: str, expected: str) -> None:
    assert " ".join(beamed(read("E4 |5-7-5-7-5-7-5-|", read_meter(meter)))) == expected


def test_the_groups_of_a_pickup_count_from_its_end() -> None:
    """Four eighths before the bar line of 2+2+3 are the last of the second group and the third."""
    assert beamed(read("count 4 5 6 7\nE4   |5-7-5-7-|5-|")) == ["-", "begin", "continue", "end"]


def test_the_count_row_changes_the_groups() -> None:
    count = "count  1 2 3 4 5 6 7 (3+2)/8 1 2 3 4 5 2+1+2/8 1 2 3 4 5"
    fragment = read(f"{count}\nE4    |5-7-5-7-5-7-5|--------5-7-5-7-5|--------5-7-5-7-5|")
    assert [str(measure.meter) for measure in fragment.measures] == ["(2+2+3)/8", "(3+2)/8", "(2+1+2)/8"]
    assert [measure.length for measure in fragment.measures] == [3.5, 2.5, 2.5]
    assert read(print_tab(fragment)) == fragment


def test_two_groups_without_brackets_are_a_moment_and_told() -> None:
    """`2+3/8` is three eighths of a count after 2, so a meter of two groups stands in brackets."""
    with pytest.raises(Faulty, match=r"if 2\+3/8 is a meter of two groups, put them in brackets"):
        read("count  2+3/8 1 2 3 4 5\nE4    |----- 5-7-5-7-5|".replace(" 5", "-5", 1))


def test_musicxml_has_one_pair_of_beats_for_the_groups() -> None:
    """MusicXML 4.0, element `time`: "A composite such as 3+2/8 requires only one beat/beat-type pair"."""
    fragment = read("E4 |5-7-5-7-5-7-5-|")
    text = write_musicxml(fragment)
    assert "<beats>2+2+3</beats>" in text
    assert read_musicxml(text.encode(), "odd.musicxml").fragment.measures == fragment.measures
    spaced = text.replace("<beats>2+2+3</beats>", "<beats> 2 + 2 + 3 </beats>")
    assert read_musicxml(spaced.encode(), "odd.musicxml").fragment.measures == fragment.measures


@pytest.mark.parametrize("keys", ["text: 'E4 |5|'", "notes: [{onset: 0, pitch: E4}]"])
def test_a_script_may_name_groups(keys: str) -> None:
    text = f"""
title: A
teacher: B
fragments: {{run: {{meter: 2+2+3/8, {keys}}}}}
segments: [{{id: a, title: A, scenes: [{{id: b, fragment: run, views: [{{show: tab}}]}}]}}]
"""
    assert episode_of(parse_yaml(text, "a.yaml")).fragments["run"].meter == SEVEN
