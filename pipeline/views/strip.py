"""How a strip of tab is laid out: lanes over and under the strings, columns spaced by duration, systems.

Nothing here has a colour. x counts from the left of a system, y from its top. A column is what starts at one
moment; a piece is a bar, or a beat of one that no row could hold; a system is a row of pieces.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from pipeline.drawing.typeface import text_width
from pipeline.music.fragment import Fragment, Measure
from pipeline.music.note import Note
from pipeline.music.pitch import pitch_class_name
from pipeline.views.glide import Glide, glide_through
from pipeline.views.notevalues import Rhythm, beam_unit, rhythms
from pipeline.views.signs import bend_label

FACE = "bold"
SPREAD = 0.62
"""Room grows with this power of duration, so that long notes do not starve short ones (own choice)."""


@dataclass(frozen=True)
class Wants:
    """What a strip shows beside the frets."""

    strokes: bool = True
    fingers: bool = True
    rhythm: bool = True
    numbers: bool = True
    tuning: bool = True
    clef: float = 0.0
    """Room in pixels for the clef of a staff that stands over the strip; the staff shows meter and rhythm."""


@dataclass(frozen=True)
class Label:
    """What stands on a string for a note: parts with their brackets, or a cross."""

    parts: tuple[tuple[str, str], ...]
    dead: bool = False

    def width(self, size: float) -> float:
        if self.dead:
            return size * 0.5
        return sum(part_width(text, bracket, size) for text, bracket in self.parts)


def part_width(text: str, bracket: str, size: float) -> float:
    """The width of one part with its brackets."""
    return text_width(text, FACE, size) + (size * 0.44 if bracket else 0.0)


def fret_text(fret: Fraction | int) -> str:
    """A fret as written: 12, or 3.2 where a node lies between frets."""
    return str(int(fret)) if Fraction(fret).denominator == 1 else f"{float(fret):.1f}"


def label_of(note: Note) -> Label:
    """The label of a placed note."""
    fret = str(note.fret)
    if note.dead:
        return Label((), dead=True)
    harmonic = note.harmonic
    if harmonic is not None and harmonic.kind == "natural":
        touched = harmonic.touch if harmonic.touch is not None else Fraction(note.fret or 0)
        return Label(((fret_text(touched), "angle"),))
    if harmonic is not None and harmonic.kind == "artificial" and harmonic.touch is not None:
        return Label(((fret, ""), (fret_text(harmonic.touch), "angle")))
    return Label(((fret, "round" if note.ghost or note.attack == "tie" else ""),))


LETTERS = {"hammer": "H", "pull": "P", "tap": "T"}
HARMONIC_WORDS = {"natural": "NH", "artificial": "AH", "pinch": "PH"}
MUTE_WORD, RING_WORD = "PM", "ring"


@dataclass(frozen=True)
class Measures:
    """Sizes of the strip in pixels, and the y of every lane of a system."""

    gap: float
    digit: float
    small: float
    sign: float
    first: float
    strings: int
    height: float
    lanes: tuple[tuple[str, float], ...]

    def string_y(self, string: int) -> float:
        return self.first + (string - 1) * self.gap

    @property
    def last(self) -> float:
        return self.string_y(self.strings)

    @property
    def middle(self) -> float:
        return (self.first + self.last) / 2

    @cached_property
    def _lane(self) -> dict[str, float]:
        return dict(self.lanes)

    def lane(self, name: str) -> float | None:
        """The middle of a lane, None where the strip has no such lane."""
        return self._lane.get(name)

    @property
    def number_lane(self) -> float:
        """Where bar numbers stand: the lane next to the strings."""
        above = [y for _, y in self.lanes if y < self.first]
        return max(above, default=self.first - self.small)


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
class Placed:
    """A piece where it stands in its system."""

    piece: Piece
    x: float
    width: float
    xs: tuple[float, ...]

    @property
    def right(self) -> float:
        return self.x + self.width


@dataclass(frozen=True)
class System:
    """A row of pieces. `note_x` is the middle of every note's label."""

    placed: tuple[Placed, ...]
    prefix: float
    opening: float
    """Where the strings begin: at the prefix's end, or before it where a clef stands over them."""
    width: float
    note_x: tuple[tuple[int, float], ...]

    @property
    def start(self) -> Fraction:
        return self.placed[0].piece.start

    @property
    def end(self) -> Fraction:
        return self.placed[-1].piece.end

    @cached_property
    def xs(self) -> dict[int, float]:
        return dict(self.note_x)

    @cached_property
    def glide(self) -> Glide:
        """From beats to x: through every column, resting nowhere, never going back."""
        points = [
            (float(column.start), x)
            for one in self.placed
            for column, x in zip(one.piece.columns, one.xs, strict=True)
        ]
        opening = (float(self.start), self.placed[0].x + self.placed[0].piece.lead * 0.6)
        head = [opening] if not points or points[0][0] > float(self.start) else []
        return glide_through([*head, *points, (float(self.end), self.placed[-1].right)])


@dataclass(frozen=True)
class Sheet:
    """Everything a fragment needs to be laid out at one size."""

    fragment: Fragment
    wants: Wants
    sizes: Measures
    rhythms: tuple[Rhythm, ...]

    def note_half(self, index: int) -> float:
        """Half the width of a note's label."""
        note = self.fragment.notes[index]
        size = self.grace_size if note.grace else self.sizes.digit
        return label_of(note).width(size) / 2

    @property
    def grace_size(self) -> float:
        return max(self.sizes.small, self.sizes.digit * 0.66)


# lanes -------------------------------------------------------------------------------------------------

WORDED: tuple[tuple[str, Callable[[Note], bool]], ...] = (
    ("harmonic", lambda note: note.harmonic is not None),
    ("mute", lambda note: note.palm_mute),
    ("ring", lambda note: note.let_ring),
)
"""What is said in words over the strings; kinds that never come near each other share a lane."""
APART = 3
"""So many columns must lie between words of two kinds in one lane."""


def word_lanes(fragment: Fragment) -> list[list[str]]:
    """The kinds of words over the strings, put together into as few lanes as keep them apart."""
    lanes: list[list[str]] = []
    columns: dict[str, set[int]] = {}
    for kind, holds in WORDED:
        own = {c for c, chord in enumerate(fragment.chords) if any(holds(fragment.notes[i]) for i in chord)}
        columns[kind] = {c + d for c in own for d in range(APART)}
        if not own:
            continue
        free = next((lane for lane in lanes if not any(columns[kind] & columns[k] for k in lane)), None)
        if free is None:
            lanes.append([kind])
        else:
            free.append(kind)
    return lanes


def wanted_lanes(fragment: Fragment, wants: Wants) -> tuple[list[list[str]], list[list[str]]]:
    """The lanes over the strings, from the strings up, and those under them, each with what stands in it."""
    notes = fragment.notes
    above = {
        "bend": any(n.bend for n in notes),
        "attack": any(n.attack in LETTERS or n.tremolo or (wants.strokes and n.stroke) for n in notes),
        "accent": any(n.accent or n.staccato for n in notes),
    }
    below = {"finger": wants.fingers and any(n.finger is not None for n in notes), "rhythm": wants.rhythm}
    over = [[name] for name, there in above.items() if there] + word_lanes(fragment)
    if not over and wants.numbers:
        over = [["number"]]
    return over, [[name] for name, there in below.items() if there]


LANE_HEIGHTS = {
    "bend": 1.32, "attack": 1.05, "accent": 0.55, "harmonic": 0.88, "mute": 0.88, "ring": 0.88,
    "number": 0.92, "finger": 1.22, "rhythm": 1.92,
}  # fmt: skip
"""Heights in small type sizes."""
EDGE = 0.58
"""Room between the outer strings and the lanes, in string gaps."""
TIGHTEST = 0.72
"""The least string gap, in small type sizes: digits of neighbouring strings still stand apart."""
GIVES_WAY = ("rhythm", "finger", "accent", "mute", "ring", "harmonic", "attack", "bend", "number")
"""Which lanes go first where the room cannot hold them all."""


def measure_strip(fragment: Fragment, wants: Wants, room: float, small: float, gap: float, digit: float,
                  ) -> Measures:  # fmt: skip
    """Fit the lanes into `room` pixels: the string gap gives way first, never the words' size.

    `gap` and `digit` are the look's sizes and are not exceeded. Where even the tightest strip is too tall,
    whole lanes are left out in the order of `GIVES_WAY`.
    """
    over, under = wanted_lanes(fragment, wants)
    for name in ("", *GIVES_WAY):
        over = [kept for lane in over if (kept := [k for k in lane if k != name])]
        under = [kept for lane in under if (kept := [k for k in lane if k != name])]
        sizes = _measured(fragment.guitar.string_count, (over, under), room, small, (gap, digit))
        if sizes.height <= room + small * 0.1:
            break
    return sizes


def _measured(strings: int, lanes: tuple[list[list[str]], list[list[str]]], room: float, small: float,
              most: tuple[float, float]) -> Measures:  # fmt: skip
    over, under = lanes
    heights = small * sum(LANE_HEIGHTS[lane[0]] for lane in over + under)
    gap = max(small * TIGHTEST, min(most[0], (room - heights) / (strings - 1 + 2 * EDGE)))
    digit = max(small, min(most[1], gap * 0.95))
    edge = max(EDGE * gap, digit * 0.45)
    y, places = 0.0, list[tuple[str, float]]()
    for lane in reversed(over):
        places.extend((name, y + LANE_HEIGHTS[lane[0]] * small / 2) for name in lane)
        y += LANE_HEIGHTS[lane[0]] * small
    first = y + edge
    y = first + (strings - 1) * gap + edge
    for lane in under:
        places.extend((name, y + LANE_HEIGHTS[lane[0]] * small / 2) for name in lane)
        y += LANE_HEIGHTS[lane[0]] * small
    return Measures(gap, digit, small, small * 0.86, first, strings, y, tuple(places))


# columns -----------------------------------------------------------------------------------------------


def _note_reach(sheet: Sheet, index: int) -> tuple[float, float]:
    """Room left and right of a note's middle."""
    note, gap = sheet.fragment.notes[index], sheet.sizes.gap
    half = sheet.note_half(index)
    left = half + (gap * 0.75 if note.slide_in else 0.0)
    right = half + (gap * 0.75 if note.slide_out else 0.0)
    if note.bend:
        right += _bend_room(note, sheet.sizes)
    if note.vibrato != "none":
        right += gap * 0.5
    words = HARMONIC_WORDS.get(note.harmonic.kind) if note.harmonic else None
    lane = text_width(words, "semibold", sheet.sizes.small) / 2 if words else 0.0
    sign = sheet.sizes.sign * 0.5 if note.stroke or note.attack in LETTERS else 0.0
    dot = sheet.sizes.small * 0.58 if sheet.wants.fingers and note.finger is not None else 0.0
    floor = max(lane, sign, dot)
    return max(left, floor), max(right, floor)


def bend_turns(note: Note) -> list[tuple[Fraction, Fraction]]:
    """The changes of a bend as (from, to) semitones, a pre-bend first as (0, amount)."""
    levels = [point.semitones for point in note.bend]
    turns = [] if not levels or levels[0] == 0 else [(Fraction(0), levels[0])]
    return turns + [(a, b) for a, b in itertools.pairwise(levels) if a != b]


def _bend_room(note: Note, sizes: Measures) -> float:
    """Room to the right for arrows and amounts, at least what the words over them take."""
    room = 0.0
    for before, after in bend_turns(note):
        word = text_width(bend_label(after), "semibold", sizes.small) if after > before else 0.0
        room += max(sizes.gap * 0.62, word * 0.62 + sizes.small * 0.2)
    return room


def finger_words(notes: Sequence[Note]) -> str:
    """The fingers of notes that sound together, each once, from the highest string; T is the thumb."""
    fingers = dict.fromkeys(n.finger for n in notes if n.finger is not None)
    return "".join("T" if finger == 0 else str(finger) for finger in fingers)


def _column(sheet: Sheet, start: Fraction, notes: tuple[int, ...], graces: tuple[int, ...]) -> Column:
    reaches = [_note_reach(sheet, i) for i in notes]
    rest = sheet.sizes.small * 0.4
    words = finger_words([sheet.fragment.notes[i] for i in notes]) if sheet.wants.fingers else ""
    wide = text_width(words, "bold", sheet.sizes.small) / 2
    left = max((r[0] for r in reaches), default=rest)
    right = max((r[1] for r in reaches), default=rest)
    left, right = max(left, wide), max(right, wide)
    left += sum(2 * sheet.note_half(i) + sheet.sizes.gap * 0.3 for i in graces)
    return Column(start, notes, graces, left, right)


def _columns(sheet: Sheet, start: Fraction, end: Fraction, rhythm: Rhythm) -> tuple[Column, ...]:
    """The columns of a stretch of one measure; rests and tied values have theirs where rhythm is shown."""
    notes = sheet.fragment.notes
    at: dict[Fraction, tuple[list[int], list[int]]] = {}
    for index, note in enumerate(notes):
        if start <= note.onset < end and note.string is not None and note.fret is not None:
            at.setdefault(note.onset, ([], []))[1 if note.grace else 0].append(index)
    if sheet.wants.rhythm or sheet.wants.clef:
        for sign in rhythm.signs:
            if start <= sign.start < end:
                at.setdefault(sign.start, ([], []))
    if not at:
        at[start] = ([], [])
    return tuple(_column(sheet, beat, tuple(at[beat][0]), tuple(at[beat][1])) for beat in sorted(at))


# pieces ------------------------------------------------------------------------------------------------


def meter_shown(fragment: Fragment, index: int) -> bool:
    """Whether a measure shows its meter: the first one, and where it changes."""
    if index == 0:
        return True
    now, before = fragment.measures[index], fragment.measures[index - 1]
    return (now.beats, now.unit) != (before.beats, before.unit)


def meter_width(sheet: Sheet, measure: Measure) -> float:
    size = sheet.sizes.gap * 1.75
    return max(text_width(str(part), "black", size) for part in (measure.beats, measure.unit))


def meter_left(sheet: Sheet, placed: "Placed") -> float:
    """Where a meter starts in its system."""
    repeat = any(r.first == placed.piece.measure for r in sheet.fragment.repeats)
    return placed.x + sheet.sizes.gap * (1.05 if repeat else 0.5)


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
    return gap * 1.0 + word


def _piece(sheet: Sheet, index: int, start: Fraction, end: Fraction) -> Piece:
    measure = sheet.fragment.measures[index]
    opens, closes = start == measure.start, end == measure.end
    columns = _columns(sheet, start, end, sheet.rhythms[index])
    lead, trail = _lead(sheet, index, opens), _trail(sheet, index, closes)
    return Piece(index, start, end, columns, opens, closes, lead, trail)


def _least(sheet: Sheet, one: Column, other: Column) -> float:
    """The least distance between the middles of two neighbouring columns."""
    notes = sheet.fragment.notes
    slid = any(notes[i].attack == "slide" or notes[i].shift_slide for i in other.notes)
    ring = [n for n in (notes[i] for i in one.notes) if n.vibrato != "none"]
    extra = sheet.sizes.digit * (0.62 if slid else 0.3) + (sheet.sizes.digit * 0.2 if ring else 0.0)
    return one.right + other.left + extra


def _offsets(sheet: Sheet, piece: Piece, stretch: float) -> tuple[tuple[float, ...], float]:
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
    return _offsets(sheet, piece, stretch)[1]


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
    """A bar in as few equal runs of beats as fit."""
    measure = sheet.fragment.measures[index]
    unit = beam_unit(measure)
    edges = [measure.start]
    while edges[-1] + unit < measure.end:
        edges.append(edges[-1] + unit)
    beats = len(edges)
    edges.append(measure.end)
    for parts in range(2, beats + 1):
        cuts = [edges[round(i * beats / parts)] for i in range(parts + 1)]
        pieces = [_piece(sheet, index, a, b) for a, b in itertools.pairwise(cuts)]
        if parts == beats or all(piece_width(sheet, p, 0.0) <= most for p in pieces):
            return pieces
    return [_piece(sheet, index, measure.start, measure.end)]


# systems -----------------------------------------------------------------------------------------------


def prefix_width(sheet: Sheet) -> float:
    """Room of the tuning's letters at the left of a system."""
    if not sheet.wants.tuning:
        return sheet.wants.clef
    letters = (string_name(sheet.fragment, s) for s in range(1, sheet.sizes.strings + 1))
    return (
        max(text_width(t, "semibold", sheet.sizes.small) for t in letters)
        + sheet.sizes.small * 0.45
        + sheet.wants.clef
    )


def string_name(fragment: Fragment, string: int) -> str:
    """An open string's letter, with typeset accidentals."""
    name = pitch_class_name(fragment.guitar.open_pitch(string), fragment.flats)
    return name[0] + name[1:].replace("#", "♯").replace("b", "♭")


def place(sheet: Sheet, pieces: Sequence[Piece], stretch: float, squeeze: float = 1.0) -> System:
    """A system at a stretch; `squeeze` below 1 narrows all distances where nothing else helps."""
    prefix = prefix_width(sheet)
    x, placed, note_x = prefix, [], []
    for piece in pieces:
        offsets, width = _offsets(sheet, piece, stretch)
        xs = tuple(x + offset * squeeze for offset in offsets)
        placed.append(Placed(piece, x, width * squeeze, xs))
        for column, at in zip(piece.columns, xs, strict=True):
            note_x.extend(_note_places(sheet, column, at))
        x += width * squeeze
    return System(tuple(placed), prefix, prefix - sheet.wants.clef, x, tuple(note_x))


def _note_places(sheet: Sheet, column: Column, x: float) -> list[tuple[int, float]]:
    places = [(index, x) for index in column.notes]
    reach = max((_note_reach(sheet, i)[0] for i in column.notes), default=0.0)
    at = x - reach
    for index in reversed(column.graces):
        half = sheet.note_half(index)
        at -= sheet.sizes.gap * 0.3 + half
        places.append((index, at))
        at -= half
    return places


def fill(sheet: Sheet, pieces: Sequence[Piece], width: float, most: float = 4.0) -> System:
    """A system stretched to `width`, by no more than `most`."""
    room = width - prefix_width(sheet)

    def total(stretch: float) -> float:
        return sum(piece_width(sheet, p, stretch) for p in pieces)

    if total(0.0) > room:
        return place(sheet, pieces, 0.0, room / total(0.0))
    low, high = 0.0, most
    if total(most) > room:
        for _ in range(40):
            middle = (low + high) / 2
            low, high = (middle, high) if total(middle) < room else (low, middle)
        return place(sheet, pieces, low)
    return place(sheet, pieces, most)


def broken(sheet: Sheet, pieces: Sequence[Piece], width: float, ease: float = 0.95) -> list[list[Piece]]:
    """Pieces in as few rows as hold them at an easy spacing, and of these the evenest."""
    room = width - prefix_width(sheet)
    tight = [piece_width(sheet, p, 0.0) for p in pieces]
    easy = [piece_width(sheet, p, ease) for p in pieces]
    best: list[tuple[int, float, int]] = [(0, 0.0, 0)]
    for end in range(1, len(pieces) + 1):
        options = []
        for start in range(end - 1, -1, -1):
            if start < end - 1 and (sum(tight[start:end]) > room or sum(easy[start:end]) > room):
                break
            slack = (room - sum(easy[start:end])) / room
            options.append((best[start][0] + 1, best[start][1] + slack * slack, start))
        best.append(min(options))
    rows: list[list[Piece]] = []
    end = len(pieces)
    while end > 0:
        start = best[end][2]
        rows.insert(0, list(pieces[start:end]))
        end = start
    return rows


def make_sheet(fragment: Fragment, wants: Wants, sizes: Measures) -> Sheet:
    return Sheet(fragment, wants, sizes, rhythms(fragment))
