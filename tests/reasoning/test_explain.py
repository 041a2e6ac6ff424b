"""Weighing readings: tables, reasons, margins, and the question that would settle most."""

import json

import pytest

from pipeline.music.fragment import ClueMark
from pipeline.reasoning.costs import NAMES
from pipeline.reasoning.explain import CAUSE_WORDS, by_cause, weigh
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.lattice import lattice_of
from pipeline.reasoning.odds import shares
from pipeline.reasoning.question import gains_of, questions

LICK = [69, 72, 74, 76, 74, 72, 69, 67, 69, 72, 76, 79, 76, 74, 72, 69]


def test_every_cause_has_words() -> None:
    assert tuple(CAUSE_WORDS) == NAMES


def test_costs_by_cause_add_up_to_the_total(line) -> None:  # type: ignore[no-untyped-def]
    for weighed in weigh(line(LICK)).readings:
        assert sum(dict(weighed.by_cause).values()) == pytest.approx(weighed.reading.total, abs=1e-5)


def test_the_margin_is_what_the_second_costs_more(line) -> None:  # type: ignore[no-untyped-def]
    weighing = weigh(line(LICK))
    first, second = (weighed.reading.total for weighed in weighing.readings[:2])
    assert weighing.margin == pytest.approx(second - first)
    assert weighing.margin > 0


def test_the_text_has_a_table_a_margin_a_sentence_each_and_no_percentage(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line(LICK).but(clues=(ClueMark(5, "slurred"), ClueMark(2, "open", strength=0.5)))
    weighing = weigh(fragment)
    text = weighing.as_text()
    assert "%" not in text
    assert f"The first is ahead of the second by {weighing.margin:.2f}." in text
    assert "meets slurred on note 6 (C5)" in text
    assert "breaks open on note 3 (D5)" in text
    assert "To settle most, find out on which string is note" in text
    assert sum(line.startswith(("1. ", "2. ", "3. ", "4. ")) for line in text.splitlines()) == len(
        weighing.readings
    )


def test_clues_of_one_kind_are_told_together(line) -> None:  # type: ignore[no-untyped-def]
    clues = (ClueMark(5, "slurred"), ClueMark(2, "slurred"), ClueMark(9, "slurred"), ClueMark(0, "down"))
    text = weigh(line(LICK).but(clues=clues)).as_text()
    assert "meets slurred on notes 3, 6 and 10; down on note 1 (A4)" in text


def test_a_reading_that_shifts_is_told_by_its_shift(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line([(1, 5), (1, 7), (1, 14), (1, 12)])
    free = fragment.with_notes(note.but(fret=None) for note in fragment.notes)
    other = free.with_notes(n.but(string=1 if i < 2 else None) for i, n in enumerate(free.notes))
    weighing = weigh(other)
    assert any("mm in 125 ms" in weighed.apart for weighed in weighing.readings)


def test_data_is_plain_and_whole(line) -> None:  # type: ignore[no-untyped-def]
    weighing = weigh(line(LICK))
    data = json.loads(json.dumps(weighing.as_data()))
    assert len(data["readings"]) == len(weighing.readings)
    assert len(data["readings"][0]["places"]) == len(LICK)
    assert data["differing"] == list(weighing.differing)
    assert data["ask"]["strings"]
    costs = data["readings"][0]["costs"]
    assert sum(cost["amount"] for cost in costs) == pytest.approx(data["readings"][0]["total"])
    assert all(cost["because"] for cost in costs)


def test_one_reading_alone_has_no_margin(line) -> None:  # type: ignore[no-untyped-def]
    weighing = weigh(line([(1, 5), (1, 7)]))
    assert weighing.margin is None
    assert "it is the only reading" in weighing.readings[0].apart


def test_by_cause_leaves_out_what_costs_nothing(line) -> None:  # type: ignore[no-untyped-def]
    costs = readings(line(LICK), k=1)[0].costs
    assert all(amount > 0 for amount in by_cause(costs).values())


def test_shares_of_a_note_sum_to_one(line) -> None:  # type: ignore[no-untyped-def]
    lattice = lattice_of(line(LICK), Habits())
    found, at = shares(lattice.chain, lattice.width), 0
    for size in lattice.chain.size:
        assert found[at : at + size].sum() == pytest.approx(1.0)
        at += size


def test_the_gain_of_a_note_is_the_doubt_that_its_answer_takes_away(line) -> None:  # type: ignore[no-untyped-def]
    """Against the definition: doubt now, less the doubt with each string told, weighted by its share."""
    fragment = line([69, 72, 74])
    lattice = lattice_of(fragment, Habits())
    gains, doubt = gains_of(lattice)
    found = shares(lattice.chain, lattice.width)[: lattice.chain.size[0]]
    strings = [grip.held[0].string for grip in lattice.grips[lattice.block(0)]]
    left = 0.0
    for string in set(strings):
        chance = sum(share for share, s in zip(found, strings, strict=True) if s == string)
        told = fragment.with_notes(
            n.but(string=string) if i == 0 else n for i, n in enumerate(fragment.notes)
        )
        left += chance * gains_of(lattice_of(told, Habits()))[1].sum()
    assert gains[0] == pytest.approx(doubt.sum() - left, abs=1e-6)


def test_questions_leave_out_what_is_known(line) -> None:  # type: ignore[no-untyped-def]
    first = questions(line(LICK), count=3)
    assert [q.gain for q in first] == sorted((q.gain for q in first), reverse=True)
    again = questions(line(LICK), count=3, asked=[first[0].note])
    assert first[0].note not in [q.note for q in again]
    assert questions(line([(1, 5), (2, 5)])) == ()


def test_remarks_name_a_start_a_conflict_and_the_place_of_the_pinch(line) -> None:  # type: ignore[no-untyped-def]
    """The six-note pattern with a pinched top note: from an upstroke it fits; with the first stroke heard as
    a downstroke it does not, and the ways out stand in the order of cost."""
    six = [(3, 5), (3, 7), (3, 9), (2, 6), (2, 8), (2, 10)]
    fragment = line(six).but(clues=(ClueMark(5, "pinched", "3"),))
    free = weigh(fragment).readings[0].remarks
    assert free[0] == "Strict alternation from note 1 (C4) must start on an upstroke."
    assert free[1].startswith("The picking hand touches ")
    assert "from the bridge; from there fret 1" in free[1]
    heard = fragment.but(clues=(*fragment.clues, ClueMark(0, "down")))
    told = weigh(heard).readings[0].remarks[0]
    assert told.startswith("Strict alternation from note 1 (C4) fails at note 6 (A4); ways out: ")
    ways = ["pinch on an upstroke", "economy at the change", "a repeated stroke"]
    assert [told.index(way) for way in ways] == sorted(told.index(way) for way in ways)


def test_economy_players_are_not_held_to_alternation(line) -> None:  # type: ignore[no-untyped-def]
    fragment = line([(3, 5), (3, 7), (2, 6)]).but(clues=(ClueMark(0, "down"), ClueMark(1, "down")))
    assert weigh(fragment, Habits().stroking("economy")).readings[0].remarks == ()


def test_readings_have_names_of_their_own(line) -> None:  # type: ignore[no-untyped-def]
    for shift in range(6):
        names = [r.name for r in readings(line([p + shift for p in LICK]), k=4)]
        assert len(set(names)) == len(names)
