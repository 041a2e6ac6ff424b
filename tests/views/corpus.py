"""Made-up fragments for the views: an ordinary lead line and hard cases. Nothing here is from a song."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pipeline.drawing.look import load_look
from pipeline.music.fragment import Fragment, Measure, Repeat
from pipeline.music.guitar import Guitar
from pipeline.music.note import BendPoint, Harmonic, Note
from pipeline.reasoning.reading import Placement, Reading
from pipeline.timing import Span, TimeMap
from pipeline.views.stage import Pass, Stage

F = Fraction
FULL = Fraction(1)
PLAIN = Guitar()
FOUR = Guitar.tuned("E1 A1 D2 G2", 20)
SEVEN = Guitar.tuned("B1 E2 A2 D3 G3 B3 E4", 24)
EIGHT = Guitar.tuned("F#1 B1 E2 A2 D3 G3 B3 E4", 24)
NINE = Guitar.tuned("C#1 F#1 B1 E2 A2 D3 G3 B3 E4", 24)
LEFT = Guitar(left_handed=True)
CAPO = Guitar(capo=2)


@dataclass(frozen=True)
class On:
    """A note to be written: string, fret and whatever else `Note` knows."""

    string: int
    fret: int
    more: tuple[tuple[str, Any], ...] = ()


def on(string: int, fret: int, **more: Any) -> On:
    return On(string, fret, tuple(sorted(more.items())))


def written(name: str, guitar: Guitar, items: Iterable[tuple[Any, ...]], tempo: int = 120,
            measures: tuple[Measure, ...] = (), repeats: tuple[Repeat, ...] = ()) -> Fragment:  # fmt: skip
    """A fragment from (beats, note, note ...) items; an item without notes is a rest."""
    here, notes = F(0), []
    for beats, *placed in items:
        for one in placed:
            length = dict(one.more).get("duration", F(beats))
            more = {k: v for k, v in one.more if k != "duration"}
            pitch = guitar.pitch(one.string, one.fret)
            notes.append(Note(here, length, pitch, one.string, one.fret, **more))
        here += F(beats)
    bars = measures or tuple(Measure(F(4 * i), F(4)) for i in range(max(1, int((here + F(399, 100)) // 4))))
    ordered = sorted(notes, key=lambda n: (n.onset, not n.grace, n.string))
    return Fragment(name, guitar, tuple(ordered), bars, F(tempo), repeats)


def _bend(*points: tuple[Any, int]) -> tuple[BendPoint, ...]:
    return tuple(BendPoint(F(at), F(semitones)) for at, semitones in points)


def lead_line(guitar: Guitar = PLAIN) -> Fragment:
    """Sixteenths, sextuplets, a quintuplet, slurs, shifts, a bend, a slide, harmonics."""
    run = ((3, 5, 1), (3, 7, 3), (2, 5, 1), (2, 6, 2), (2, 8, 4), (1, 5, 1), (1, 7, 2), (1, 8, 3))
    items: list[tuple[Any, ...]] = []
    for place, (string, fret, finger) in enumerate(run):
        items.append((F(1, 4), on(string, fret, finger=finger, position=5, stroke=("down", "up")[place % 2])))
    for place, (string, fret, finger) in enumerate(reversed(run)):
        slurred = place in (1, 2)
        items.append(
            (
                F(1, 4),
                on(
                    string,
                    fret,
                    finger=finger,
                    position=5,
                    attack="pull" if slurred else "pick",
                    stroke=None if slurred else ("down", "up")[place % 2],
                ),
            )
        )
    cell = ((4, 7, 1), (4, 9, 3), (4, 10, 4), (3, 7, 1), (3, 9, 3), (3, 10, 4))
    for step in range(3):
        for place, (string, fret, finger) in enumerate(cell):
            picked = place in (0, 3)
            items.append((F(1, 6), on(string, fret + 2 * step, finger=finger, position=7 + 2 * step,
                                      attack="pick" if picked else "hammer", palm_mute=step == 1,
                                      stroke="down" if picked else None)))  # fmt: skip
    for place, (string, fret, finger) in enumerate(
        ((2, 12, 1), (2, 15, 4), (2, 12, 1), (1, 12, 1), (1, 15, 4))
    ):
        items.append(
            (F(1, 5), on(string, fret, finger=finger, position=12, stroke=("down", "up")[place % 2]))
        )
    items += [
        (1, on(1, 15, finger=3, position=13, stroke="down", bend=_bend((0, 0), (F(1, 2), 2), (1, 0)))),
        (F(1, 2), on(1, 12, finger=1, position=12, stroke="down")),
        (F(1, 2), on(1, 17, finger=4, position=14, attack="slide")),
        (1, on(2, 15, finger=3, position=13, stroke="down", vibrato="wide", accent=True)),
        (F(1, 2), on(3, 12, stroke="down", harmonic=Harmonic("natural", 2, F(12)), let_ring=True)),
        (F(1, 2), on(4, 14, finger=3, position=12, stroke="down", harmonic=Harmonic("pinch", 3))),
    ]
    return written("lead line", guitar, items)


def every_technique() -> Fragment:
    """Each sign at least once, close together, in changing meters, with a pick-up, rests and a repeat."""
    items: list[tuple[Any, ...]] = [
        (1, on(3, 7, finger=1, stroke="up")),
        (F(1, 2), on(3, 9, grace=True, duration=F(0)), on(3, 11, finger=3, attack="hammer")),
        (F(1, 2), on(2, 8, finger=1, bend=_bend((0, 2), (F(1, 2), 2), (1, 0)), stroke="down")),
        (1, on(1, 12, finger=3, bend=_bend((0, 0), (F(1, 3), 3), (F(2, 3), 1), (1, 4)), stroke="down")),
        (F(1, 2), on(5, 3, dead=True, palm_mute=True, stroke="down"), on(6, 3, dead=True, palm_mute=True)),
        (F(1, 2), on(5, 5, ghost=True, palm_mute=True, stroke="up")),
        (1, on(6, 12, slide_in="below", slide_out="down", finger=2, accent=True, staccato=True)),
        (F(3, 4), on(1, 12, attack="tap")),
        (F(1, 4), on(1, 5, attack="pull", finger=1)),
        (F(1, 2),),
        (F(1, 2), on(4, 7, tremolo=True, finger=1, stroke="down")),
        (1, on(1, 0, let_ring=True, stroke="down"), on(2, 1, let_ring=True, finger=1),
         on(3, 0, let_ring=True), on(4, 2, let_ring=True, finger=3)),
        (F(1, 2), on(4, 2, harmonic=Harmonic("artificial", 2, F(14)), finger=1, stroke="down")),
        (F(1, 2), on(5, 3, harmonic=Harmonic("natural", 5, F(16, 5)), stroke="up")),
        (F(1, 3), on(2, 10, slide_out="up", finger=2, stroke="down")),
        (F(1, 3), on(2, 12, slide_in="above", vibrato="narrow", finger=3, stroke="down")),
        (F(1, 3), on(2, 12, attack="tie", finger=3)),
        (F(1, 7), on(3, 12, finger=1, stroke="down")),
        *((F(1, 7), on(3, 12 + place % 3, finger=1 + place % 3, attack="hammer" if place % 3 else "pull"))
          for place in range(1, 7)),
        (F(1, 2), on(3, 14, shift_slide=True, finger=3, stroke="down")),
    ]  # fmt: skip
    bars = (Measure(F(0), F(1), 4, 4), Measure(F(1), F(4), 4, 4), Measure(F(5), F(3), 3, 4),
            Measure(F(8), F(7, 2), 7, 8), Measure(F(23, 2), F(2), 2, 4))  # fmt: skip
    return written("every technique", PLAIN, items, 90, bars, (Repeat(1, 2, 3),))


def fast(guitar: Guitar = PLAIN, per_second: int = 20) -> Fragment:
    """Equal notes at 20 a second, two-digit frets, over every string and back."""
    strings = [*range(guitar.string_count, 0, -1), *range(1, guitar.string_count + 1)]
    top = min(12, guitar.highest_fret - 4)
    places = [(string, top + step) for string in strings for step in (0, 2, 3, 4)]
    items = [(F(1, 8), on(s, f, finger=1 + i % 4, position=top, stroke=("down", "up")[i % 2]))
             for i, (s, f) in enumerate(places)]  # fmt: skip
    return written("fast", guitar, items, per_second * 60 // 8)


def chords(guitar: Guitar) -> Fragment:
    """Full chords over all strings, close together, high frets."""
    items: list[tuple[Any, ...]] = []
    for step in range(8):
        shape = [
            on(s, 10 + step % 4 + (s % 2), finger=1 + s % 4, stroke="down")
            for s in range(1, guitar.string_count + 1)
        ]
        items.append((F(1, 2), *shape))
    return written("chords", guitar, items)


def lone_note() -> Fragment:
    return written("lone", PLAIN, [(F(4), on(6, 0))])


def rake() -> Fragment:
    """A raked start of dead grace notes, dead notes of full length, hammered notes, another raked note."""
    items: list[tuple[Any, ...]] = [
        (F(0), on(4, 0, dead=True, grace=True, stroke="down", duration=F(0))),
        (F(0), on(3, 0, dead=True, grace=True, stroke="down", duration=F(0))),
        (F(1), on(2, 8, finger=3, stroke="down", vibrato="wide")),
        (F(1, 2), on(2, 0, dead=True, stroke="up")),
        (F(1, 2), on(1, 5, finger=1, stroke="up")),
        (F(1, 2), on(1, 7, finger=3, attack="hammer")),
        (F(1, 2), on(1, 5, finger=1, attack="pull")),
        (F(0), on(2, 0, dead=True, grace=True, stroke="down", duration=F(0))),
        (F(1), on(3, 5, finger=1, stroke="down")),
    ]
    whole = written("rake", PLAIN, items)
    return whole.with_notes(tuple(n.but(pitch=None, fret=None) if n.dead else n for n in whole.notes))


def unplaced() -> Fragment:
    """Pitches without strings, as MIDI gives them."""
    notes = tuple(Note(F(i), F(1), 60 + i) for i in range(4))
    return Fragment("unplaced", PLAIN, notes, (Measure(F(0), F(4)),))


def corpus() -> dict[str, Fragment]:
    """Every fragment by name."""
    return {
        "lead line": lead_line(),
        "left-handed": lead_line(LEFT),
        "capo": lead_line(CAPO),
        "every technique": every_technique(),
        "four strings": fast(FOUR),
        "seven strings": fast(SEVEN),
        "eight strings": chords(EIGHT),
        "nine strings": fast(NINE),
        "nine-string chords": chords(NINE),
        "twenty a second": fast(),
        "lone note": lone_note(),
        "rake": rake(),
        "unplaced": unplaced(),
    }


def moved(note: Note, guitar: Guitar, by: int) -> Placement:
    """The note's place, moved `by` strings to the thicker ones where the neck has the pitch there."""
    string, fret = note.string or 1, note.fret or 0
    there = string + by
    if 1 <= there <= guitar.string_count:
        other = fret + guitar.open_pitch(string) - guitar.open_pitch(there)
        if 0 <= other <= guitar.highest_fret:
            string, fret = there, other
    finger = note.finger if fret else None
    return Placement(string, fret, finger, max(1, fret - ((finger or 1) - 1)), note.stroke)


def rivals(fragment: Fragment, count: int = 3) -> tuple[Reading, ...]:
    """Readings of a placed fragment: as written, then with more and more notes on other strings."""
    names = ("as heard", "one string over, higher on the neck", "stretched", "the long way round the neck")
    guitar = fragment.guitar
    found = []
    for number in range(count):
        places = (moved(note, guitar, number if i % 9 > 3 else 0) for i, note in enumerate(fragment.notes))
        found.append(
            Reading(
                names[number], tuple(places), met=(0,) if number == 0 else (), broken=(0,) if number else ()
            )
        )
    return tuple(found)


def stage_of(
    fragment: Fragment | None,
    width: int = 1728,
    height: int = 480,
    frame: int = 1080,
    speed: Fraction = FULL,
    look: str = "dusk",
    lead: Fraction = FULL,
    **more: Any,
) -> Stage:
    """A scene that plays the fragment once after a second of silence, and stays a second longer."""
    if fragment is None:
        return Stage(width, height, load_look(look), F(5), frame_height=frame, **more)
    a_beat = F(60) / fragment.tempo / speed
    moments = TimeMap.linear("beat", "scene", F(0), lead, a_beat)
    one = Pass(Span("beat", F(0), fragment.length), moments, speed)
    return Stage(
        width, height, load_look(look), one.span.end + 1, fragment, (one,), frame_height=frame, **more
    )
