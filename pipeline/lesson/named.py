"""A fragment or a clip of a checked script by its name."""

from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import Place, did_you_mean, faulty
from pipeline.lesson.check import Checked
from pipeline.lesson.material import ClipKeys
from pipeline.music.fragment import Fragment


@dataclass(frozen=True)
class NamedClip:
    """A clip of a script: what is said of it, its file, and where the script names that."""

    name: str
    keys: ClipKeys
    path: Path
    place: Place


def named_fragment(checked: Checked, name: str) -> Fragment:
    """A fragment of a script. Raises Faulty for one that is not there."""
    if name not in checked.fragments:
        place = checked.script.source.place(("fragments",))
        raise faulty(place, f"there is no fragment {name!r}", did_you_mean(name, checked.fragments))
    return checked.fragments[name]


def named_clip(checked: Checked, name: str) -> NamedClip:
    """A clip of a script. Raises Faulty for one that is not there."""
    source, clips = checked.script.source, checked.script.episode.clips
    if name not in clips:
        raise faulty(source.place(("clips",)), f"there is no clip {name!r}", did_you_mean(name, clips))
    path = checked.script.folder / clips[name].file
    return NamedClip(name, clips[name], path, source.place(("clips", name, "file")))
