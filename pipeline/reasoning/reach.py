"""Written fingers and hand positions that no hand can take, told before anyone weighs or films them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from pipeline.music.fragment import Fragment
from pipeline.music.note import Note
from pipeline.music.tapping import tapped
from pipeline.reasoning.states import grips_of, wanted

TAPPED = "take it away: the picking hand taps, and fingers are the fretting hand's"


@dataclass(frozen=True)
class OutOfHand:
    """A note that cannot be taken as it is marked, in words, and what would be right."""

    note: int
    wrong: str
    remedy: str


def out_of_hand(fragment: Fragment) -> Iterator[OutOfHand]:
    """What no hand can take as it is marked, in order; of a run under one hand position the first note."""

    def run(item: tuple[bool, tuple[int, ...]]) -> tuple[bool, int | None]:
        return item[0], fragment.notes[item[1][0]].position

    by_tap = tapped(fragment.notes)
    fingered = (note.finger is not None for note in fragment.notes)
    for index, wrong in enumerate(map(all, zip(by_tap, fingered, strict=True))):
        if wrong:
            yield OutOfHand(index, "a tapped note has a finger", TAPPED)
    judged = ((_impossible(fragment, chord, by_tap), chord) for chord in fragment.chords)
    for (impossible, _), found in groupby(judged, key=run):
        if impossible:
            chords = [chord for _, chord in found]
            yield _told(fragment, chords[0], len(chords) - 1)


def _impossible(fragment: Fragment, chord: tuple[int, ...], by_tap: Sequence[bool]) -> bool:
    notes = [fragment.notes[i] for i in chord]
    if all(note.finger is None for note in notes) or any(note.string is None for note in notes):
        return False
    return not grips_of(fragment.guitar, tuple(wanted(fragment.notes[i], by_tap[i]) for i in chord))


def _told(fragment: Fragment, chord: tuple[int, ...], more: int) -> OutOfHand:
    notes = [fragment.notes[i] for i in chord]
    wrong, remedy = _words(notes)
    also = f" ({more} more after it, too)" if more else ""
    far = max(range(len(chord)), key=lambda n: abs(_beyond(notes[n])))
    return OutOfHand(chord[far], wrong + also, remedy)


def _words(notes: list[Note]) -> tuple[str, str]:
    note = max(notes, key=lambda one: abs(_beyond(one)))
    if len(notes) == 1 and not note.fret:
        return "an open string has a finger", "take the finger away"
    if note.position is None or not _beyond(note):
        return "no hand holds these notes with these fingers", "mend a finger, or take some away"
    wrong = f"finger {note.finger} cannot take fret {note.fret} with the hand at {note.position}"
    home = (note.fret or 0) - (note.finger or 1) + 1
    right = f"with the hand at {home} it lies there" if home > 0 else "choose another finger"
    return wrong, f"{right}: mend the `hand` row, the finger or the fret"


def _beyond(note: Note) -> int:
    """How many frets a finger has to leave its own fret of the position."""
    if not note.finger or not note.fret or note.position is None:
        return 0
    return note.fret - note.position - note.finger + 1
