"""Accidentals on the staff: worked bars, and what music21 (BSD-3) would print for the same notes."""

import random
from fractions import Fraction
from xml.etree.ElementTree import fromstring

import pytest

from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.musicxml_out import staff_xml
from pipeline.music.note import Note

F = Fraction


def phrase(*bars: str, tied: tuple[int, ...] = ()) -> Fragment:
    """Quarter notes on the A string by fret, a bar a text; 0 A, 1 A#, 2 B, 3 C, 4 C#, 5 D, 6 D#, 7 E."""
    frets = [int(fret) for bar in bars for fret in bar.split()]
    notes = tuple(
        Note(F(i), F(1), 45 + fret, 5, fret, attack="tie" if i in tied else "pick")
        for i, fret in enumerate(frets)
    )
    measures = tuple(Measure(F(4 * i), F(4)) for i in range(len(bars)))
    return Fragment("phrase", Guitar(), notes, measures)


def signs(fragment: Fragment) -> list[str]:
    """The sign of every note that has a pitch, `-` for none."""
    notes = (note for note in fromstring(staff_xml(fragment)).iter("note") if note.find("pitch") is not None)
    return [note.findtext("accidental", "-") for note in notes]


def test_a_sign_holds_to_the_end_of_its_bar_and_is_taken_back() -> None:
    """Common practice, no source."""
    assert signs(phrase("1 1 0 1", "1 4 3 3")) == [
        *("sharp", "-", "natural", "sharp"),
        *("sharp", "sharp", "natural", "-"),
    ]


def test_it_holds_in_its_own_octave_only() -> None:
    assert signs(phrase("1 13 0 12")) == ["sharp", "sharp", "natural", "natural"]


def test_a_tied_note_repeats_none_but_the_next_one_does() -> None:
    assert signs(phrase("0 0 0 1", "1 1 0 0", tied=(4,))) == [
        "-",
        "-",
        "-",
        "sharp",
        "-",
        "sharp",
        "natural",
        "-",
    ]


@pytest.mark.parametrize("seed", range(4))
def test_music21_prints_the_same_signs(seed: int) -> None:
    stream = pytest.importorskip("music21.stream")
    note21 = pytest.importorskip("music21.note")
    chance = random.Random(seed)
    bars = [" ".join(str(chance.randrange(8)) for _ in range(4)) for _ in range(12)]
    fragment = phrase(*bars)
    theirs: list[str] = []
    for bar in bars:
        measure = stream.Measure()
        for fret in bar.split():
            name = ("A2", "A#2", "B2", "C3", "C#3", "D3", "D#3", "E3")[int(fret)]
            measure.append(note21.Note(name))
        measure.makeAccidentals(
            inPlace=True, cautionaryPitchClass=False, cautionaryAll=False, cautionaryNotImmediateRepeat=False
        )
        for one in measure.notes:
            shown = one.pitch.accidental
            theirs.append(shown.name if shown is not None and shown.displayStatus else "-")
    assert signs(fragment) == theirs


def test_a_bass_is_written_in_the_bass_clef() -> None:
    """Common practice, no source: guitars in the treble clef, basses in the bass clef, both an octave up."""
    bass = Guitar.tuned("E1 A1 D2 G2", 20)
    fragment = phrase("0 1 2 3")
    low = fragment.but(guitar=bass, notes=tuple(n.but(string=3, pitch=n.pitch - 12) for n in fragment.notes
                                                if n.pitch is not None))  # fmt: skip
    for one, sign in ((fragment, "G"), (low, "F")):
        clef = fromstring(staff_xml(one)).find(".//clef")
        assert clef is not None
        assert (clef.findtext("sign"), clef.findtext("clef-octave-change")) == (sign, "-1")
