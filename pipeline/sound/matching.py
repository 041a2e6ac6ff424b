"""Sources brought to one loudness before they are mixed, so that scenes follow each other without a jump.

A recording, a voice and the guide each get one gain that brings them to -23 LUFS, the target level of EBU
R 128; a film's gain then stands on top. A click has no loudness over time: the loudest 0.4 s that hold its
accent (momentary loudness, EBU Tech 3341) lie so far under the music that the relative gate leaves it out.
"""

import math
from functools import cache

import numpy as np

from pipeline.sound.click import click
from pipeline.sound.loudness import CEILING_DBTP, RATE, Level, gain_to, level
from pipeline.sound.signal import Signal

SOURCE_LUFS = -23.0
"""What every source, and so every scene's sound, is brought to: the target level of EBU R 128."""
CLICK_UNDER = 15.0
"""LU of an accent under what is played: heard well, and gated out, as short scenes are gated lower than at 10
(common practice, no source)."""
BESIDE_MUSIC = 9.0
"""The same for clicks that go on under the music, which would cover softer ones (common practice, no
source)."""
BOTH_SIDES = 10 * math.log10(2)
"""LU that a sound of one channel gains, since the mix plays it on both sides."""
_WINDOW = 2 * RATE // 5


def matching_gain(*sounds: Signal) -> float:
    """The factor that brings some sounds, one after another, to `SOURCE_LUFS` as a mix in stereo plays them:
    on both sides, and between silence, which short ones have a part of in their blocks.

    Less where their true peaks would pass the ceiling; 1 for silence. All have equally many channels.
    """
    if not sounds:
        return 1.0
    silence = Signal(np.zeros((_WINDOW, sounds[0].channels), np.float32), RATE)
    measured = level([silence, *sounds, silence])
    wider = BOTH_SIDES if sounds[0].channels == 1 else 0.0
    return gain_to(Level(measured.lufs + wider, measured.dbtp), SOURCE_LUFS, CEILING_DBTP)


def click_gain(lufs: float, under: float = CLICK_UNDER) -> float:
    """The factor for clicks whose accents lie so many LU under music of some loudness."""
    return float(10 ** ((lufs - under - _accent_lufs()) / 20))


@cache
def _accent_lufs() -> float:
    """Momentary loudness of an accented click on both sides."""
    window = np.zeros((_WINDOW, 2), np.float32)
    sound = click(True)
    window[: len(sound)] = sound
    return level(Signal(window, RATE)).lufs
