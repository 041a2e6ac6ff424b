"""The written passages of a script, read into fragments: from text, from lists of notes, from files."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from pipeline.errors import Faulty, Place, faulty
from pipeline.lesson.material import FragmentKeys
from pipeline.lesson.proof import At, Proof
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.notecheck import AtNote
from pipeline.music.notekeys import BY_NAME
from pipeline.music.notelist import read_notes
from pipeline.music.tabtext import read_tab
from pipeline.source import Source, read_yaml
from pipeline.textfile import read_bytes, read_text

MOST_CHARACTERS = 200_000
Reader = Callable[[str, FragmentKeys, Guitar, Path], Fragment]


def read_passages(proof: Proof) -> dict[str, Fragment]:
    """Every passage that can be read, by name; what is wrong with the others goes to the proof."""
    read = ((name, read_passage(proof, name)) for name in proof.script.episode.fragments)
    return {name: fragment for name, fragment in read if fragment is not None}


def read_passage(proof: Proof, name: str) -> Fragment | None:
    """A passage of the script; None, and what is wrong with it to the proof, where it cannot be read."""
    at, keys = ("fragments", name), proof.script.episode.fragments[name]
    guitar = _guitar(proof, at, keys)
    if guitar is None or not proof.sound(at):
        return None
    try:
        fragment = _read(proof, at, name, keys, guitar)
    except Faulty as error:
        proof.take(error)
        return None
    if fragment is not None and not fragment.notes:
        proof.add(at, f"the passage {name!r} holds no notes", "write at least one")
        return None
    return fragment


def _guitar(proof: Proof, at: At, keys: FragmentKeys) -> Guitar | None:
    """The guitar of a passage, what its own keys leave out from the episode; None where it cannot be read."""
    if not proof.sound(("guitar",)):
        return None
    episodes = proof.script.episode.guitar
    if keys.guitar is None:
        return episodes.made()
    whole = keys.guitar.over(episodes)
    if whole.capo >= whole.frets:
        wrong = f"with the episode's guitar, the capo lies on fret {whole.capo} of {whole.frets}"
        proof.add((*at, "guitar"), wrong, "write both capo and frets here")
        return None
    return whole.made()


def _read(proof: Proof, at: At, name: str, keys: FragmentKeys, guitar: Guitar) -> Fragment | None:
    source = proof.script.source
    if keys.text is not None:
        if len(keys.text) > MOST_CHARACTERS:
            proof.add((*at, "text"), "the passage is too long", "split it into several")
            return None
        inside = source.inside((*at, "text"))
        return read_tab(name, keys.text, guitar, inside, keys.meter, keys.tempo, keys.flats)
    if keys.notes is not None:
        return _listed(name, keys, guitar, source, (*at, "notes"))
    path = proof.file((*at, "file"), keys.file or "")
    if path is None:
        return None
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        proof.add((*at, "file"), f"{path.name!r} is of no known kind", f"use {', '.join(READERS)}")
        return None
    return reader(name, keys, guitar, path)


def _listed(name: str, keys: FragmentKeys, guitar: Guitar, source: Source, at: At) -> Fragment:
    """A list of notes, which stands in a YAML source at a path."""

    notes = list_at(source, at)
    where = place_in_list(source, at)
    return read_notes(name, notes, guitar, where, keys.meter, keys.tempo, keys.flats, keys.pickup)


def list_at(source: Source, at: At) -> list[Any]:
    """The list of notes at a path of a source; empty where something else stands there."""
    notes = source.data
    for step in at:
        notes = notes[step]
    return notes if isinstance(notes, list) else []


def place_in_list(source: Source, at: At) -> AtNote:
    """Where the keys of a list of notes stand: the value of a known one, an unknown one itself."""

    def locate(index: int, key: str) -> Place:
        return source.place((*at, index, *([key] if key else [])), key=bool(key) and key not in BY_NAME)

    return locate


def _text_file(name: str, keys: FragmentKeys, guitar: Guitar, path: Path) -> Fragment:
    def locate(row: int, column: int) -> Place:
        return Place(str(path), row + 1, column + 1)

    return read_tab(name, read_text(path), guitar, locate, keys.meter, keys.tempo, keys.flats)


def _list_file(name: str, keys: FragmentKeys, guitar: Guitar, path: Path) -> Fragment:
    source = read_yaml(path)
    if not isinstance(source.data, dict) or list(source.data) != ["notes"]:
        raise faulty(
            source.place(), "this is no list of notes", "write one key, notes, with the list under it"
        )
    return _listed(name, keys, guitar, source, ("notes",))


def _score_file(name: str, keys: FragmentKeys, guitar: Guitar, path: Path) -> Fragment:
    """MusicXML: strings and tuning are the file's; the neck's measures and handedness the script's."""
    from pipeline.music.musicxml_in import read_musicxml

    read = read_musicxml(read_bytes(path), str(path)).fragment
    frets = max(guitar.frets, read.guitar.frets)
    strung = replace(guitar, strings=read.guitar.strings, capo=read.guitar.capo, frets=frets)
    return _named(read.but(guitar=strung), name, keys)


def _midi_file(name: str, keys: FragmentKeys, guitar: Guitar, path: Path) -> Fragment:
    """MIDI: onsets and pitches only; where they are played is found by reasoning."""
    from pipeline.music.midi_in import read_midi

    return _named(read_midi(read_bytes(path), str(path), guitar).fragment, name, keys)


def _named(fragment: Fragment, name: str, keys: FragmentKeys) -> Fragment:
    """With the script's name, and its tempo where it states one."""
    tempo = keys.tempo if "tempo" in keys.model_fields_set else fragment.tempo
    return fragment.but(name=name, tempo=tempo, flats=keys.flats or fragment.flats)


READERS: dict[str, Reader] = {
    ".txt": _text_file,
    ".yaml": _list_file,
    ".musicxml": _score_file,
    ".xml": _score_file,
    ".mxl": _score_file,
    ".mid": _midi_file,
}
"""How a passage's file is read, by its suffix."""
