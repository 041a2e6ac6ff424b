"""MusicXML out: valid by the standard's schema, and read alike by music21 (BSD-3)."""

import re
import sys
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from xml.etree.ElementTree import fromstring

import pytest
from hypothesis import assume, given, settings

sys.path.insert(0, str(Path(__file__).parent))
from fragments import QUICK, at, fragments

from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.musicxml_out import staff_xml, write_musicxml
from pipeline.music.passage import cut
from pipeline.music.tabtext import read_tab

XLINK = """<schema xmlns="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">
<attribute name="href" type="anyURI"/><attribute name="type" type="string"/>
<attribute name="role" type="string"/>
<attribute name="title" type="string"/><attribute name="show" type="string"/>
<attribute name="actuate" type="string"/></schema>"""
XML = """<schema xmlns="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/XML/1998/namespace">
<attribute name="lang" type="string"/><attribute name="space" type="string"/></schema>"""


@cache
def schema() -> Any:
    """The XSD of MusicXML 4.0 as PyPI's `musicxml` carries it, without the two it would fetch: no network.

    The attributes of those two are declared loosely, as this program writes none of them.
    """
    etree = pytest.importorskip("lxml.etree")
    package = Path(pytest.importorskip("musicxml").__file__).parent
    text = (package / "generate_classes" / "musicxml_4_0.xsd").read_text("utf-8")
    with TemporaryDirectory() as folder:
        for name, content in (("xlink.xsd", XLINK), ("xml.xsd", XML), ("musicxml.xsd", _local(text))):
            (Path(folder) / name).write_text(content, "utf-8")
        return etree.XMLSchema(etree.parse(str(Path(folder) / "musicxml.xsd")))


def _local(text: str) -> str:
    return re.sub(r'schemaLocation="[^"]*/(\w+\.xsd)"', r'schemaLocation="\1"', text)


def faults(text: str) -> list[str]:
    etree = pytest.importorskip("lxml.etree")
    checker = schema()
    checker.validate(etree.fromstring(text.encode()))
    return [f"{entry.line}: {entry.message}" for entry in checker.error_log]


def test_the_schema_refuses_what_is_wrong() -> None:
    text = write_musicxml(phrase("E4 |5h7|"))
    assert faults(text) == []
    assert faults(text.replace('type="stop"', 'type="end"'))
    assert faults(text.replace("<fret>5</fret>", "<fret>five</fret>"))


@settings(max_examples=15, **QUICK)
@given(fragments())
def test_every_fragment_gives_a_valid_file(fragment: Fragment) -> None:
    assert faults(write_musicxml(fragment)) == []
    names = [f"n{index}" for index in range(len(fragment.notes))]
    assert faults(staff_xml(fragment, names)) == []


@settings(max_examples=20, **QUICK)
@given(fragments())
def test_every_measure_adds_up(fragment: Fragment) -> None:
    """MusicXML tutorial: the durations of a voice add up to the length of its measure."""
    root = fromstring(write_musicxml(fragment))
    divisions = int(root.findtext(".//divisions") or 0)
    for element, measure in zip(root.iter("measure"), fragment.measures, strict=True):
        sums: dict[str, int] = {}
        for note in element.findall("note"):
            if note.find("chord") is None and note.find("grace") is None:
                voice = note.findtext("voice") or ""
                sums[voice] = sums.get(voice, 0) + int(note.findtext("duration") or 0)
        assert set(sums.values()) == {int(measure.length * divisions)}


def phrase(text: str, guitar: Guitar | None = None) -> Fragment:
    return read_tab("phrase", text, guitar or Guitar(), at)


def values(text: str) -> list[str]:
    """Note types of a phrase, with dots, tuplets and ties, as short words."""
    found = []
    for note in fromstring(write_musicxml(phrase(text))).iter("note"):
        word = (note.findtext("type") or "?") + "." * len(note.findall("dot"))
        change = note.find("time-modification")
        if change is not None:
            word += f" {change.findtext('actual-notes')}:{change.findtext('normal-notes')}"
        found.append(word + "~" * any(tie.get("type") == "start" for tie in note.findall("tie")))
    return found


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("E4 |5|", ["whole"]),
        ("E4 |5-7|", ["half", "half"]),
        ("E4 |5-7-8|", ["half 3:2", "half 3:2", "half 3:2"]),
        ("count 1 2     3\nE4   |5-5-7-8-5|", ["quarter", *["eighth 3:2"] * 3, "half"]),
        ("count 1   2 4\nE4   |5-7-8-9-|", ["eighth", "eighth", "half", "quarter"]),
        ("count 1   4\nE4   |5---7-|", ["half.", "quarter"]),
        ("count 1   2+1/2\nE4   |5---7-----|", ["quarter.", "eighth~", "half"]),
        ("count 1         2\nE4   |5-7-8-5-7-8|", ["16th 5:4"] * 5 + ["half."]),
        ("count 1           2\nE4   |5-7-8-5-7-8-9|", ["16th 6:4"] * 6 + ["half."]),
        ("count 1             2\nE4   |5-7-8-5-7-8-9-5|", ["16th 7:4"] * 7 + ["half."]),
        ("count 1     3\nE4   |5-7-8-5-|", ["quarter 3:2"] * 3 + ["half"]),
    ],
)
def test_durations_become_note_values(text: str, expected: list[str]) -> None:
    assert values(text) == expected


def test_sixteenths_that_begin_off_the_beat_are_no_tuplets() -> None:
    """A part cut out of a passage may begin at the second of four sixteenths."""
    whole = read_tab("run", "count 1 e & a 2\nE4   |5-7-8-5-7-|", Guitar(), at)
    part = cut(whole, 1, 4)
    values = [child.text for child in fromstring(write_musicxml(part)).iter("type")]
    assert values == ["16th", "16th", "16th", "half"]
    assert "time-modification" not in write_musicxml(part)


def test_music21_reads_the_same_pitches_strings_and_frets() -> None:
    converter = pytest.importorskip("music21.converter")
    fragment = phrase(
        "count    1     2           3     4     1   2   3   4\n"
        "strokes  d  u  d           d     d     d   u   d   u\n"
        "E4      |5--8--5h-7-p5--8--12b14-10~--|5---8---x---0---|\n"
        "B3      |---------------------5-------|5---8-------1---|\n"
        "fingers  1     1                       11  44\n"
    )
    stream = converter.parse(write_musicxml(fragment), format="musicxml")
    notes = fragment.notes
    chords = [[notes[index] for index in chord if notes[index].pitch] for chord in fragment.chords]
    mine = [
        [chord[0].onset, *(sorted(getattr(n, k) for n in chord) for k in FIELDS)] for chord in chords if chord
    ]
    assert list(heard_by_music21(stream)) == mine


FIELDS = ("pitch", "string", "fret")


def heard_by_music21(stream: Any) -> Iterator[list[Any]]:
    """Onset, pitches, strings and frets of every chord that music21 read; it keeps signs by the chord."""
    for element in stream.recurse().notes:
        notes = [note for note in getattr(element, "notes", [element]) if hasattr(note, "pitch")]
        signs = {id(sign): sign for holder in (element, *notes) for sign in holder.articulations}.values()
        numbers = [
            sorted(sign.number for sign in signs if type(sign).__name__ == kind)
            for kind in ("StringIndication", "FretIndication")
        ]
        onset = Fraction(element.getOffsetInHierarchy(stream)).limit_denominator(1000)
        if notes:
            yield [onset, sorted(note.pitch.midi for note in notes), *numbers]


def test_the_tuning_stands_with_line_one_at_the_bottom() -> None:
    """W3C staff-tuning example: line 1 is E2, line 6 is E4."""
    root = fromstring(write_musicxml(phrase("E4 |5|", Guitar(capo=2))))
    lines = {
        t.get("line"): f"{t.findtext('tuning-step')}{t.findtext('tuning-octave')}"
        for t in root.iter("staff-tuning")
    }
    assert lines == {"1": "E2", "2": "A2", "3": "D3", "4": "G3", "5": "B3", "6": "E4"}
    assert root.findtext(".//capo") == "2"


def test_a_release_is_negative() -> None:
    """musicxml.xsd, bend-alter: a release after a bend of 2 is -2, a pre-bend is negative too."""
    root = fromstring(write_musicxml(phrase("E4 |7b9r7-7B9-|")))
    assert [bend.text for bend in root.iter("bend-alter")] == ["2", "-2", "-2"]
    assert root.find(".//release") is not None
    assert root.find(".//pre-bend") is not None


def test_the_engraver_reads_the_staff() -> None:
    verovio = pytest.importorskip("verovio")
    fragment = phrase("count 1           2   3\nE4   |5-7-8-5-7-8-9-----|\nE2   |----------------0-|")
    toolkit = verovio.toolkit()
    toolkit.setOptions({"xmlIdSeed": 1, "scale": 100})
    names = [f"n{index}" for index in range(len(fragment.notes))]
    assert toolkit.loadData(staff_xml(fragment, names))
    drawing = toolkit.renderToSVG(1)
    assert all(f'id="{name}"' in drawing for name in names)
    times = {event["tstamp"] for event in toolkit.renderToTimemap() if event.get("on")}
    assert len(times) == 8


@settings(max_examples=15, **QUICK)
@given(fragments())
def test_the_engraver_hears_every_note_at_its_beat(fragment: Fragment) -> None:
    """verovio (LGPL) as an independent reader of rhythm: ties, tuplets, pick-ups and voices add up.

    Grace notes, and the small heads of bends, take time from their neighbours there, so none are given.
    """
    verovio = pytest.importorskip("verovio")
    notes = tuple(note.but(bend=()) for note in fragment.notes if not note.grace)
    plain = fragment.but(notes=notes, repeats=(), clues=())
    names = [f"n{index}" for index in range(len(notes))]
    text = staff_xml(plain, names)
    assume(text.count("<note ") + text.count("<note>") == text.count("<type>"))  # else finer than 256ths
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    assert toolkit.loadData(text)
    toolkit.renderToSVG(1)
    events = reversed(toolkit.renderToTimemap())
    heard = {name: event["qstamp"] for event in events for name in event.get("on", [])}
    struck = {f"n{i}": float(note.onset) for i, note in enumerate(notes) if note.attack != "tie"}
    assert {name: heard[name] for name in struck} == pytest.approx(struck, abs=0.001)


def test_an_artificial_harmonic_is_written_at_its_base_pitch() -> None:
    """MusicXML 4.0, `base-pitch`: the string's pitch before it is touched; a plain head."""
    note = fromstring(write_musicxml(phrase("G3 |5<17>|"))).find(".//note")
    assert note is not None
    assert (note.findtext("pitch/step"), note.findtext("pitch/octave")) == ("C", "4")
    assert note.find(".//harmonic/artificial") is not None
    assert note.find(".//harmonic/base-pitch") is not None
    assert note.find("notehead") is None


def test_a_staff_has_the_touch_of_an_artificial_harmonic_in_its_chord() -> None:
    """MusicXML 4.0 calls it the `touching-pitch`; C4 stopped on the third string, touched an octave up."""
    text = staff_xml(phrase("G3 |5<17>|"), ["n0"])
    stopped, touched = fromstring(text).iter("note")
    assert stopped.find("notehead") is None
    assert touched.find("chord") is not None
    assert (touched.findtext("pitch/step"), touched.findtext("pitch/octave")) == ("C", "5")
    assert touched.findtext("notehead") == "diamond"


def test_a_staff_shows_where_a_bend_leads() -> None:
    """D5 on the second string, up a tone to E5 and back."""
    note, up, back = fromstring(staff_xml(phrase("B3 |15b17r15|"), ["n0"])).iter("note")
    assert note.find("grace") is None
    heads = [(one.findtext("pitch/step"), one.find("grace") is not None) for one in (up, back)]
    assert heads == [("E", True), ("D", True)]
