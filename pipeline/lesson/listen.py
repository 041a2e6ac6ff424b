"""What a scene's sound view draws: its excerpt at full speed, or the guide where it has no recording.

This is the one place where resolving a lesson needs sound itself, so it is asked only where such a view is.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pipeline.lesson.heard import Recording
from pipeline.lesson.timeline import SOUND_RATE, Piece
from pipeline.music.fragment import Fragment
from pipeline.sound.guide import play
from pipeline.sound.signal import Signal
from pipeline.timing import Span, TimeMap
from pipeline.views.stage import Heard


def heard_excerpt(recording: Recording, sound: Signal, pieces: Sequence[Piece]) -> Heard:
    """The clip's seconds that any of the pieces plays."""
    spans = [piece.excerpt for piece in pieces if piece.excerpt is not None]
    start = min(span.start for span in spans)
    end = min(max(span.end for span in spans), sound.duration)
    moments = tuple(piece.clip_moments for piece in pieces if piece.clip_moments is not None)
    return _heard(sound.cut(start, end), start, moments)


def heard_guide(fragment: Fragment, beats: Span, pieces: Sequence[Piece]) -> Heard:
    """The guide at full speed; its seconds count from the first beat."""
    second = Fraction(60) / fragment.tempo
    seconds = TimeMap.linear("beat", "clip", beats.start, Fraction(0), second)
    length = seconds(beats.end) + Fraction(1, 2)
    notes = tuple(note for note in fragment.notes if note.onset in beats)
    played = play(fragment.with_notes(notes), replace(seconds, target="excerpt"), length, SOUND_RATE)
    moments = tuple(seconds.inverse.then(piece.moments) for piece in pieces)
    return _heard(played, Fraction(0), moments)


def _heard(sound: Signal, start: Fraction, moments: tuple[TimeMap, ...]) -> Heard:
    mono = np.ascontiguousarray(sound.samples.mean(axis=1), dtype="<f4").tobytes()
    return Heard(hashlib.sha256(mono).hexdigest(), sound.rate, start, mono, moments)
