"""What stands beside the music on paper: its facts, its practice plan, its positions, its stills."""

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from pipeline.files.pages import Facts, Figure, Heading, Pages, Row, Table, Words, pdf_bytes
from pipeline.lesson.handout import pages_of
from pipeline.lesson.practice_plan import Traits, advised, traits_of
from pipeline.lesson.printed import tab_in_words
from pipeline.lesson.resolve import read_lesson
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note
from pipeline.timing import Span

HEAD = """
title: Facts
teacher: Nobody
frame: {size: 640x360, rate: 25}
fragments:
  plain:
    tempo: 100
    text: |
      count   1 & 2 & 3 4
      fingers 1 3 1 3 1 3
      strokes d u d u d u
      E4     |5-7-5-7-5-7|
      B3     |-----------|
  odd:
    tempo: 150
    meter: 7/8
    text: |
      count   1 2 3 4 5 6 7  4/4 1 2 3 4
      E4     |0-0-0-0-0-0-0-|----0-0-0-0|
  tapped:
    tempo: 120
    text: |
      count    1          2
      B3    |-t17-p8-h12-t17-p8-h12|
  low:
    tempo: 90
    guitar: {strings: A1 E2 A2 D3 G3 B3 E4}
    text: |
      count   1 2 3 4
      fingers   3   1
      A1     |0-3-0-1|
  bells:
    text: |
      count    1    2   3  4
      G3    |-<12>-<7>-<5>-0-|
segments:
  - id: only
    title: Only
    scenes:
      - {id: shown, fragment: plain, views: [{show: tab}, {show: neck}]}
      - {id: upright, fragment: low, views: [{show: tab}]}
"""


@pytest.fixture
def printed(tmp_path: Path) -> Any:
    def pages(parts: str, head: str = HEAD) -> Pages:
        script = tmp_path / "facts.yaml"
        script.write_text(head + f"handout:\n  parts: [{parts}]\n", "utf-8")
        return pages_of([read_lesson(script)], "a4")

    return pages


def part(kind: str, fragment: str, more: str = "") -> str:
    return f"{{part: {kind}, fragment: {fragment}{more}}}"


def facts(pages: Pages) -> Iterator[dict[str, str]]:
    """The facts under each heading."""
    return (dict(block.items) for block in pages.lessons[0].blocks if isinstance(block, Facts))


def test_each_passage_has_its_own_tempo_meter_and_changed_tuning(printed: Any) -> None:
    pages = printed(", ".join(part("fragment", name) for name in ("plain", "tapped", "low", "odd")))
    assert pages.lessons[0].facts == ()
    tempo = "{} quarter notes a minute".format
    assert list(facts(pages)) == [
        {"Tuning": "E A D G B E", "Tempo": tempo(100), "Meter": "4/4"},
        {"Tempo": tempo(120), "Meter": "4/4"},
        {"Tuning": "A1 E2 A2 D3 G3 B3 E4", "Tempo": tempo(90), "Meter": "4/4"},
        {"Tuning": "E A D G B E", "Tempo": tempo(150), "Meter": "7/8, 4/4"},
    ]


def test_the_head_has_a_tuning_that_all_passages_share(printed: Any) -> None:
    pages = printed(", ".join(part("fragment", name) for name in ("plain", "tapped")))
    assert pages.lessons[0].facts == (("Tuning", "E A D G B E"),)
    assert all("Tuning" not in told for told in facts(pages))


def test_parts_about_another_passage_say_which(printed: Any) -> None:
    shown = [
        part("fragment", "plain", ", title: A plain one"),
        part("positions", "plain"),
        part("fragment", "low"),
        "{part: still, scene: shown}",
        part("practice", "plain"),
        part("positions", "plain"),
    ]
    pages = printed(", ".join(shown))
    headings = [block.text for block in pages.lessons[0].blocks if isinstance(block, Heading)]
    assert headings[:5] == [
        "A plain one",
        "Where the hand stands",
        "Low",
        "Practice plan: A plain one",
        "Where the hand stands",
    ]
    assert list(facts(pages))[-1] == {"Tuning": "E A D G B E"}, "the still is of another tuning than Low"
    assert pdf_bytes(pages).startswith(b"%PDF")


def test_the_plan_on_paper_adds_up_and_asks_for_nothing_that_is_not_there(printed: Any) -> None:
    """Two seconds and their count-in at full speed; the table's times and rests give the minutes under it."""
    blocks = printed(part("practice", "tapped", ", minutes: 12")).lessons[0].blocks
    (table,) = (block for block in blocks if isinstance(block, Table))
    taken = sum(
        int(times) * (2 + 2) / (int(speed.removesuffix(" %")) / 100)
        + (0 if rest == "none" else int(rest[:-2]))
        for _, _, speed, times, rest, _ in table.rows
    )
    (words,) = (block.text for block in blocks if isinstance(block, Words) and "takes about" in block.text)
    minutes = re.search(r"about (\d+) minutes", words)
    assert minutes
    assert abs(int(minutes[1]) * 60 - taken) <= 30
    said = " ".join(row[-1] for row in table.rows)
    for absent in ("bars", "stroke", "shift", "times", "few", "aloud"):
        assert absent not in said, said


def test_steps_follow_from_what_the_passage_has() -> None:
    full = Traits(4, 2, True, True, True, True, True, Fraction(4))
    speeds = [Fraction(one, 100) for one in (40, 50, 60, 75, 90, 100)]
    steps = advised(full, speeds)
    assert len(set(steps)) == 6
    assert "Say the fingers aloud" in steps[0]
    assert "every change of string" in steps[1]
    assert "Slurred" in steps[2]
    assert "one bar ahead" in steps[3]
    bare = Traits(1, 0, False, False, True, False, False, Fraction(20))
    assert "aloud" not in (bare_steps := " ".join(advised(bare, speeds)))
    assert "Choose a finger" in bare_steps
    assert "Choose a stroke" in bare_steps
    assert len(advised(full, speeds[:1])) == 1
    assert len(advised(full, speeds * 3)) == 18


def test_traits_are_read_from_the_notes(tmp_path: Path) -> None:
    script = tmp_path / "facts.yaml"
    script.write_text(HEAD, "utf-8")
    lesson = read_lesson(script)
    plain, tapped = (traits_of(lesson.fragment(name)) for name in ("plain", "tapped"))
    assert plain == Traits(1, 0, True, True, True, False, False, Fraction(10, 3))
    assert (tapped.fingers, tapped.picked, tapped.slurred, tapped.fastest) == (False, False, True, 6)


def figures(blocks: Any) -> list[Figure]:
    return [one for block in blocks if isinstance(block, Row) for one in block.figures]


def test_positions_without_fingers_show_the_places_and_say_why(printed: Any) -> None:
    (figure,) = figures(printed(part("positions", "tapped")).lessons[0].blocks)
    assert figure.caption == "Frets 8 to 17. No fingers are written, so no position of the hand is told"
    assert "string 2 fret 17" in figure.alt


def test_harmonics_on_open_strings_are_touched_somewhere(printed: Any) -> None:
    (figure,) = figures(printed(part("positions", "bells")).lessons[0].blocks)
    assert figure.caption.startswith("Frets 5 to 12. No fingers")


def test_notes_before_the_first_finger_belong_to_the_first_position(printed: Any) -> None:
    first, *_ = figures(printed(part("positions", "low")).lessons[0].blocks)
    assert first.caption == "Position 1, from bar 1, beat 1"
    assert "string 7 fret 0" in first.alt


def test_a_still_is_printed_in_the_look_for_paper_as_large_as_its_type_needs(printed: Any) -> None:
    """Small type is 0.0345 of the frame's height; 7 points are 2.47 mm (a point is 1/72 inch)."""
    pages = printed("{part: still, scene: shown, caption: See}")
    (figure,) = (block for block in pages.lessons[0].blocks if isinstance(block, Figure))
    assert figure.picture.background is None, "it stands on the page's own ground"
    millimetres = figure.share * 172 / figure.picture.width
    assert 2.47 <= 0.0345 * 360 * millimetres < 3
    assert figure.picture.height * millimetres < 80
    colours = set(re.findall(r"#[0-9a-f]{6}", drawn(figure)))
    assert "#1d1a17" in colours
    assert "#191613" not in colours


def drawn(figure: Figure) -> str:
    from pipeline.files.svg import write_svg

    return write_svg(figure.picture)


def test_a_dead_note_has_no_fret_to_be_read_out() -> None:
    guitar = Guitar()
    notes = (
        Note(Fraction(0), Fraction(1), None, 2, None, dead=True),
        Note(Fraction(1), Fraction(1), 64, 2, 5),
    )
    fragment = Fragment("dead", guitar, notes, (Measure(Fraction(0), Fraction(4)),), Fraction(100))
    assert tab_in_words(fragment, Span("beat", Fraction(0), Fraction(4))) == (
        "Tab of 2 notes: string 2 dead, string 2 fret 5"
    )
