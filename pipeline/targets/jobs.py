"""The kinds of target and the function that makes each: from a job's plain payload to a finished draft.

Runs in worker processes only. A payload is immutable data, so a job gives the same bytes on any machine that
has the same recordings.
"""

import json
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from itertools import chain, pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt

from pipeline.errors import Fault
from pipeline.files.frames import Frame, frames
from pipeline.lesson.lesson import Segment
from pipeline.lesson.scene import Dressing, Scene
from pipeline.lesson.timeline import SOUND_RATE
from pipeline.sound.signal import Signal, exactly
from pipeline.targets.payloads import Stretch
from pipeline.targets.worker import Job, Share

Pixels = npt.NDArray[np.uint8]
Maker = Callable[[Job, Share], tuple[Fault, ...] | None]
"""What makes a draft, and may return what an author should know of it."""
TOLD_EVERY = 12  # frames between two words about the progress


def get_ready() -> None:
    """Load what every film needs, before there is one to make."""
    import av  # noqa: F401

    from pipeline.drawing.typeface import FACES, typeface
    from pipeline.files import chunks  # noqa: F401

    for face in FACES:
        typeface(face)


def make_text(job: Job, share: Share) -> None:
    """Words as they are: captions, credits."""
    Path(job.draft).write_bytes(str(job.payload).encode("utf-8"))


def make_sound(job: Job, share: Share) -> tuple[Fault, ...]:
    """A scene's sound; the payload is the scene. Tells what should be known of the recordings."""
    from pipeline.files.sound import write_wav
    from pipeline.lesson.soundtrack import Listener, sound_blocks

    listener = Listener()
    write_wav(Path(job.draft), sound_blocks(job.payload, listener))
    return tuple(listener.cautions)


def make_overlay(job: Job, share: Share) -> None:
    """A piece of an overlay, or all of it as a folder of pictures."""
    from pipeline.files.coders import changes
    from pipeline.files.pieces import write_piece

    stretch: Stretch = job.payload
    if stretch.alpha == "frames":
        return _png_frames(job, share)
    drawn = _shown(stretch, share, opaque=False)
    write_piece(Path(job.draft), changes(drawn, stretch.size, stretch.alpha))


def make_joined_overlay(job: Job, share: Share) -> None:
    """An overlay out of its stretches; `needs` are the stretches and then the sound."""
    from pipeline.files.chunks import join_overlays

    stretch: Stretch = job.payload
    *pieces, sound = job.needs
    assert stretch.alpha != "frames"
    join_overlays(
        Path(job.draft),
        [Path(piece) for piece in pieces],
        stretch.size,
        stretch.scene.rate,
        _sound(sound),
        stretch.alpha,
    )


def make_picture(job: Job, share: Share) -> None:
    """A stretch of a scene on its ground, or over its footage, without sound."""
    from pipeline.files.video import DRAWN, FILMED, write_film

    stretch: Stretch = job.payload
    coding = DRAWN if stretch.scene.footage is None else FILMED
    shown = _shown(stretch, share, opaque=True)
    write_film(Path(job.draft), shown, stretch.size, stretch.scene.rate, None, coding)


def make_joined_picture(job: Job, share: Share) -> None:
    """A scene's picture out of its stretches."""
    from pipeline.files.chunks import Part, join_films

    scene: Scene = job.payload
    join_films(Path(job.draft), [Part(Path(piece)) for piece in job.needs], scene.rate)


def make_preview(job: Job, share: Share) -> None:
    """One scene with its sound, as loud as films are; `needs` are its picture and its sound."""
    from pipeline.files.chunks import Part, join_films
    from pipeline.targets.levels import SCENE_GAIN, raised

    picture, sound = job.needs
    loud = raised(_sound(sound), SCENE_GAIN)
    join_films(Path(job.draft), [Part(Path(picture))], job.payload.rate, loud)


def make_level(job: Job, share: Share) -> None:
    """The one gain of an episode, from the loudness of all its scenes' sounds together."""
    from pipeline.files.sound import read_blocks
    from pipeline.sound.loudness import level

    measured = level(chain.from_iterable(read_blocks(Path(need)) for need in job.needs))
    Path(job.draft).write_text(json.dumps({"lufs": measured.lufs, "dbtp": measured.dbtp}), "utf-8")


def make_film(job: Job, share: Share) -> tuple[Fault, ...]:
    """A segment: scenes joined with their transitions, one sound, chapters. Tells of a loudness apart."""
    from pipeline.files.film import SceneFilm, Settings, write_segment
    from pipeline.targets.levels import EpisodeLevel, Watched, raised, told_apart

    segment: Segment = job.payload
    scenes, rate = segment.scenes, segment.rate
    count = len(scenes)
    films = [
        SceneFilm(Path(file), scene.title, scene.transition.kind, rate.frames_in(scene.transition.lasting))
        for file, scene in zip(job.needs[:count], scenes, strict=True)
    ]
    first = scenes[0]
    ground = first.look.colour("ground")
    how = Settings((first.width, first.height), rate, ground=ground)
    episode = EpisodeLevel(**json.loads(Path(job.needs[-1]).read_text("utf-8")))
    sound = Watched(raised(_joined(segment, job.needs[count:-1]), episode.gain))
    write_segment(Path(job.draft), films, how, sound, segment.title)
    return told_apart(segment.id, sound.lufs, episode)


def make_still(job: Job, share: Share) -> None:
    """A scene at rest on its ground: (scene, kind of file)."""
    from pipeline.files.raster import png_bytes
    from pipeline.files.svg import write_svg
    from pipeline.lesson.filmed import picture_with_film

    scene, kind = job.payload
    picture = picture_with_film(scene, scene.still_at)
    made = png_bytes(picture) if kind == "png" else write_svg(picture).encode("utf-8")
    Path(job.draft).write_bytes(made)


def make_poster(job: Job, share: Share) -> None:
    """One frame of a segment's film, over its footage, as a picture; the payload is that one frame."""
    from pipeline.files.raster import png_of

    (frame,) = _shown(job.payload, share, opaque=True)
    Path(job.draft).write_bytes(png_of(frame.canvas))


def make_handout(job: Job, share: Share) -> None:
    """The handout of a lesson, or the book of several: (lessons, paper, title)."""
    from pipeline.files.pages import write_pages
    from pipeline.lesson.handout import pages_of

    write_pages(Path(job.draft), pages_of(*job.payload))


def make_timeline(job: Job, share: Share) -> None:
    """The hand-off to an editing program: (lesson, alpha)."""
    from pipeline.targets.handover import timeline_text

    lesson, alpha = job.payload
    Path(job.draft).write_text(timeline_text(lesson, alpha), "utf-8")


def _shown(stretch: Stretch, share: Share, opaque: bool) -> Iterator[Frame]:
    """The frames of a stretch, opaque on the scene's ground or not, with the film that belongs there."""
    from pipeline.lesson.filmed import filmed

    scene, numbers = stretch.scene, range(stretch.first, stretch.last)
    film = scene.footage if opaque or (scene.footage and scene.footage.room) else None
    dressing: Dressing = "film" if opaque and film is None else "overlay"
    drawn = frames(partial(scene.picture, dressing=dressing), scene.rate, stretch.first, stretch.last)
    made = drawn if film is None else filmed(scene, numbers, drawn, opaque)
    return _watched(made, len(numbers), share)


def _watched(made: Iterable[Frame], total: int, share: Share) -> Iterator[Frame]:
    for count, frame in enumerate(made):
        if count % TOLD_EVERY == 0:
            share(count / total)
        yield frame


def _png_frames(job: Job, share: Share) -> None:
    from pipeline.files.raster import png_of

    folder = Path(job.draft)
    folder.mkdir()
    for frame in _shown(job.payload, share, opaque=False):
        (folder / f"{frame.number:06d}.png").write_bytes(png_of(frame.canvas, level=1))


def _sound(file: str) -> Iterator[Signal]:
    from pipeline.files.sound import read_blocks

    return read_blocks(Path(file))


def _joined(segment: Segment, sounds: Iterable[str]) -> Iterator[Signal]:
    """The scenes' sounds, each at its exact sample."""
    scenes = zip(sounds, _lengths(segment, SOUND_RATE), strict=True)
    return chain.from_iterable(exactly(_sound(file), length) for file, length in scenes)


def _lengths(segment: Segment, rate: int) -> list[int]:
    """Samples of each scene: from the one nearest to its start to the one nearest to its end."""
    edges = [round(start * rate) for start, _ in segment.starts()] + [round(segment.duration * rate)]
    return [last - first for first, last in pairwise(edges)]


KINDS: dict[str, Maker] = {
    "text": make_text,
    "sound": make_sound,
    "overlay": make_overlay,
    "joined-overlay": make_joined_overlay,
    "picture": make_picture,
    "joined-picture": make_joined_picture,
    "preview": make_preview,
    "level": make_level,
    "film": make_film,
    "still": make_still,
    "poster": make_poster,
    "handout": make_handout,
    "timeline": make_timeline,
}
