"""What stands in a film file: the pictures that its index lists and whose bytes are all there.

Only for worker processes (`av`).
"""

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pipeline.timing import Rate


@dataclass(frozen=True)
class FilmFacts:
    """Counted pictures and the lengths of both tracks in seconds of the film."""

    codec: str
    size: tuple[int, int]
    frames: int
    length: Fraction
    sound_length: Fraction | None
    colours: tuple[int, int, int, int]
    """Primaries, transfer, matrix, range in the numbers of ITU-T H.273 (range: 1 limited, 2 full)."""
    comment: str = ""


def film_facts(path: Path, kind: str) -> FilmFacts:
    """Count the pictures that are there. Raises FFmpeg's OSError or ValueError where it is no film."""
    import av

    with av.open(f"file:{path}", format=kind) as film:
        picture = film.streams.video[0]
        coder = picture.codec_context
        room = path.stat().st_size
        frames = sum(1 for entry in picture.index_entries if entry.size and entry.pos + entry.size <= room)
        sound = film.streams.audio[0] if film.streams.audio else None
        return FilmFacts(
            codec=coder.name,
            size=(coder.width, coder.height),
            frames=frames,
            length=_length(picture.duration, picture.time_base),
            sound_length=_length(sound.duration, sound.time_base) if sound else None,
            colours=(coder.color_primaries, coder.color_trc, coder.colorspace, coder.color_range),
            comment=film.metadata.get("comment", ""),
        )


def shortcoming(facts: FilmFacts, frames: int, rate: Rate) -> str | None:
    """What a film lacks against what was to be written: None where it is whole and exact to the frame."""
    length = rate.time_of(frames)
    if facts.frames != frames:
        return f"{facts.frames} frames stand in it, {frames} were to be written"
    if facts.length != length:
        return f"its picture lasts {facts.length} s, not {length} s"
    if facts.sound_length is not None and abs(facts.sound_length - length) * 40_000 > 1:
        return f"its sound lasts {facts.sound_length} s, not {length} s"
    return None


def _length(ticks: int | None, base: Fraction | None) -> Fraction:
    return Fraction(ticks or 0) * (base or 0)
