"""The timeline that an editing program opens: films below, overlays above, sounds, all in their places."""

from pipeline.files.handoff import Marker, Piece, handoff
from pipeline.lesson.lesson import Lesson
from pipeline.lesson.scene import Scene
from pipeline.targets.payloads import poster_path
from pipeline.targets.wish import Alpha
from pipeline.timing import Rate


def timeline_text(lesson: Lesson, alpha: Alpha) -> str:
    """The lesson's segments one after another, as OpenTimelineIO's JSON. Paths are beside the file."""
    pieces: list[Piece] = []
    chosen = {scene.id: frame for scene, frame in (segment.poster for segment in lesson.segments)}
    start = 0
    for scene in lesson.scenes:
        pieces += _pieces(scene, start, alpha, lesson.rate, chosen.get(scene.id))
        start += scene.frames
    posters = {segment.id: poster_path(segment) for segment in lesson.segments}
    return handoff(lesson.title, pieces, (lesson.width, lesson.height), lesson.rate, posters)


def _pieces(scene: Scene, start: int, alpha: Alpha, rate: Rate, poster: int | None) -> list[Piece]:
    """A scene's overlay and sound; the frame that is the segment's poster is marked."""
    name = scene.title or scene.id
    overlay = f"overlays/{scene.id}/%06d.png" if alpha == "frames" else f"overlays/{scene.id}.mov"
    posters = [] if poster is None else [Marker(poster, "Poster", "poster")]
    marked = (Marker(0, name, "scene"), *_markers(scene, rate), *posters)
    return [
        Piece("overlay", name, overlay, start, scene.frames, marked),
        Piece("sound", name, f"sound/{scene.id}.wav", start, scene.frames),
    ]


def _markers(scene: Scene, rate: Rate) -> list[Marker]:
    """Bars and beats on the first frame that shows them."""
    return [
        Marker(min(rate.first_frame(marker.second), scene.frames - 1), marker.label, "beat")
        for marker in scene.markers
    ]
