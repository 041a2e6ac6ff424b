"""Columns and pieces of a strip: what starts together, the room it takes, how far apart durations put it.

A column is what starts at one moment; a piece is a bar, or a beat or less of one that no row could hold.
x counts from a piece's left.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from pipeline.drawing.typeface import text_width
from pipeline.music.bends import bend_turns
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.note import Note
from pipeline.views.labels import HARMONIC_WORDS, LETTERS, finger_words, label_of
from pipeline.views.lanes import Measures, Wants
from pipeline.views.notevalues import Rhythm, beam_edges, rhythms
from pipeline.views.signs import bend_label

SPREAD = 0.62
"""Room grows with this power of duration, so that long notes do not starve short ones (own choice)."""


BENT_FREE = 0.45
"""Behind the small head that a bend leads to on a staff, as a share of the room of each."""
SHAPES_APART = 0.1
"""Between what sounds and what comes next stands this share of a digit's size."""
FINEST = 8
"""A beat that no row could hold is cut into so many parts at most."""


@dataclass(frozen=True)
class Column:
    """What starts at one moment: note indexes, grace notes before them, the room it takes to each side."""

    start: Fraction
    notes: tuple[int, ...]
    graces: tuple[int, ...]
    left: float
    right: float


@dataclass(frozen=True)
class Piece:
    """A bar, or part of one. `opens` and `closes` say whether its ends are bar lines."""

    measure: int
    start: Fraction
    end: Fraction
    columns: tuple[Column, ...]
    opens: bool
    closes: bool
    lead: float
    """Room before the first column: bar line, repeat sign, meter."""
    trail: float


@dataclass(frozen=True)
class Sheet:
    """Everything a fragment needs to be laid out at one size."""

    fragment: Fragment
    wants: Wants
    sizes: Measures
    rhythms: tuple[Rhythm, ...]

    def note_half(self, index: int) -> float:
        """Half the width of a note's label."""
        return self._halves[index]

    @cached_property
    def _halves(self) -> tuple[float, ...]:
        sizes = (self.grace_size if note.grace else self.sizes.digit for note in self.fragment.notes)
        return tuple(
            label_of(note).width(size) / 2 for note, size in zip(self.fragment.notes, sizes, strict=True)
        )

    def shape_height(self, index: int, wanted: float) -> float:
        """The height of the shape behind a note: as wanted, or less beside another note of its chord."""
        return min(wanted, self.sizes.gap * 0.94) if index in self._beside else wanted

    @cached_property
    def _beside(self) -> frozenset[int]:
        found = set[int]()
        for chord in self.fragment.chords:
            by_string = {self.fragment.notes[i].string or 0: i for i in chord}
            found |= {i for string, i in by_string.items() if {string - 1, string + 1} & by_string.keys()}
        return frozenset(found)

    def shape_half(self, column: Column) -> float:
        """Half the width of the widest shape that lights up behind a column's labels."""
        labels = (label_of(self.fragment.notes[i]) for i in column.notes)
        return max((label.shape(self.sizes.digit)[0] / 2 for label in labels), default=0.0)

    @cached_property
    def reaches(self) -> dict[Fraction, tuple[float, float]]:
        """What a staff over the strip takes to both sides of a beat."""
        return {beat: (left, right) for beat, left, right in self.wants.reaches}

    @cached_property
    def signed(self) -> dict[int, float]:
        """How far accidentals on a staff over the strip reach to the left of their notes."""
        return dict(self.wants.signed)

    def grace_room(self, index: int) -> tuple[float, float]:
        """What a grace note takes to the left and right of its middle."""
        half = self.note_half(index)
        return max(half, self.signed.get(index, 0.0)), half + self.sizes.gap * 0.3

    @property
    def grace_size(self) -> float:
        return max(self.sizes.small, self.sizes.digit * 0.66)


def make_sheet(fragment: Fragment, wants: Wants, sizes: Measures) -> Sheet:
    return Sheet(fragment, wants, sizes, rhythms(fragment))


def note_reach(sheet: Sheet, index: int) -> tuple[float, float]:
    """Room left and right of a note's middle."""
    note, gap = sheet.fragment.notes[index], sheet.sizes.gap
    half = sheet.note_half(index)
    left = half + (gap * 0.75 if note.slide_in else 0.0)
    right = half + (gap * 0.75 if note.slide_out else 0.0)
    steps = bend_steps(sheet, note)
    right += sum(steps) + (sheet.wants.bent * BENT_FREE if steps else 0.0)
    if note.vibrato != "none":
        right += gap * 0.5
    words = HARMONIC_WORDS.get(note.harmonic.kind) if note.harmonic else None
    lane = text_width(words, "semibold", sheet.sizes.small) / 2 if words else 0.0
    sign = sheet.sizes.sign * 0.5 if note.stroke or note.attack in LETTERS else 0.0
    dot = sheet.sizes.small * 0.58 if sheet.wants.fingers and note.finger is not None else 0.0
    floor = max(lane, sign, dot)
    return max(left, floor), max(right, floor)


def bend_steps(sheet: Sheet, note: Note) -> list[float]:
    """Room to the right of a label for each move of its bend: an arrow, or what its amount takes if more."""
    steps, sizes = [], sheet.sizes
    for before, after in bend_turns(note):
        word = text_width(bend_label(after), "semibold", sizes.small) if after > before else 0.0
        steps.append(max(sizes.gap * 0.62, word * 0.62 + sizes.small * 0.2, sheet.wants.bent))
    return steps


def _column(sheet: Sheet, start: Fraction, notes: tuple[int, ...], graces: tuple[int, ...]) -> Column:
    reaches = [note_reach(sheet, i) for i in notes]
    rest = sheet.sizes.small * 0.4
    words = finger_words([sheet.fragment.notes[i] for i in notes]) if sheet.wants.fingers else ""
    wide = text_width(words, "bold", sheet.sizes.small) / 2
    left = max((r[0] for r in reaches), default=rest)
    right = max((r[1] for r in reaches), default=rest)
    over_left, over_right = sheet.reaches.get(start, (0.0, 0.0))
    left, right = max(left, wide, over_left), max(right, wide, over_right)
    left += sum(sum(sheet.grace_room(i)) for i in graces)
    return Column(start, notes, graces, left, right)


def _columns(sheet: Sheet, start: Fraction, end: Fraction, rhythm: Rhythm) -> tuple[Column, ...]:
    """The columns of a stretch of one measure; rests and tied values have theirs where rhythm is shown."""
    notes = sheet.fragment.notes
    at: dict[Fraction, tuple[list[int], list[int]]] = {}
    for index, note in enumerate(notes):
        if start <= note.onset < end and note.string is not None and (note.dead or note.fret is not None):
            at.setdefault(note.onset, ([], []))[1 if note.grace else 0].append(index)
    if sheet.wants.rhythm or sheet.wants.clef:
        for sign in rhythm.signs:
            if start <= sign.start < end:
                at.setdefault(sign.start, ([], []))
    if not at:
        at[start] = ([], [])
    return tuple(_column(sheet, beat, tuple(at[beat][0]), tuple(at[beat][1])) for beat in sorted(at))


def meter_shown(fragment: Fragment, index: int) -> bool:
    """Whether a measure shows its meter: the first one, and where it changes."""
    if index == 0:
        return True
    now, before = fragment.measures[index], fragment.measures[index - 1]
    return now.meter != before.meter


def meter_width(sheet: Sheet, measure: Measure) -> float:
    size = sheet.sizes.gap * 1.75
    return max(text_width(str(part), "black", size) for part in (measure.meter.over, measure.unit))


def _lead(sheet: Sheet, index: int, opens: bool) -> float:
    gap = sheet.sizes.gap
    if not opens:
        return gap * 0.3
    lead = gap * 0.62
    if any(r.first == index for r in sheet.fragment.repeats):
        lead += gap * 0.55
    if meter_shown(sheet.fragment, index):
        lead += meter_width(sheet, sheet.fragment.measures[index]) + gap * 0.5
    return lead


def _trail(sheet: Sheet, index: int, closes: bool) -> float:
    gap = sheet.sizes.gap
    ending = [r for r in sheet.fragment.repeats if r.last == index]
    if not (closes and ending):
        return gap * 0.45 if closes else gap * 0.1
    word = text_width(f"×{ending[0].times}", "semibold", sheet.sizes.small) if ending[0].times > 2 else 0.0
    return gap * 1.0 + word + (sheet.sizes.small * 0.4 if word else 0.0)


def _piece(sheet: Sheet, index: int, start: Fraction, end: Fraction) -> Piece:
    measure = sheet.fragment.measures[index]
    opens, closes = start == measure.start, end == measure.end
    columns = _columns(sheet, start, end, sheet.rhythms[index])
    if closes and sheet.fragment.open_end and index == len(sheet.fragment.measures) - 1:
        end = max(note.end for note in sheet.fragment.notes)  # the rest of the bar is not shown
    lead, trail = _lead(sheet, index, opens), _trail(sheet, index, closes)
    return Piece(index, start, end, columns, opens, closes, lead, trail)


def _least(sheet: Sheet, one: Column, other: Column) -> float:
    """The least distance between the middles of two neighbouring columns."""
    notes = sheet.fragment.notes
    slid = any(notes[i].attack == "slide" or notes[i].shift_slide for i in other.notes)
    ring = [n for n in (notes[i] for i in one.notes) if n.vibrato != "none"]
    extra = sheet.sizes.digit * (0.62 if slid else 0.3) + (sheet.sizes.digit * 0.2 if ring else 0.0)
    shapes = sheet.shape_half(one) + sheet.shape_half(other) + sheet.sizes.digit * SHAPES_APART
    return max(one.right + other.left + extra, shapes)


def offsets(sheet: Sheet, piece: Piece, stretch: float) -> tuple[tuple[float, ...], float]:
    """The columns' distances from the piece's left, and its width, at a stretch of the ideal spacing."""
    unit = sheet.sizes.digit * 1.6 * stretch
    x = piece.lead + piece.columns[0].left
    late = piece.columns[0].start - piece.start
    if late > 0:
        x += unit * float(late * 4) ** SPREAD * 0.5
    xs = [x]
    for one, other in zip(piece.columns, piece.columns[1:], strict=False):
        ideal = unit * float((other.start - one.start) * 4) ** SPREAD
        x += max(ideal, _least(sheet, one, other))
        xs.append(x)
    last = piece.columns[-1]
    ideal = unit * float((piece.end - last.start) * 4) ** SPREAD
    return tuple(xs), x + max(ideal, last.right + piece.trail)


def piece_width(sheet: Sheet, piece: Piece, stretch: float) -> float:
    return offsets(sheet, piece, stretch)[1]


def pieces_of(sheet: Sheet, measures: range, most: float) -> list[Piece]:
    """The bars of a range as pieces; a bar wider than `most` at its tightest is cut at its beats."""
    found: list[Piece] = []
    for index in measures:
        measure = sheet.fragment.measures[index]
        whole = _piece(sheet, index, measure.start, measure.end)
        if piece_width(sheet, whole, 0.0) <= most:
            found.append(whole)
        else:
            found.extend(_cut(sheet, index, most))
    return found


def _cut(sheet: Sheet, index: int, most: float) -> list[Piece]:
    """A bar in as few equal runs of beats as fit, else in its beats or parts of them."""
    measure = sheet.fragment.measures[index]
    edges = beam_edges(measure)
    beats = len(edges) - 1
    for parts in range(2, beats + 1):
        cuts = [edges[round(i * beats / parts)] for i in range(parts + 1)]
        pieces = _filled(sheet, [_piece(sheet, index, a, b) for a, b in pairwise(cuts)])
        if all(piece_width(sheet, p, 0.0) <= most for p in pieces):
            return pieces
    return _filled(sheet, [p for a, b in pairwise(edges) for p in _beat(sheet, index, (a, b), most)])


def _beat(sheet: Sheet, index: int, span: tuple[Fraction, Fraction], most: float) -> list[Piece]:
    """A beat, cut in two, four or more where it is wider than `most`; under a staff, whose beams would be
    torn, it stays whole."""
    start, end = span
    parts, pieces = 1, [_piece(sheet, index, start, end)]
    while not sheet.wants.clef and parts < FINEST and any(piece_width(sheet, p, 0.0) > most for p in pieces):
        parts *= 2
        cuts = [start + (end - start) * i / parts for i in range(parts + 1)]
        pieces = [_piece(sheet, index, a, b) for a, b in pairwise(cuts)]
    return pieces


def _filled(sheet: Sheet, pieces: list[Piece]) -> list[Piece]:
    """The pieces, those without a note joined to the one before: a row of bare strings says nothing."""
    found: list[Piece] = []
    for piece in pieces:
        if found and not piece.columns:
            piece = _piece(sheet, piece.measure, found.pop().start, piece.end)
        found.append(piece)
    return found
