"""Where the notes of a passage stand in the files of a script, for faults that reasoning finds in them."""

from pathlib import Path

from pipeline.errors import Fault, Faulty, Place
from pipeline.lesson.script import Script
from pipeline.music.fragment import Fragment
from pipeline.music.meter import Meter
from pipeline.music.tabread import read_layout
from pipeline.music.tabrows import At
from pipeline.reasoning.spot import Spot
from pipeline.source import Source
from pipeline.textfile import read_text


def note_place(script: Script, fragment: Fragment, note: int) -> Place:
    """The place of a note of one of the script's passages; of what holds it where it has none of its own."""
    keys, source = script.episode.fragments[fragment.name], script.source
    at: tuple[str | int, ...] = ("fragments", fragment.name)
    if note < 0:
        return source.place(at, key=True)
    if keys.text is not None:
        return _in_text(keys.text, source.inside((*at, "text")), fragment, keys.meter, note)
    if keys.notes is not None:
        return _in_list(source, (*at, "notes"), fragment, note)
    path = script.folder / (keys.file or "")
    if path.suffix.lower() != ".txt":
        return source.place((*at, "file"))
    return _in_text(read_text(path), _lines(path), fragment, keys.meter, note)


def placed_faults(script: Script, fragment: Fragment, error: Faulty) -> Faulty:
    """The same faults, those at notes with their place in the script."""
    return Faulty(_placed(script, fragment, fault) for fault in error.faults)


def _placed(script: Script, fragment: Fragment, fault: Fault) -> Fault:
    if not isinstance(fault.place, Spot):
        return fault
    return Fault(note_place(script, fragment, fault.place.note), fault.wrong, fault.remedy)


def _in_text(text: str, at: At, fragment: Fragment, meter: Meter, note: int) -> Place:
    layout = read_layout(text, fragment.guitar, at, meter)
    sign = [sign for group in layout.groups for sign in group.signs][note]
    return at(sign.line, sign.column)


def _in_list(source: Source, at: tuple[str | int, ...], fragment: Fragment, note: int) -> Place:
    """A list may be written in any order: its entries are told by string and fret, else by the list."""
    entries = source.data
    for step in at:
        entries = entries[step]
    wanted = (fragment.notes[note].string, fragment.notes[note].fret)
    same = [n for n, entry in enumerate(entries) if (entry.get("string"), entry.get("fret")) == wanted]
    number = note if note in same else same[0] if len(same) == 1 else None
    return source.place(at if number is None else (*at, number))


def _lines(path: Path) -> At:
    return lambda row, column: Place(str(path), row + 1, column + 1)
