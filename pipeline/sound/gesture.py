"""What the hands do to one note, in seconds and semitones: where its pitch goes, how it is touched, how it
dies away."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.music.note import Note, Stroke
from pipeline.sound.string_model import Loss

Wave = npt.NDArray[np.float64]

GLIDE = 0.07
"""Longest slide in seconds; a short note slides for at most 45 % of itself."""
VIBRATO_HZ = 5.6
VIBRATO_SEMITONES = {"none": 0.0, "narrow": 0.25, "wide": 0.7}
VIBRATO_WAITS = 0.12
SLIDE_IN_SEMITONES, SLIDE_OUT_SEMITONES = 3.0, 5.0
PICK_MM, TAP_MM, PICKUP_MM = 95.0, 250.0, 120.0
"""Distances from the bridge: of the pick, of a tapping or hammering finger's effect, of the pickup."""


@dataclass(frozen=True)
class Touch:
    """How a note is set sounding: level, brightness in hertz, distance from the bridge, what it leaves."""

    level: float
    dullness: float
    from_bridge_mm: float
    kept: float
    click: float


TOUCHES = {
    "pick": Touch(1.0, 3000.0, PICK_MM, 0.0, 1.0),
    "hammer": Touch(0.45, 1500.0, TAP_MM, 0.45, 0.25),
    "pull": Touch(0.55, 2000.0, TAP_MM, 0.25, 0.2),
    "slide": Touch(0.08, 1500.0, TAP_MM, 0.92, 0.1),
    "tap": Touch(0.75, 2200.0, TAP_MM, 0.1, 0.5),
    "tie": Touch(0.0, 1500.0, TAP_MM, 1.0, 0.0),
}


def touch_of(note: Note, stroke: Stroke | None = None) -> Touch:
    """The touch of a note; an upstroke is a little brighter, thinner and softer than a downstroke."""
    touch = TOUCHES[note.attack]
    level, dullness, place = touch.level, touch.dullness, touch.from_bridge_mm
    if (stroke or note.stroke) == "up" and note.picked:
        level, dullness, place = level * 0.9, dullness * 1.3, place * 0.85
    if note.accent:
        level, dullness = level * 1.4, dullness * 1.3
    if note.ghost:
        level, dullness = level * 0.4, dullness * 0.7
    if note.palm_mute:
        level, dullness = level * 1.1, dullness * 0.55
    if note.harmonic is not None and note.harmonic.kind == "pinch":
        level, dullness = level * 0.9, dullness * 2.5
    return Touch(level, dullness, place, touch.kept, touch.click * (2.0 if note.dead else 1.0))


def loss_of(note: Note, hertz: float) -> Loss:
    """Losses of a note: a fretted string, or one under the palm or a resting finger."""
    steady, square = 0.7 + hertz / 600, 2.5e-7 * hertz**2
    if note.dead:
        return Loss(75.0, square * 20)
    if note.palm_mute:
        return Loss(13.0, square * 12)
    return Loss(steady, square)


def bend_semitones(note: Note, share: Wave) -> Wave:
    """The bend at each share (0 to 1) of the note's duration; between its points it eases in and out."""
    result = np.zeros_like(share)
    if not note.bend:
        return result
    result += float(note.bend[0].semitones)
    for left, right in zip(note.bend, note.bend[1:], strict=False):
        span = max(float(right.at - left.at), 1e-9)
        part = np.clip((share - float(left.at)) / span, 0, 1)
        result += float(right.semitones - left.semitones) * part * part * (3 - 2 * part)
    return result


def moves(note: Note, glide_to: float | None) -> bool:
    """Whether a note's pitch moves at all; `glide_to` is the interval that it slides on to."""
    still = note.vibrato == "none" and not note.bend and not note.slide_in and not note.slide_out
    return glide_to is not None or not still


def pitch_curve(
    note: Note, seconds: float, played: float, count: int, rate: int, glide_to: float | None
) -> Wave:
    """Semitones above the stopped pitch at `count` samples of a note that lasts `seconds`.

    The first sample stands `played` seconds into the note.
    """
    time = played + np.arange(count) / rate
    curve = bend_semitones(note, np.clip(time / max(seconds, 1e-9), 0, 1))
    depth = VIBRATO_SEMITONES[note.vibrato]
    if depth:
        turning = 2 * np.pi * VIBRATO_HZ * np.maximum(time - VIBRATO_WAITS, 0)
        curve += depth * 0.5 * (1 - np.cos(turning))
    glide = min(GLIDE, 0.45 * seconds)
    if note.slide_in:
        sign = -1 if note.slide_in == "below" else 1
        curve += sign * SLIDE_IN_SEMITONES * (1 - _eased(time / glide))
    if glide_to is not None:
        curve += glide_to * _eased((time - seconds + glide) / glide)
    if note.slide_out:
        sign = 1 if note.slide_out == "up" else -1
        curve += sign * SLIDE_OUT_SEMITONES * _eased((time - seconds + 2 * glide) / (2 * glide))
    return curve


def _eased(share: Wave) -> Wave:
    part = np.clip(share, 0, 1)
    eased: Wave = part * part * (3 - 2 * part)
    return eased
