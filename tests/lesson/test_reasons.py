"""`Why here` argues about the reading that is printed, and a reader can tell it from its rivals."""

from pathlib import Path

from pipeline.files.pages import Points, Table, Words
from pipeline.lesson.answers import freed
from pipeline.lesson.check import read_checked
from pipeline.lesson.check_files import habits_called
from pipeline.lesson.reasons import reason_blocks
from pipeline.lesson.resolve import read_lesson
from pipeline.music.fragment import Fragment
from pipeline.reasoning.explain import weigh
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.names import zone_name

DEMO = Path(__file__).parents[2] / "scenes" / "kestrel" / "kestrel.yaml"
NAMES = ["As printed", "Rival A", "Rival B", "Rival C"]


def demo() -> tuple[Fragment, Habits]:
    checked = read_checked(DEMO)
    return checked.fragments["kestrel"], habits_called(checked.script.episode.habits, DEMO.parent)


def test_the_printed_reading_comes_first_and_every_rival_is_held_against_it() -> None:
    fragment, habits = demo()
    blocks = list(reason_blocks(fragment, habits))
    table = next(block for block in blocks if isinstance(block, Table))
    points = next(block for block in blocks if isinstance(block, Points))
    assert [row[0] for row in table.rows] == NAMES
    lowest = min(note.position for note in fragment.notes if note.position)
    assert table.rows[0][1].startswith(f"positions {lowest} to ")
    own = float(table.rows[0][2])
    for name, row, sentence in zip(NAMES[1:], table.rows[1:], points.items, strict=True):
        assert sentence.startswith(f"{name}, {row[1]}, ")
        assert (" more: " in sentence) == (float(row[2]) > own)
        assert " elsewhere, " in sentence
    easier = [row[0] for row in table.rows[1:] if float(row[2]) < own]
    verdict = next(
        block.text for block in blocks if isinstance(block, Words) and "By these sums" in block.text
    )
    assert all((name in verdict) == (name in easier) for name in NAMES[1:])


def test_the_easiest_reading_is_no_rival_of_itself() -> None:
    fragment, habits = demo()
    best = weigh(freed(fragment), habits, k=1).readings[0].reading
    blocks = list(reason_blocks(best.on(fragment), habits))
    table = next(block for block in blocks if isinstance(block, Table))
    assert float(table.rows[0][2]) == round(best.total, 1)
    assert table.rows[0][4] == f"{len(fragment.clues)} met"
    plain = list(reason_blocks(best.on(fragment).but(clues=()), habits))
    assert next(block for block in plain if isinstance(block, Table)).rows[0][4] == "none"
    assert all(float(row[2]) >= float(table.rows[0][2]) for row in table.rows[1:])
    assert any(isinstance(block, Words) and "is the easiest" in block.text for block in blocks)


def test_what_no_hand_takes_is_said_and_the_rivals_are_told() -> None:
    fragment, habits = demo()
    broken = fragment.with_notes([fragment.notes[0].but(position=1), *fragment.notes[1:]])
    blocks = list(reason_blocks(broken, habits))
    assert any(isinstance(block, Words) and "no hand takes note 1" in block.text for block in blocks)
    assert next(block for block in blocks if isinstance(block, Table)).rows[0][0] == "Rival A"


def test_rivals_of_a_part_have_names_that_differ() -> None:
    """In bars 2 to 3 the demo's two rivals keep the hand in the same positions."""
    rivals = read_lesson(DEMO).scene("rivals").composition.placed[0].stage.readings
    assert len({one.name for one in rivals}) == len(rivals) == 2
    assert {zone_name(one.places) for one in rivals} == {"positions 8 to 13"}


def test_the_scale_and_its_positions_are_told_of_what_is_printed() -> None:
    fragment, habits = demo()
    blocks = list(reason_blocks(fragment, habits))
    index = blocks.index(Words("What the passage is made of:"))
    made_of = blocks[index + 1]
    assert isinstance(made_of, Points)
    assert made_of.items[0].startswith("Its notes fit E minor, and ")
    assert made_of.items[1].startswith(
        "It goes through 6 positions of three notes a string: notes 1 to 14 at "
    )
