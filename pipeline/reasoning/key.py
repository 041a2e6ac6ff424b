"""Which scale a passage may be in: the smallest named ones that hold its notes, the likeliest tonic first."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.music.pitch import pitch_class_name
from pipeline.music.scales import SCALES, Scale

FEWEST = 5
"""Fewer different notes fit too many scales for one to be named."""
CALLED = {"ionian": "major", "aeolian": "minor"}
"""What players call these modes."""
FLAT_KEYS = frozenset({1, 3, 5, 8, 10})
"""Major keys that are written with flats (MusicXML 4.0, `fifths` below 0; six flats or sharps left aside)."""


@dataclass(frozen=True)
class Key:
    """A scale on a tonic, a pitch class."""

    tonic: int
    scale: Scale

    @property
    def scale_name(self) -> str:
        """The scale as the view `scalemap` and players call it."""
        return CALLED.get(self.scale.name, self.scale.name)

    @property
    def tonic_name(self) -> str:
        """The tonic, with a flat where its key is written with flats."""
        return pitch_class_name(self.tonic, self._flat)

    @property
    def name(self) -> str:
        return f"{self.tonic_name} {self.scale_name}"

    @property
    def _flat(self) -> bool:
        """By the major key with these notes; else by that of the tonic, or of a minor third over it."""
        notes, major = set(self.scale.classes(self.tonic)), SCALES["ionian"]
        parents = [root for root in range(12) if set(major.classes(root)) == notes]
        minor = 3 in self.scale.intervals and 4 not in self.scale.intervals
        return (parents or [(self.tonic + 3 * minor) % 12])[0] in FLAT_KEYS


def keys_of(pitches: Sequence[int]) -> tuple[Key, ...]:
    """The smallest named scales that hold all pitches; none where too few differ or no scale holds them.

    The tonic that recurs most comes first, where to begin, to end and to lie lowest count as a quarter of all
    notes each; of equals major and minor come before the other scales.
    """
    used, counts = {pitch % 12 for pitch in pitches}, Counter(pitch % 12 for pitch in pitches)
    if len(used) < FEWEST:
        return ()
    for pitch in (pitches[0], pitches[-1], min(pitches)):
        counts[pitch % 12] += len(pitches) // 4
    fitting = [
        (len(scale.steps), -counts[tonic], scale.name not in CALLED, order, tonic, scale)
        for order, scale in enumerate(SCALES.values())
        for tonic in range(12)
        if used <= set(scale.classes(tonic))
    ]
    smallest = min((found[0] for found in fitting), default=0)
    ranked = sorted((found for found in fitting if found[0] == smallest), key=lambda found: found[:5])
    return tuple(Key(tonic, scale) for *_, tonic, scale in ranked)
