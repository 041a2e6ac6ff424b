"""Which answer to where and how a passage is played a scene shows: as written, or found by reasoning.

The reasoning floor is loaded only where a script asks for it.
"""

from functools import lru_cache

from pipeline.errors import Faulty
from pipeline.lesson.check_files import habits_called
from pipeline.lesson.proof import At, Proof
from pipeline.music.fragment import Fragment
from pipeline.music.tapping import tapped
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.reading import Placement, Reading
from pipeline.views.hand import position_of

FOUND = ("best", "second", "third", "fourth", "fifth")


def answers(
    proof: Proof, at: At, fragment: Fragment, names: tuple[str, ...] | None
) -> tuple[tuple[Reading, ...], Fragment]:
    """The readings a scene asks for, and the fragment played in the first of them.

    Without a name the fragment is played as written, or, where strings are open, in the best reading. A name
    that has no reading is a fault of the proof.
    """
    chosen = names or (("written",) if fragment.placed else ("best",))
    habits = habits_called(proof.script.episode.habits, proof.script.folder)
    found = []
    for name in chosen:
        reading = _answer(proof, at, fragment, name, habits)
        if reading is not None:
            found.append(reading)
    if chosen[0] == "written" or not found:
        return (tuple(found) if names else ()), fragment
    return tuple(found), found[0].on(fragment)


def _answer(proof: Proof, at: At, fragment: Fragment, name: str, habits: Habits) -> Reading | None:
    if name == "written":
        if not fragment.placed:
            proof.add(
                at, f"{fragment.name!r} is written without strings", "ask for another reading, such as best"
            )
            return None
        return _written(fragment)
    try:
        found = _filled(fragment, habits) if name == "filled" else _rivals(fragment, habits)
    except Faulty as error:
        for fault in error.faults:
            proof.add(at, fault.wrong, fault.remedy)
        return None
    index = FOUND.index(name) if name in FOUND else 0
    if index >= len(found):
        proof.add(at, f"{fragment.name!r} has no {name} reading, only {len(found)}", "ask for fewer")
        return None
    return found[index]


def _written(fragment: Fragment) -> Reading:
    places, position = list[Placement](), 1
    for note, by_tap in zip(fragment.notes, tapped(fragment.notes), strict=True):
        position = position_of(note) or (position if by_tap else note.fret) or 1
        places.append(Placement(note.string or 1, note.fret or 0, note.finger, position, note.stroke))
    return Reading("written", tuple(places))


@lru_cache(maxsize=64)
def _filled(fragment: Fragment, habits: Habits) -> tuple[Reading, ...]:
    """What is written, with open fingers, positions and strokes filled in."""
    from pipeline.reasoning.fingering import readings

    return readings(fragment, habits, None, 1)


@lru_cache(maxsize=64)
def _rivals(fragment: Fragment, habits: Habits) -> tuple[Reading, ...]:
    """Readings with every place open where all are written, else with the written ones kept."""
    from pipeline.reasoning.fingering import readings

    return readings(freed(fragment) if fragment.placed else fragment, habits, None, len(FOUND))


def freed(fragment: Fragment) -> Fragment:
    """The same notes with every place on the neck and every stroke open."""
    opened = {"string": None, "fret": None, "finger": None, "position": None, "stroke": None}
    return fragment.with_notes(
        note.but(**opened) if note.pitch is not None and not note.dead else note for note in fragment.notes
    )
