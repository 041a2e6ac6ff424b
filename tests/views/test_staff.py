"""The staff against the fragment: every head over its fret and at its pitch, every sign beside its note."""

from fractions import Fraction
from functools import cache
from itertools import pairwise

import corpus
import pytest
import staffheads

from pipeline.drawing.outline import outline_box
from pipeline.music.fragment import Fragment
from pipeline.music.note import Harmonic
from pipeline.views.paging import standing
from pipeline.views.rows import Laid
from pipeline.views.staff import Staff, lay
from pipeline.views.staffover import StaffOver
from pipeline.views.staffshapes import StaffShapes

F = Fraction
on, written = corpus.on, corpus.written
WIDTHS = (700, 1100, 1728)
EXACT = 0.75
"""Pixels by which the middle of a head's box may miss its place."""


@cache
def laid(fragment: Fragment, width: int = 1728, height: int = 480) -> tuple[Laid, StaffShapes]:
    found = lay(Staff(), corpus.stage_of(fragment, width, height))
    assert found is not None
    assert isinstance(found.over, StaffOver)
    return found, found.over.shapes


def dense() -> Fragment:
    """A bar that no row holds, so that rows break inside it."""
    return written("dense", corpus.PLAIN, [(F(1, 8), on(1, 10 + i % 9)) for i in range(32)])


def uneven() -> Fragment:
    """Twelve notes in a beat, one of which takes much room on the tab."""
    bent = on(1, 7, bend=corpus._bend((0, 0), (F(1, 2), 2), (1, 0)), vibrato="wide")
    items = [(F(1, 12), on(1, 5)), (F(1, 6), bent), *((F(1, 12), on(1, 7 + i)) for i in range(9))]
    return written("uneven", corpus.PLAIN, [*items, (3, on(2, 5))])


def long_rests() -> Fragment:
    """Chords and rests, dotted and of a whole bar."""
    both = on(1, 7), on(2, 8)
    items = [(F(3, 4), on(1, 5)), (F(3, 4),), (F(1, 2), *both), (F(3, 2),), (F(1, 2), on(1, 7))]
    return written("rests", corpus.PLAIN, [*items, (3, *both), (1,), (4,), (4, on(2, 3))])


def split() -> Fragment:
    """Slurs and ties from row to row."""
    run = [(F(1, 4), on(1, 5 + i % 5, attack="hammer" if i % 2 else "pick")) for i in range(12)]
    tied = [(1, on(3, 7)), (1, on(3, 7, attack="tie")), (1, on(3, 9, attack="slide")), (2, on(3, 7))]
    return written("split", corpus.PLAIN, [*run, *tied])


def touched() -> Fragment:
    """An artificial harmonic among plain notes."""
    harmonic = Harmonic("artificial", 2, F(17))
    return written("touched", corpus.PLAIN, [(1, on(3, 5, harmonic=harmonic)), (1, on(3, 5)), (2, on(3, 7))])


FRAGMENTS = {
    **{name: found for name, found in corpus.corpus().items() if found.placed},
    "touched": touched(), "dense": dense(), "uneven": uneven(), "rests": long_rests(), "split": split(),
}  # fmt: skip


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", sorted(FRAGMENTS))
def test_every_head_stands_over_its_fret_at_its_pitch(name: str, width: int) -> None:
    page, over = laid(FRAGMENTS[name], width)
    for row, piece, _, _ in staffheads.beats_of(page):
        heads = [box.centre for box in staffheads.boxes(page, row, piece, "notehead")]
        for index, x, y in staffheads.wanted(page, over, row, piece):
            beside = over.space * 1.4 if has_second(over.fragment, index) else 0.0
            near = [h for h in heads if abs(h[1] - y) <= EXACT and abs(h[0] - x) <= EXACT + beside]
            assert near, f"note {index} belongs at {x:.0f}, {y:.0f}"
            heads.remove(near[0])
        columns = page.systems[row].placed[piece].xs
        assert all(min(abs(x - at) for at in columns) < over.space * 1.4 for x, _ in heads), "parts of ties"


def has_second(fragment: Fragment, index: int) -> bool:
    """Whether a note of its chord lies a step away, so that one of them stands beside the stem."""
    note = fragment.notes[index]
    steps = sorted(
        staffheads.step_of(pitch, fragment.flats)
        for other in fragment.notes
        if other.onset == note.onset and not other.grace
        and (pitch := staffheads.shown_pitch(fragment, other)) is not None
    )  # fmt: skip
    return any(b - a <= 1 for a, b in pairwise(steps))


@pytest.mark.parametrize("name", sorted(FRAGMENTS))
def test_nothing_leaves_its_row(name: str) -> None:
    page, over = laid(FRAGMENTS[name], 1100)
    kinds = ("notehead", "stem", "beam", "slur", "tie", "gliss", "rest", "dots", "tupletNum", "tupletBracket")
    for row, piece, _, _ in staffheads.beats_of(page):
        system = page.systems[row]
        for kind in kinds:
            for box in staffheads.boxes(page, row, piece, kind):
                assert system.opening - 1 <= box.x, kind
                assert box.right <= system.placed[-1].right + over.space, kind


def test_the_digits_of_a_tuplets_number_stand_together_in_its_middle() -> None:
    page, over = laid(uneven())
    one, two = staffheads.boxes(page, 0, 0, "tupletNum")
    beam = staffheads.boxes(page, 0, 0, "beam")
    left, right = min(b.x for b in beam), max(b.right for b in beam)
    assert one.width < 1.5 * over.space > two.width, "as broad as they are drawn"
    assert abs(two.x - one.right) < 0.4 * over.space
    assert (one.x + two.right) / 2 == pytest.approx((left + right) / 2, abs=over.space)


def test_a_tuplet_that_no_beam_shows_has_a_bracket() -> None:
    three = [(F(2, 3), on(1, 5 + i)) for i in range(3)]
    page, _ = laid(written("three", corpus.PLAIN, [*three, (2, on(1, 5))]))
    first, last = staffheads.boxes(page, 0, 0, "tupletBracket")
    heads = staffheads.boxes(page, 0, 0, "notehead")
    assert first.x <= heads[0].right
    assert last.right >= heads[2].x
    assert not staffheads.boxes(*(laid(uneven())[0], 0, 0), "tupletBracket")


def test_dots_of_rests_stay_round_and_beside_them() -> None:
    page, over = laid(long_rests(), 900)
    for row, piece, _, _ in staffheads.beats_of(page):
        for dot in staffheads.boxes(page, row, piece, "dots"):
            owners = [
                box
                for kind in ("rest", "notehead")
                for box in staffheads.boxes(page, row, piece, kind)
                if 0 < dot.x - box.right < 1.6 * over.space
            ]
            assert owners
            assert dot.width == pytest.approx(dot.height, abs=0.1)


def test_rests_stand_in_their_columns() -> None:
    page, _ = laid(long_rests(), 900)
    columns = {c.start: x for p in page.systems[0].placed
               for c, x in zip(p.piece.columns, p.xs, strict=True)}  # fmt: skip
    middles = [box.centre[0] for box in staffheads.boxes(page, 0, 0, "rest")]
    for beat in (F(3, 4), F(1), F(2)):
        assert any(abs(x - columns[beat]) < 0.75 for x in middles)


def test_an_artificial_harmonic_shows_where_it_is_stopped_and_touched() -> None:
    """MusicXML 4.0, `harmonic`: C4 stopped and F4 touched sound C6; C4 is the tenth fret of D3."""
    harmonic = Harmonic("artificial", 4, F(15))
    page, over = laid(written("ah", corpus.PLAIN, [(1, on(4, 10, harmonic=harmonic))]))
    kinds = ("notehead", "touch")
    base, touch = (box.centre for kind in kinds for box in staffheads.boxes(page, 0, 0, kind))
    assert abs(base[0] - touch[0]) < 4
    steps = [(y - over.top_line) / over.space for _, y in (base, touch)]
    assert steps == pytest.approx([1.5, 0.0], abs=0.05), "C and F on the treble staff"


def test_a_bend_leads_to_small_heads_under_the_tabs_arrows() -> None:
    bend = corpus._bend((0, 0), (F(1, 2), 2), (1, 0))
    fragment = written("bend", corpus.PLAIN, [(1, on(2, 15, bend=bend)), (1, on(2, 12))])
    page, over = laid(fragment)
    boxes = staffheads.boxes(page, 0, 0, "bent notehead")
    heads = [box for box in boxes if box.width > 0.7 * over.space]
    note = next(box for box in staffheads.boxes(page, 0, 0, "notehead"))
    up, back = sorted(heads, key=lambda box: box.x)
    assert up.width < note.width
    assert note.centre[1] - up.centre[1] == pytest.approx(over.space / 2, abs=0.5), "D to E is a step"
    assert back.centre[1] == pytest.approx(note.centre[1], abs=0.5)
    tips = [mark for mark in standing(page, 0, 0).marks if mark.name == "bend 0 head"]
    for tip, head in zip(tips, (up, back), strict=True):
        assert outline_box(tip.outline).centre[0] == pytest.approx(head.centre[0], abs=2)
    assert len(staffheads.boxes(page, 0, 0, "bend")) == 2


def test_a_quarter_bend_has_a_sign_and_no_head() -> None:
    bend = corpus._bend((0, 0), (1, F(1, 2)))
    page, _ = laid(written("quarter", corpus.PLAIN, [(1, on(2, 15, bend=bend))]))
    assert not staffheads.boxes(page, 0, 0, "bent notehead")
    assert len(staffheads.boxes(page, 0, 0, "bend")) == 1


def test_small_heads_and_accidentals_touch_nothing_before_them() -> None:
    bend = corpus._bend((0, 0), (F(1, 3), 1), (F(2, 3), 4), (1, 0))
    items = [(F(1, 4), on(3, 5)), (F(1, 4), on(3, 6, bend=bend)), (F(1, 4), on(3, 6)), (F(1, 4), on(3, 8))]
    for width in (700, 900):
        page, _ = laid(written("tight", corpus.PLAIN, items * 2), width)
        for row, piece, _, _ in staffheads.beats_of(page):
            heads = staffheads.boxes(page, row, piece, "notehead")
            others = [
                box
                for kind in ("accid", "bent notehead", "bent accid")
                for box in staffheads.boxes(page, row, piece, kind)
            ]
            assert not [box for box in others if any(box.inset(0.5).meets(head) for head in heads)]


def test_an_accent_stands_once() -> None:
    page, _ = laid(written("low", corpus.PLAIN, [(1, on(6, 5, accent=True, stroke="down")), (1, on(6, 3))]))
    signs = staffheads.boxes(page, 0, 0, "artic")
    names = [mark.name for mark in standing(page, 0, 0).marks]
    assert len(signs) == 1
    assert not [name for name in names if name.startswith("accent")]
    stroke = next(m for m in standing(page, 0, 0).marks if m.name.startswith("stroke"))
    assert outline_box(stroke.outline).y - signs[0].bottom > 3, "clear of the stroke"


def test_a_join_goes_on_in_the_next_row() -> None:
    page, over = laid(split(), 700)
    going, coming = set(), set()
    for row, piece, _, _ in staffheads.beats_of(page):
        system = page.systems[row]
        for kind in ("tie", "slur"):
            for box in staffheads.boxes(page, row, piece, kind):
                going |= {row + 1} if system.placed[-1].right - box.right < over.space else set()
                coming |= {row} if box.x - system.placed[0].x < over.space / 2 else set()
    assert going
    assert going == coming


def test_a_beam_at_one_note_alone_keeps_its_length() -> None:
    page, over = laid(
        written("dotted", corpus.PLAIN, [(F(3, 4), on(1, 12)), (F(1, 4), on(1, 5)), (3, on(1, 7))])
    )
    lengths = sorted(box.width / over.space for box in staffheads.boxes(page, 0, 0, "beam"))
    assert lengths[0] < 1.8
    assert lengths[-1] > 4


def test_the_rings_of_a_chord_are_one() -> None:
    """Rings round heads a third apart would cross one another's heads."""
    fragment = written("chord", corpus.PLAIN, [(4, on(4, 10), on(3, 9), on(2, 8), on(1, 12))])
    page, _ = laid(fragment)
    system = page.systems[0]
    assert page.over is not None
    drawn = [page.over.sounding(page.brush, system, index) for index in range(4)]
    rings = [mark for marks in drawn for mark in marks if mark.name == "lit head"]
    heads = [outline_box(m.outline) for marks in drawn for m in marks if m.name == "lit notehead"]
    points = [(x, y) for ring in rings for _, v in ring.outline for x, y in zip(v[::2], v[1::2], strict=True)]
    for head in heads:
        assert not [y for x, y in points if head.x < x < head.right and head.y - 1 < y < head.bottom + 1]
    assert min(y for _, y in points) < min(head.y for head in heads)
    assert max(y for _, y in points) > max(head.bottom for head in heads)


def test_grace_notes_make_room_for_accidentals() -> None:
    graces = [on(2, fret, grace=True, duration=F(0)) for fret in (8, 9)]
    items = [(F(1, 2), *graces, on(2, 11)), (F(1, 2), on(2, 10, attack="hammer"))]
    page, _ = laid(written("graces", corpus.PLAIN, items), 900)
    heads, signs = (staffheads.boxes(page, 0, 0, kind) for kind in ("notehead", "accid"))
    assert len(signs) == 3, "G sharp, A sharp and the natural after it"
    assert not [sign for sign in signs if any(sign.inset(0.5).meets(head) for head in heads)]


def test_a_bend_and_what_joins_its_note_keep_clear_of_each_other() -> None:
    bend = corpus._bend((0, 0), (F(1, 2), 2))
    tied = [(1, on(3, 9, bend=bend)), (1, on(3, 9, attack="tie")), (1, on(5, 2, bend=bend))]
    page, over = laid(written("tied", corpus.PLAIN, [*tied, (1, on(5, 2, attack="tie"))]))
    small = [b for b in staffheads.boxes(page, 0, 0, "bent notehead") if b.width > 0.7 * over.space]
    ties = staffheads.boxes(page, 0, 0, "tie")
    assert len(small) == len(ties) == 2
    for head, tie in zip(sorted(small), sorted(ties), strict=True):
        assert tie.y > head.centre[1], "under it"


def test_a_slur_goes_over_the_signs_of_a_bend() -> None:
    bend = corpus._bend((0, 0), (F(1, 2), 2), (1, 0))
    items = [
        (F(1, 2), on(1, 10)),
        (F(1, 2), on(1, 11, attack="hammer", bend=bend)),
        (1, on(1, 10, attack="pull")),
    ]
    page, _ = laid(written("over", corpus.PLAIN, items))
    (slur,) = staffheads.boxes(page, 0, 0, "slur")
    assert slur.y < min(box.y for box in staffheads.boxes(page, 0, 0, "bend"))


def test_slides_from_and_to_nowhere_stand_beside_their_head() -> None:
    items = [(1, on(3, 8, slide_in="below", slide_out="down")), (1, on(3, 9, slide_in="above"))]
    page, over = laid(written("loose", corpus.PLAIN, [*items, (2, on(3, 7))]))
    lines, heads = (staffheads.boxes(page, 0, 0, kind) for kind in ("slide", "notehead"))
    signs = [*heads, *staffheads.boxes(page, 0, 0, "accid")]
    assert len(lines) == 3
    for one in lines:
        assert min(abs(one.centre[1] - head.centre[1]) for head in heads) < over.space / 2
        assert not any(one.meets(sign) for sign in signs)
