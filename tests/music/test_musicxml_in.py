"""MusicXML in: what is written comes back, the W3C's own examples are read, hostile files are refused."""

import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings

sys.path.insert(0, str(Path(__file__).parent))
from fragments import QUICK, at, fragments

from pipeline.errors import Faulty
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.musicxml_in import Imported, read_musicxml
from pipeline.music.musicxml_out import write_musicxml
from pipeline.music.musicxml_rows import ROWS, losses
from pipeline.music.note import BendPoint, Harmonic, Note
from pipeline.music.tabtext import read_tab

SCORE = """<?xml version="1.0"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Guitar</part-name></score-part>
</part-list>
<part id="P1">{}</part></score-partwise>"""
MEASURE = '<measure number="1"><attributes><divisions>{}</divisions></attributes>{}</measure>'
EXAMPLES = Path(__file__).resolve().parents[3] / "shared" / "data" / "musicxml" / "examples_guitar"


def turned(fragment: Fragment) -> Imported:
    return read_musicxml(write_musicxml(fragment).encode(), "a.musicxml")


def plain(note: Note) -> Note:
    """A note with the points of its bend left out that change nothing after the last move."""
    points = list(note.bend)
    while len(points) > 1 and points[-1].semitones == points[-2].semitones:
        points.pop()
    inner = [p for i, p in enumerate(points) if i == 0 or not _flat(points, i)]
    return note.but(bend=tuple(inner) if len(inner) > 1 or (inner and inner[0].semitones) else ())


def _flat(points: list[BendPoint], index: int) -> bool:
    """Whether a point lies inside a level stretch."""
    level = points[index - 1].semitones == points[index].semitones
    return level and index + 1 < len(points) and points[index + 1].semitones == points[index].semitones


@settings(max_examples=25, **QUICK)
@given(fragments())
def test_what_is_written_comes_back(fragment: Fragment) -> None:
    again = turned(fragment).fragment
    for mine, theirs in zip(fragment.notes, again.notes, strict=True):
        assert plain(theirs) == plain(mine)
    assert replace(again, notes=()) == replace(fragment, notes=())


def wrapped(path: Path) -> bytes:
    text = path.read_text("utf-8")
    if "<score-partwise" in text:
        return text.encode()
    if "<part " in text:
        return SCORE.replace('<part id="P1">{}</part>', "{}").format(text).encode()
    if "<measure" not in text:
        text = f'<measure number="1">{text}</measure>'
    return SCORE.format(text).encode()


def test_all_w3c_examples_are_read_without_a_crash() -> None:
    if not EXAMPLES.is_dir():
        pytest.skip("the W3C examples are not beside this checkout")
    paths = sorted(EXAMPLES.glob("*.xml"))
    assert len(paths) == 64
    for path in paths:
        imported = read_musicxml(wrapped(path), path.name)
        assert imported.fragment.measures, path.name
        assert all(len(str(warning).splitlines()) == 1 for warning in imported.warnings)


@pytest.mark.parametrize(
    ("name", "places"),
    [
        ("technical-element-tablature", [(4, 5, 55)]),
        ("pluck-element", [(2, 1, 60), (5, 3, 48)]),
        ("pre-bend-element", [(3, 3, 58)]),
        ("release-element", [(2, 5, 64)]),
        ("tutorial-tablature", [(3, 5, 60), (3, 7, 62), (3, 8, 63), (3, 7, 62), (3, 5, 60)]),
    ],
)
def test_w3c_notes_have_their_strings_frets_and_pitches(
    name: str, places: list[tuple[int, int, int]]
) -> None:
    if not EXAMPLES.is_dir():
        pytest.skip("the W3C examples are not beside this checkout")
    fragment = read_musicxml(wrapped(EXAMPLES / f"{name}.xml"), name).fragment
    found = [(n.string, n.fret, n.pitch) for n in fragment.notes if n.string]
    assert [place for place in found if place in places] == places


def test_w3c_tutorial_is_read_as_played() -> None:
    """W3C tablature tutorial: hammer-ons and pull-offs chain; tab is taken, at sounding pitch."""
    if not EXAMPLES.is_dir():
        pytest.skip("the W3C examples are not beside this checkout")
    imported = read_musicxml(wrapped(EXAMPLES / "tutorial-tablature.xml"), "tutorial")
    assert [note.attack for note in imported.fragment.notes] == ["pick", "hammer", "pick", "pull", "pull"]
    assert "the other parts of the score are left out" in imported.warnings


def test_w3c_bends_and_artificial_harmonic() -> None:
    if not EXAMPLES.is_dir():
        pytest.skip("the W3C examples are not beside this checkout")
    release = read_musicxml(wrapped(EXAMPLES / "release-element.xml"), "r").fragment.notes[0]
    assert [point.semitones for point in release.bend] == [0, 2, 0]
    pre_bend = read_musicxml(wrapped(EXAMPLES / "pre-bend-element.xml"), "p").fragment.notes[0]
    assert [point.semitones for point in pre_bend.bend] == [2]
    artificial = read_musicxml(wrapped(EXAMPLES / "artificial-element.xml"), "a").fragment
    assert [note.pitch for note in artificial.notes] == [60]
    assert artificial.notes[0].harmonic == Harmonic("artificial", 4, Fraction(5))


def test_transposed_staves_sound_lower() -> None:
    """musicxml.xsd, transpose: what must be added to a written pitch to get the sounding one."""
    transpose = "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    note = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note>"
    text = SCORE.format(MEASURE.format(1, f"<attributes>{transpose}</attributes>{note}"))
    assert read_musicxml(text.encode(), "t").fragment.notes[0].pitch == 60


def test_the_table_has_forty_rows_and_names_elements_of_the_standard() -> None:
    assert [row.number for row in ROWS] == list(range(1, 41))
    assert all(row.reason for row in ROWS if (row.read, row.written) != ("kept", "kept"))
    if not EXAMPLES.is_dir():
        pytest.skip("the schema is not beside this checkout")
    schema = (EXAMPLES.parent / "musicxml.xsd").read_text("utf-8")
    for element in (element for row in ROWS for element in row.elements):
        assert f'name="{element}"' in schema, element


def test_what_is_dropped_is_warned_of() -> None:
    pluck = "<notations><technical><pluck>p</pluck></technical></notations>"
    note = f"<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration>{pluck}</note>"
    text = SCORE.format(MEASURE.format(1, note)).encode()
    assert read_musicxml(text, "w").warnings == (losses()["pluck"],)


def test_a_clean_file_gives_no_warnings() -> None:
    fragment = read_tab("p", "E4 |5h7p5-8b10-|", Guitar(), at)
    assert turned(fragment).warnings == ()


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", "a.xml:1:1: this is no well-formed XML"),
        (b"<score-partwise>", "a.xml:1:17: this is no well-formed XML"),
        (b"<score-timewise/>", "a.xml:1:1: the file holds score-timewise, no score-partwise"),
        (b"<score-partwise/>", "a.xml:1:1: the score has no part"),
        (b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "a.xml:1:1: the file declares an entity (b)"),
        (b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>', "a.xml:1:1: the file declares"),
        (b"<a>" * 100, "a.xml:1:1: elements lie too deep"),
        (b"\xff\xfe\x00", "a.xml:1:"),
        (b'<?xml version="1.0" encoding="no-such"?><a/>', "a.xml:1:1: its encoding is not read here"),
        (b'<?xml version="1.0" encoding="shift_jis"?><a/>', "a.xml:1:1: its encoding is not read here"),
        (SCORE.format("").encode(), "a.xml:4:1: the part has no measures"),
    ],
)
def test_a_bad_file_is_refused_in_one_line(data: bytes, expected: str) -> None:
    with pytest.raises(Faulty) as caught:
        read_musicxml(data, "a.xml")
    assert str(caught.value).startswith(expected)
    assert len(str(caught.value).splitlines()) == 1


def test_an_unknown_part_is_refused_with_the_nearest_name() -> None:
    with pytest.raises(Faulty, match="did you mean 'Guitar'"):
        read_musicxml(SCORE.format(MEASURE.format(1, "")).encode(), "a.xml", "guitar")


@pytest.mark.parametrize("duration", ["-1", "nan", "1e9", "9" * 40, "x"])
def test_odd_durations_do_no_harm(duration: str) -> None:
    note = f"<note><pitch><step>C</step><octave>4</octave></pitch><duration>{duration}</duration></note>"
    fragment = read_musicxml(SCORE.format(MEASURE.format("1", note)).encode(), "a.xml").fragment
    assert fragment.notes[0].duration == 0
