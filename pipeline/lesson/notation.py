"""Open notation in and out: MusicXML and MIDI files as fragments of a script, and fragments as such files."""

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pipeline.errors import Place, did_you_mean, faulty
from pipeline.files.place import placed
from pipeline.lesson.check import read_checked
from pipeline.lesson.named import named_fragment
from pipeline.music.fragment import Fragment
from pipeline.music.midi_in import read_midi
from pipeline.music.midi_out import write_midi
from pipeline.music.musicxml_in import read_musicxml
from pipeline.music.musicxml_out import write_musicxml
from pipeline.music.tabtext import print_tab
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.habits import Habits
from pipeline.textfile import read_bytes

SCORES = (".musicxml", ".xml")
PACKED = ".mxl"
"""A compressed score: read, not written."""
MIDIS = (".mid", ".midi")


@dataclass(frozen=True)
class Read:
    """A fragment out of a file, what of the file it lacks, and whether its places were found by weighing."""

    fragment: Fragment
    lost: tuple[str, ...]
    weighed: bool

    def as_yaml(self) -> str:
        """The lines to paste under `fragments:` in a script."""
        fragment = self.fragment
        first = fragment.measures[0]
        keys = [f"  {_plain(fragment.name)}:", f"    tempo: {_number(fragment.tempo)}"]
        keys.append(f"    meter: {first.beats}/{first.unit}")
        rows = (f"      {row}".rstrip() for row in print_tab(fragment).rstrip("\n").split("\n"))
        return "\n".join([*keys, "    text: |", *rows])


def read_notation(path: Path) -> Read:
    """Read a MusicXML or MIDI file. Raises Faulty for any other, and for one that holds nothing to play."""
    ending = path.suffix.lower()
    if ending not in (*SCORES, PACKED, *MIDIS):
        known = ", ".join((*SCORES, PACKED, *MIDIS))
        raise faulty(
            Place(str(path)), f"{ending or 'a file without ending'} is not read here", f"use {known}"
        )
    data = read_bytes(path)
    if ending in MIDIS:
        draft = read_midi(data, str(path))
        fragment, lost = draft.fragment, tuple(draft.warnings)
    else:
        score = read_musicxml(data, str(path))
        fragment, lost = score.fragment, tuple(score.warnings)
    fragment = fragment.but(name=path.stem)
    if fragment.placed:
        return Read(fragment, lost, weighed=False)
    return Read(readings(fragment, Habits(), None, 1)[0].on(fragment), lost, weighed=True)


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
    kept = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in name).strip("-")
    return kept or "fragment"


def _number(value: Fraction) -> str:
    return f"{float(value):g}"
