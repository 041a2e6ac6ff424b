"""A fragment or a clip of a script by its name."""

from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import Place, did_you_mean, faulty
from pipeline.lesson.check import Checked
from pipeline.lesson.check_files import check_clip
from pipeline.lesson.material import ClipKeys
from pipeline.lesson.passages import read_passage
from pipeline.lesson.proof import Proof
from pipeline.lesson.script import read_script
from pipeline.music.fragment import Fragment


@dataclass(frozen=True)
class NamedClip:
    """A clip of a script: what is said of it, its file, and where the script names that."""

    name: str
    keys: ClipKeys
    path: Path
    place: Place


def read_pair(script: Path, fragment: str, clip: str, allow_outside: bool) -> tuple[Fragment, NamedClip]:
    """A fragment and the clip it is played in; nothing else of the script need be right yet.

    What scenes say may lean on the very marks that are to be found. Raises Faulty.
    """
    proof = Proof(read_script(script, allow_outside))
    episode = proof.script.episode
    read = read_passage(proof, fragment) if fragment in episode.fragments else None
    if clip in episode.clips:
        check_clip(proof, clip)
    sound = read is not None and clip in episode.clips and proof.sound(("clips", clip))
    if not sound or len(proof.faults) > len(proof.script.faults):
        proof.stop_if_faulty()
    checked = Checked(proof.script, {} if read is None else {fragment: read})
    return named_fragment(checked, fragment), named_clip(checked, clip)


def named_fragment(checked: Checked, name: str) -> Fragment:
    """A fragment of a script. Raises Faulty for one that is not there."""
    if name not in checked.fragments:
        place = checked.script.source.place(("fragments",))
        raise faulty(
            place, f"there is no fragment {name!r}", did_you_mean(name, checked.script.episode.fragments)
        )
    return checked.fragments[name]


def named_clip(checked: Checked, name: str) -> NamedClip:
    """A clip of a script. Raises Faulty for one that is not there."""
    source, clips = checked.script.source, checked.script.episode.clips
    if name not in clips:
        raise faulty(source.place(("clips",)), f"there is no clip {name!r}", did_you_mean(name, clips))
    path = checked.script.folder / clips[name].file
    return NamedClip(name, clips[name], path, source.place(("clips", name, "file")))
