"""A text is changed where its fragment changed: other rows, columns and signs stay as they were written."""

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.music.fragment import ClueMark, Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.tabedit import edited
from pipeline.music.tabprint import print_tab
from pipeline.music.tabread import read_tab
from tests.music.fragments import QUICK, at, clues, fragments

TEXT = """\
 count   1 e   &  a  2  &
 strokes d u      d  u  d
     E4|----------------12~~-|
  G3   |-7-9-h11-12----------|
     D3|-------------12------|
 hand    7               7
 clues     @7? s
"""


def read(text: str) -> Fragment:
    return read_tab("run", text, Guitar(), at)


def text_of(text: str, fragment: Fragment) -> str:
    rows = edited(text, fragment)
    lines = text.split("\n")
    assert any(row.old is not None for row in rows)
    assert all(row.text == lines[row.old] or row.text.strip() for row in rows if row.old is not None)
    return "\n".join(row.text for row in rows)


def changed(text: str, changes: dict[int, dict[str, Any]]) -> Fragment:
    fragment = read(text)
    notes = [note.but(**changes.get(number, {})) for number, note in enumerate(fragment.notes)]
    return fragment.with_notes(notes)


def test_nothing_changes_where_nothing_did() -> None:
    assert text_of(TEXT, read(TEXT)) == TEXT


def test_fresh_clues_go_into_the_clue_row_or_below_it() -> None:
    fragment = read(TEXT)
    fresh = (ClueMark(2, "slip", "", 0.6), ClueMark(4, "noise", "2", 1.0), ClueMark(1, "open", "", 0.5))
    clues = tuple(sorted((*fragment.clues, *fresh), key=lambda clue: clue.note))
    wanted = TEXT.replace("@7? s\n", "@7? sz?6  x2\n clues     o?\n")
    assert text_of(TEXT, fragment.but(clues=clues)) == wanted
    assert set(read(wanted).clues) == set(clues)


def test_fingers_and_hand_get_rows_and_cells_of_their_own() -> None:
    fingers, hands = (1, 3, 4, 4, 4, None), (7, 7, 7, 9, 9, 9)
    given = {n: {"finger": f, "position": h} for n, (f, h) in enumerate(zip(fingers, hands, strict=True))}
    wanted = TEXT.replace(" hand    7               7\n", " hand    7       9\n") + " fingers 1 3  4  4   4\n"
    assert text_of(TEXT, changed(TEXT, given)) == wanted


def test_strokes_are_replaced_and_taken_away() -> None:
    written = text_of(TEXT, changed(TEXT, {1: {"stroke": "down"}, 5: {"stroke": None}}))
    assert written == TEXT.replace(" strokes d u      d  u  d\n", " strokes d d      d  u\n")


def test_a_moved_note_keeps_its_column() -> None:
    written = text_of(TEXT, changed(TEXT, {3: {"string": 2, "fret": 8}, 4: {"string": 3, "fret": 7}}))
    wide = TEXT.replace("&  a  2", "& a   2").replace("d  u  d", "d   u  d").replace("u      d ", "u     d ")
    assert written == wide.replace(
        "  G3   |-7-9-h11-12----------|\n     D3|-------------12------|",
        "     B3|---------8-----------|\n  G3   |-7-9-h11-----7-------|\n     D3|---------------------|",
    )


def test_a_system_is_widened_where_a_moved_note_needs_room() -> None:
    moved = {0: {"string": 4, "fret": 12}, 1: {"string": 4, "fret": 14}, 2: {"string": 4, "fret": 16}}
    assert (
        text_of(TEXT, changed(TEXT, moved))
        == """\
 count   1  e    &  a  2  &
 strokes d  u       d  u  d
     E4|------------------12~~-|
  G3   |-----------12----------|
     D3|-12-14-h16-----12------|
 hand    7                 7
 clues      @7?  s
"""
    )


def test_room_is_made_left_of_everything_for_the_label_of_a_new_row() -> None:
    text = "E4|-3-5-|-7-|\nB3|-----|---|"
    written = text_of(text, changed(text, {1: {"finger": 3}, 2: {"string": 3, "fret": 16}}))
    assert written == "  E4|-3-5-|----|\n  B3|-----|----|\n  G3|-----|-16-|\nfingers 3"


@settings(max_examples=40, **QUICK)
@given(fragments(), st.data())
def test_sides_are_rewritten_in_place(fragment: Fragment, data: st.DataObject) -> None:
    text = print_tab(fragment)
    fingers = st.sampled_from((None, 0, 1, 2, 3, 4))
    notes, hand, stroke = [], None, None
    for number, note in enumerate(fragment.notes):
        if number == 0 or note.onset != fragment.notes[number - 1].onset:
            hand, stroke = (
                data.draw(st.sampled_from((hand, None, 3, 11))),
                data.draw(st.sampled_from((None, "down"))),
            )
        picked = note.attack == "pick"
        notes.append(note.but(finger=data.draw(fingers), position=hand, stroke=stroke if picked else None))
    marked = sorted([*fragment.clues, *data.draw(clues(notes))], key=lambda clue: clue.note)
    new = fragment.but(notes=tuple(notes), clues=tuple(marked))
    written = text_of(text, new)
    strings = [line for line in text.split("\n") if "|" in line]
    assert [line for line in written.split("\n") if "|" in line] == strings
    again = read_tab("made up", written, fragment.guitar, at, tempo=fragment.tempo)
    assert again.notes == new.notes
    assert sorted(map(repr, again.clues)) == sorted(map(repr, new.clues))


@settings(max_examples=40, **QUICK)
@given(fragments(), st.integers(1, 3))
def test_all_notes_may_change_strings(fragment: Fragment, by: int) -> None:
    """On strings turned round every link between notes stays; clues on chords would change their string."""
    text, guitar = print_tab(fragment), fragment.guitar
    notes = []
    for note in fragment.but(clues=()).notes:
        string = ((note.string or 1) - 1 + by) % guitar.string_count + 1
        pitch = None if note.fret is None else guitar.pitch(string, note.fret)
        notes.append(note.but(string=string, pitch=pitch))
    new = fragment.but(notes=tuple(notes), clues=())
    text = print_tab(fragment.but(clues=()))
    written = text_of(text, new)
    again = read_tab("made up", written, guitar, at, tempo=fragment.tempo)
    assert sorted(map(repr, again.notes)) == sorted(map(repr, new.notes))
    sides = [line.split()[0] for line in text.split("\n") if line]
    assert [line.split()[0] for line in written.split("\n") if line] == sides
