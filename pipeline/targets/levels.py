"""How loud films are: one gain an episode over scenes whose sources match; and a word where one lies apart.

Runs in worker processes only.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from pipeline.errors import Fault, Place
from pipeline.sound.limit import limited
from pipeline.sound.loudness import CEILING_DBTP, TARGET_LUFS, Level, Meter, gain_to
from pipeline.sound.matching import SOURCE_LUFS
from pipeline.sound.signal import Signal, blocks_of

MOST_LIMITING = 6.0  # decibels that the limiter may take off a peak
NEAR = 0.5
"""LU around the target within which nothing is said of a film."""
SCENE_GAIN = 10 ** ((TARGET_LUFS - SOURCE_LUFS) / 20)
"""For one scene alone, whose sources lie at `SOURCE_LUFS`."""


@dataclass(frozen=True)
class EpisodeLevel:
    """The loudness of all scenes together, LUFS and dBTP, and the one gain that follows from it."""

    lufs: float
    dbtp: float

    @property
    def gain(self) -> float:
        """The factor that brings the episode to its target, or as near as its peaks let it come."""
        return gain_to(Level(self.lufs, self.dbtp), TARGET_LUFS, CEILING_DBTP + MOST_LIMITING)

    @property
    def held_back(self) -> float:
        """Decibels that the peaks keep it under its target."""
        wanted = TARGET_LUFS - self.lufs
        return max(0.0, wanted - 20 * math.log10(self.gain)) if math.isfinite(wanted) else 0.0


def raised(sound: Iterable[Signal], gain: float) -> Iterator[Signal]:
    """Some sound at a gain, its peaks held under the ceiling."""
    factor = np.float32(gain)
    blocks = (Signal(block.samples * factor, block.rate) for block in blocks_of(sound))
    return limited(blocks, CEILING_DBTP)


class Watched:
    """Blocks of sound whose loudness is known once they have passed."""

    def __init__(self, blocks: Iterable[Signal]) -> None:
        self._blocks, self._meter = blocks, Meter(peaks=False)

    def __iter__(self) -> Iterator[Signal]:
        for block in self._blocks:
            self._meter.hear(block)
            yield block

    @property
    def lufs(self) -> float:
        """Integrated loudness of what has passed."""
        return self._meter.level.lufs


def told_apart(segment: str, lufs: float, episode: EpisodeLevel) -> tuple[Fault, ...]:
    """A caution where a film is not as loud as films are meant to be, with the figure and the reason."""
    away = lufs - TARGET_LUFS
    if not math.isfinite(lufs) or abs(away) <= NEAR:
        return ()
    told = f"caution: this film lies at {lufs:.1f} LUFS, {TARGET_LUFS:g} are meant: {_reason(away, episode)}"
    return (Fault(Place(f"film {segment}"), told.replace("-", "\N{MINUS SIGN}"), _remedy(away, episode)),)


def _reason(away: float, episode: EpisodeLevel) -> str:
    if away < 0 and episode.held_back > NEAR:
        over = episode.dbtp - episode.lufs
        return f"peaks {over:.0f} dB over the episode's loudness let it be no louder"
    softer = "softer" if away < 0 else "louder"
    return f"its scenes are {abs(away):.1f} LU {softer} than the episode as a whole, which has one gain"


def _remedy(away: float, episode: EpisodeLevel) -> str:
    if away < 0 and episode.held_back > NEAR:
        return "record with fewer peaks, or limit the recording"
    return "mend the `gain` of its clips and voices, or leave it so"
