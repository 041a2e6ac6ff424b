"""Open notation in and out: MusicXML and MIDI files as fragments of a script, and fragments as such files."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from pipeline.errors import Fault, Faulty, Place, did_you_mean, faulty
from pipeline.files.place import placed
from pipeline.lesson.check import read_checked
from pipeline.lesson.material import FragmentKeys, GuitarKeys
from pipeline.lesson.mending import read_mended
from pipeline.lesson.named import named_fragment
from pipeline.lesson.values import Name
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.midi_in import read_midi
from pipeline.music.midi_out import write_midi
from pipeline.music.musicxml_in import read_musicxml
from pipeline.music.musicxml_out import write_musicxml
from pipeline.music.pitch import pitch_name
from pipeline.music.tabtext import print_tab, read_tab
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.habits import Habits
from pipeline.source import parse_yaml
from pipeline.textfile import read_bytes

SCORES = (".musicxml", ".xml")
PACKED = ".mxl"
"""A compressed score: read, not written."""
MIDIS = (".mid", ".midi")
SLOWEST, FASTEST = 10, 480
"""Quarter notes a minute that a script's passage may have."""


@dataclass(frozen=True)
class Read:
    """A fragment out of a file, what of the file it lacks, and whether its places were found by weighing."""

    fragment: Fragment
    lost: tuple[str, ...]
    weighed: bool

    def as_yaml(self) -> str:
        """The lines to paste under `fragments:` in a script, with the guitar that they are written for."""
        rows = [f"    {row}".rstrip() for row in _keys(self.fragment).rstrip("\n").split("\n")]
        return "\n".join([f"  {_plain(self.fragment.name)}:", *rows])


def read_notation(path: Path, guitar: Guitar | None = None) -> Read:
    """Read a MusicXML or MIDI file; `guitar` is the one it is for, where the file does not say.

    Raises Faulty for any other file, for one that holds nothing to play, and for notes beyond the guitar.
    """
    ending = path.suffix.lower()
    if ending not in (*SCORES, PACKED, *MIDIS):
        known = ", ".join((*SCORES, PACKED, *MIDIS))
        raise faulty(
            Place(str(path)), f"{ending or 'a file without ending'} is not read here", f"use {known}"
        )
    data = read_bytes(path)
    read = (
        read_midi(data, str(path), guitar) if ending in MIDIS else read_musicxml(data, str(path), "", guitar)
    )
    fragment, lost = _within_reach(read.fragment, read.warnings, guitar)
    _refuse_out_of_reach(fragment, path)
    fragment, weighed = fragment.but(name=path.stem), not fragment.placed
    if weighed:
        fragment = readings(fragment, Habits(), None, 1)[0].on(fragment)
    _refuse_unwritable(fragment, path)
    return Read(fragment, lost, weighed)


def guitar_of(options: Mapping[str, object]) -> Guitar | None:
    """The guitar that a command names, by the keys that a script's `guitar` has. Raises Faulty."""
    given = {key: value for key, value in options.items() if value is not None}
    if not given:
        return None
    source = parse_yaml("".join(f"{key}: {json.dumps(value)}\n" for key, value in given.items()), "")
    mended = read_mended(source, GuitarKeys)
    if mended.faults:
        names = list(given)
        named = [(names[max(fault.place.line - 1, 0)], fault) for fault in mended.faults]
        raise Faulty(
            Fault(Place(f"--{name}"), fault.wrong.removeprefix(f"{name}: "), fault.remedy)
            for name, fault in named
        )
    return mended.model.made() if mended.model else None


def _within_reach(
    fragment: Fragment, lost: Sequence[str], guitar: Guitar | None
) -> tuple[Fragment, tuple[str, ...]]:
    """The fragment as a script can hold it, and what it lacks."""
    found = list(lost)
    if guitar and fragment.guitar.strings != guitar.strings:
        found.append("the strings named here: the file says how its guitar is strung")
    tempo = min(max(fragment.tempo, Fraction(SLOWEST)), Fraction(FASTEST))
    if tempo != fragment.tempo:
        found.append(f"the tempo of {_number(fragment.tempo)}: a passage has {SLOWEST} to {FASTEST}")
    if fragment.first_bar is not None:
        found.append(f"the numbers of the bars, which begin with {fragment.first_bar}")
    return fragment.but(tempo=tempo, first_bar=None), tuple(found)


def _refuse_out_of_reach(fragment: Fragment, path: Path) -> None:
    guitar = fragment.guitar
    pitches = [note.pitch for note in fragment.notes if note.string is None and note.pitch is not None]
    beyond = [pitch for pitch in pitches if not any(True for _ in guitar.places(pitch))]
    if beyond:
        lowest, highest = min(guitar.strings) + guitar.capo, max(guitar.strings) + guitar.frets
        reach = f"{pitch_name(lowest)} to {pitch_name(highest)}"
        names = ", ".join(pitch_name(pitch) for pitch in sorted(set(beyond))[:4])
        wrong = f"{len(beyond)} notes ({names}) are not on this guitar, which goes from {reach}"
        raise faulty(Place(str(path)), wrong, 'name yours, such as --strings "A1 E2 A2 D3 G3 B3 E4"')


def _refuse_unwritable(fragment: Fragment, path: Path) -> None:
    """Raises Faulty where what would be printed could not be read in a script."""
    source = parse_yaml(_keys(fragment), str(path))
    mended = read_mended(source, FragmentKeys)
    faults, keys = list(mended.faults), mended.model
    if keys and keys.text and keys.guitar and not faults:
        try:
            read_tab("", keys.text, keys.guitar.made(), source.inside(("text",)), keys.meter)
        except Faulty as error:
            faults += error.faults
    if faults:
        wrong = f"this cannot be written as a passage: {faults[0].wrong}"
        raise faulty(Place(str(path)), wrong, f"{faults[0].remedy}; change it in the program it came from")


def _keys(fragment: Fragment) -> str:
    """A fragment's keys, a line each, and its text."""
    keys = [f"tempo: {_number(fragment.tempo)}", f"meter: {fragment.measures[0].meter}"]
    keys += ["flats: true"] * fragment.flats
    keys += [f"guitar: {_guitar(fragment.guitar)}", "text: |"]
    rows = [f"  {row}".rstrip() for row in print_tab(fragment).rstrip("\n").split("\n")]
    return "\n".join([*keys, *rows, ""])


def _guitar(guitar: Guitar) -> str:
    """A guitar as a script's `guitar` says it: all that the tab hangs on, and what else is not as usual."""
    says = [f"strings: {' '.join(pitch_name(note) for note in reversed(guitar.strings))}"]
    says += [f"frets: {guitar.frets}", f"capo: {guitar.capo}"]
    says += [f"scale-length: {guitar.scale_mm:g}"] * (guitar.scale_mm != Guitar().scale_mm)
    says += ["handedness: left"] * guitar.left_handed
    return f"{{{', '.join(says)}}}"


def write_notation(script: Path, name: str, path: Path, allow_outside: bool = False) -> None:
    """Write a fragment of a script as MusicXML, MIDI or text, by the file's ending. Raises Faulty."""
    fragment = named_fragment(read_checked(script, allow_outside), name)
    ending = path.suffix.lower()
    if ending in SCORES:
        data = write_musicxml(fragment).encode("utf-8")
    elif ending in MIDIS:
        data = write_midi(fragment)
    elif ending == ".txt":
        data = print_tab(fragment).encode("utf-8")
    else:
        remedy = did_you_mean(ending, (*SCORES, *MIDIS, ".txt"))
        raise faulty(Place(str(path)), f"{ending or 'no ending'} is not written here", remedy)
    with placed(path) as part:
        part.write_bytes(data)


def _plain(name: str) -> str:
    """A file's name as a fragment's name."""
    kept = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in name).strip("-")[:60]
    try:
        return str(TypeAdapter(Name).validate_python(kept))
    except ValidationError:
        return f"passage-{kept}".rstrip("-")


def _number(value: Fraction) -> str:
    return f"{float(value):g}"
