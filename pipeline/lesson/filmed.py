"""Film in a scene: where it runs, and the frames and pictures that hold it. Only workers decode (`av`)."""

import hashlib
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.drawing.picture import Box, Image, Picture, Pixels
from pipeline.errors import Fault, Faulty
from pipeline.files.boxes import IntBox, nearest
from pipeline.lesson.arrange import Composition
from pipeline.lesson.heard import Recording
from pipeline.lesson.scene import Room, Scene
from pipeline.views.footage import Footage as FootageView
from pipeline.views.footage import picture_box

if TYPE_CHECKING:
    from pipeline.files.frames import Frame


def with_film(composition: Composition) -> tuple[Composition, Room | None]:
    """The views with the first empty `footage` view ready for film, and where the film runs in it."""
    for number, one in enumerate(composition.placed):
        if isinstance(one.view, FootageView) and one.stage.footage is None:
            box = picture_box(one.view, one.stage)
            box = Box(one.box.x + box.x, one.box.y + box.y, box.width, box.height)
            whole = IntBox(0, 0, composition.width, composition.height)
            made = replace(one, stage=replace(one.stage, filmed=True))
            placed = (*composition.placed[:number], made, *composition.placed[number + 1 :])
            return replace(composition, placed=placed), Room(nearest(box).cut(whole), one.since, one.until)
    return composition, None


def filmed(scene: Scene, numbers: range, overlay: Iterator["Frame"], opaque: bool) -> Iterator["Frame"]:
    """The overlay's frames with the scene's film: under all of them, or in the view that holds it.

    Raises Faulty, told at the place in the script that names the film.
    """
    from pipeline.files.footage import footage, under
    from pipeline.files.raster import blank

    film = scene.footage
    assert film is not None
    room = film.room or Room(IntBox(0, 0, scene.width, scene.height), Fraction(0), scene.duration)
    ground = blank(scene.width, scene.height, scene.look.colour("ground") if opaque else None)
    times = [scene.rate.time_of(number) for number in numbers]
    pictures = footage(
        Path(film.recording.path), map(film.second_at, times), (room.box.width, room.box.height)
    )
    told = _told_in_the_script(film.recording, pictures)
    shown = (one if room.since <= t < room.until else None for t, one in zip(times, told, strict=False))
    return under(overlay, shown, ground, room.box)


def picture_with_film(scene: Scene, t: Fraction) -> Picture:
    """The scene on its ground at second t, with the film that a view of it holds."""
    picture = scene.picture(t, "film")
    return replace(picture, marks=(*film_marks(scene, t), *picture.marks))


def film_marks(scene: Scene, t: Fraction) -> tuple[Image, ...]:
    """The film that a view holds at second t, to lie under everything; nothing where none does."""
    from pipeline.files.footage import footage

    film = scene.footage
    if film is None or film.room is None or not film.room.since <= t < film.room.until:
        return ()
    left, top, right, bottom = film.room.box
    pictures = footage(Path(film.recording.path), [film.second_at(t)], (right - left, bottom - top))
    (found,) = _told_in_the_script(film.recording, pictures)
    data = found.tobytes()
    pixels = Pixels(right - left, bottom - top, hashlib.sha256(data).hexdigest(), data)
    box = Box(float(left), float(top), float(right - left), float(bottom - top))
    return (Image(box, pixels, "film"),)


def _told_in_the_script(recording: Recording, pictures: Iterator[Any]) -> Iterator[Any]:
    """The pictures; what is wrong with their file is told at the place in the script that names it."""
    try:
        yield from pictures
    except Faulty as failure:
        name = Path(recording.path).name
        faults = [Fault(recording.place, f"{name} {fault.wrong}", fault.remedy) for fault in failure.faults]
        raise Faulty(faults) from None
