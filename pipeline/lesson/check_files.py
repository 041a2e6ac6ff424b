"""The files and the built-in names that a script asks for: there, inside the folder, of a known kind."""

from fractions import Fraction
from functools import cache
from pathlib import Path

from pipeline.drawing.look import look_names, read_look
from pipeline.drawing.templates import templates_folder
from pipeline.errors import Faulty
from pipeline.files.images import check_image, is_image
from pipeline.lesson.proof import At, Proof
from pipeline.lesson.script import SceneKeys
from pipeline.media import holds_pictures, kind_of, stated_length
from pipeline.reasoning.habits import PRESETS, Habits, read_habits

UNTIMED = ("mp3", "aac")
"""Kinds of file whose sound may come late by the coder's delay."""


def check_files(proof: Proof) -> None:
    """Every recording, film and voice of a script."""
    episode = proof.script.episode
    for name in episode.clips:
        check_clip(proof, name)
    for number, segment in enumerate(episode.segments):
        for index, scene in enumerate(segment.scenes):
            at: At = ("segments", number, "scenes", index)
            if scene.voice is not None:
                _sound(proof, (*at, "voice", "file"), scene.voice.file)
            if scene.footage is not None:
                _footage(proof, at, scene)


def check_clip(proof: Proof, name: str) -> None:
    """The recording of one clip."""
    _sound(proof, ("clips", name, "file"), proof.script.episode.clips[name].file)


def file_length(path: Path) -> Fraction | None:
    """The seconds a file claims to hold; None where it is not there or does not say."""
    try:
        return _length(path)
    except (EOFError, OSError):
        return None


def check_look(proof: Proof, at: At, name: str | None) -> None:
    """A look's name, or a look file."""
    if name is None:
        return
    if not name.endswith(".yaml"):
        proof.known(at, "look", name, look_names())
        return
    path = proof.file(at, name)
    try:
        if path is not None:
            read_look(path)
    except Faulty as error:
        proof.take(error)


def check_habits(proof: Proof) -> None:
    """The episode's habits, by name or by file."""
    name = proof.script.episode.habits
    if name is None:
        return
    if not name.endswith(".yaml"):
        proof.known(("habits",), "habits profile", name, habits_names())
        return
    path = proof.file(("habits",), name)
    try:
        if path is not None:
            read_habits(str(path))
    except Faulty as error:
        proof.take(error)


def habits_names() -> tuple[str, ...]:
    """The habits that come with the program."""
    files = (templates_folder() / "habits").glob("*.yaml")
    return tuple(sorted({*PRESETS, *(file.stem for file in files)}))


def habits_called(name: str | None, folder: Path) -> Habits:
    """The habits of that name or in that file; plain ones for None. Raises Faulty."""
    if name is None:
        return Habits()
    if name.endswith(".yaml"):
        return read_habits(str(folder / name))
    if name in PRESETS:
        return Habits(name).stroking(name)
    return read_habits(str(templates_folder() / "habits" / f"{name}.yaml"))


def _sound(proof: Proof, at: At, name: str, shown: bool = False) -> None:
    """A recording or film must be there, of a known kind, and not end inside what it announces; where it is
    `shown`, it must hold pictures."""
    path = proof.file(at, name)
    if path is None:
        return
    try:
        kind = kind_of(path)
        if kind is None:
            remedy = "use mp4, mov or mkv" if shown else "use wav, flac, ogg, mp3, m4a or mp4"
            proof.add(at, f"{name!r} is no {'film' if shown else 'sound or film'} of a known kind", remedy)
            return
        _length(path)
        if shown and not holds_pictures(path, kind):
            wrong = f"{name!r} holds sound and no pictures, so it cannot be shown"
            proof.add(
                at, wrong, "name a film (mp4, mov or mkv) or a picture, or hear it as a clip or a voice"
            )
        elif kind in UNTIMED:
            for words in _cautions(path):
                proof.caution(at, words, "export it again as wav or flac to be sure")
    except EOFError as error:
        proof.add(at, f"{name!r} is cut off: {error}", "copy it again, whole")
    except OSError as error:
        proof.add(at, f"{name!r} cannot be read ({error.strerror})", "check its permissions")


def _footage(proof: Proof, at: At, scene: SceneKeys) -> None:
    """A film, in the view `footage` or under the scene, or a picture, which only that view shows."""
    assert scene.footage is not None
    name, here = scene.footage.file, (*at, "footage", "file")
    held = any(view.show == "footage" for view in scene.views)
    if not is_image(Path(name)):
        _sound(proof, here, name, shown=True)
        if held and scene.zooms:
            wrong = "film in the view footage stands still where the frame comes closer"
            proof.add(
                (*at, "zooms"), wrong, "leave out the zooms, or that view: the film then fills the frame"
            )
        return
    if not held and proof.sound((*at, "views")):
        proof.add(here, "a picture is shown by the view footage, which this scene has not", "add that view")
    path = proof.file(here, name)
    try:
        if path is not None:
            check_image(path, proof.script.source.place(here))
    except Faulty as error:
        proof.take(error)


def _cautions(path: Path) -> list[str]:
    """What its form alone says of a recording; asked of few, since sound is heavy to load."""
    from pipeline.sound.decode import cautions

    return cautions(path)


def _length(path: Path) -> Fraction | None:
    details = path.stat()
    return _measured(path, details.st_mtime_ns, details.st_size)


@cache
def _measured(path: Path, changed: int, size: int) -> Fraction | None:
    kind = kind_of(path)
    return stated_length(path, kind) if kind else None
