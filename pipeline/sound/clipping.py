"""Clipped recordings: runs of samples at full scale, counted while a recording is decoded.

They are counted at the recording's own rate: resampled, a cut-off peak is no longer flat.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FULL = 0.9999
"""What counts as full scale."""
RUN = 4
"""So many samples in a row at full scale count as clipped."""


@dataclass(frozen=True)
class Clipping:
    """How often a recording reaches full scale for `RUN` samples or more, and the share of its samples
    (0 to 1, of all channels) that lie in such runs."""

    runs: int
    share: float

    def __str__(self) -> str:
        """In words, for a message."""
        places = "1 place" if self.runs == 1 else f"{self.runs} places"
        share = f"{self.share:.2%}" if self.share >= 1e-4 else "under 0.01%"
        return f"clipped in {places} ({share} of its samples)"


class ClippingMeter:
    """Hears blocks one after another and knows the clipping of all of them together."""

    def __init__(self) -> None:
        self._open: npt.NDArray[np.int64] = np.zeros(0, np.int64)
        self._runs = self._clipped = self._heard = 0

    def hear(self, block: npt.NDArray[np.floating]) -> None:
        """Samples of shape (n, channels), the same channels each time."""
        if not len(self._open):
            self._open = np.zeros(block.shape[1], np.int64)
        self._heard += block.size
        if np.abs(block).max(initial=0.0) < FULL:
            self._close(self._open)
            self._open[:] = 0
            return
        for channel in range(block.shape[1]):
            self._hear_channel(channel, np.abs(block[:, channel]) >= FULL)

    @property
    def found(self) -> Clipping | None:
        """What was heard so far; None where nothing of it was clipped."""
        last = self._open[self._open >= RUN]
        runs, clipped = self._runs + len(last), self._clipped + int(last.sum())
        return Clipping(runs, clipped / self._heard) if runs else None

    def _hear_channel(self, channel: int, full: npt.NDArray[np.bool_]) -> None:
        """Runs that end within the block are closed; one that reaches its end stays open."""
        edges = np.flatnonzero(np.diff(np.concatenate(([False], full, [False]))))
        starts, ends = edges[::2], edges[1::2]
        lengths = ends - starts
        if len(starts) and starts[0] == 0:
            lengths[0] += self._open[channel]
        else:
            lengths = np.append(lengths, self._open[channel])
            ends = np.append(ends, 0)
        still = ends == len(full)
        self._close(lengths[~still])
        self._open[channel] = lengths[still].sum()

    def _close(self, lengths: npt.NDArray[np.int64]) -> None:
        clipped = lengths[lengths >= RUN]
        self._runs += len(clipped)
        self._clipped += int(clipped.sum())
