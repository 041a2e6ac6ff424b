"""How a page turns: what has been played gives way to what comes next, while the music goes on elsewhere.

Of several rows each gives its place to the row that is due there. A single row turns in halves: when the
cursor is well in the right half and nothing rings in the left one, the left half already shows the next row.
"""

import itertools
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import inf

from pipeline.views.glide import eased
from pipeline.views.rows import Laid
from pipeline.views.sounding import Moment
from pipeline.views.strip import System

CUT, AFTER = 0.54, 0.10
"""Where a row is cut, and how far past the cut its left part turns, as shares of its width."""


@dataclass(frozen=True)
class Shown:
    """The part of a system from `left` to `right` in a slot, at an opacity."""

    system: int
    slot: int
    opacity: float = 1.0
    left: float = -inf
    right: float = inf

    def holds(self, x: float) -> bool:
        return self.left <= x < self.right


@dataclass(frozen=True)
class Turn:
    """From `beat` on a row shows itself only right of `cut`, and left of `ahead` the next row."""

    beat: Fraction
    cut: float
    ahead: float


def cuts_of(system: System) -> list[float]:
    """Where a system can be cut without hitting a column or a bar number."""
    cuts: list[float] = []
    for number, placed in enumerate(system.placed):
        if number:
            cuts.append(placed.x - placed.piece.trail)
        columns = list(zip(placed.piece.columns, placed.xs, strict=True))
        for (one, x), (other, after) in itertools.pairwise(columns):
            cuts.append((x + one.right + after - other.left) / 2)
    return sorted(cuts)


@lru_cache(maxsize=256)
def turn_of(laid: Laid, number: int) -> Turn | None:
    """When and where a single row turns; None where it is the last or too little is left to turn."""
    if not 0 <= number < len(laid.systems) - 1:
        return None
    system, after = laid.systems[number], laid.systems[number + 1]
    wanted = system.prefix + (system.width - system.prefix) * CUT
    cut = min(cuts_of(system), key=lambda x: abs(x - wanted), default=None)
    if cut is None:
        return None
    ahead = max((x for x in cuts_of(after) if x <= cut), default=None)
    beat = _turning_beat(laid, system, cut)
    if ahead is None or beat is None or beat >= system.end:
        return None
    return Turn(beat, cut, ahead)


def _turning_beat(laid: Laid, system: System, cut: float) -> Fraction | None:
    """The first onset well past the cut at which nothing left of it rings any more."""
    line, past = laid.brush.line, cut + (system.width - system.prefix) * AFTER
    rings = max((line.ends[i] for i, x in system.note_x if x < cut), default=system.start)
    starts = (line.starts[i] for i, x in system.note_x if x >= past and line.starts[i] >= rings)
    return min(starts, default=None)


def _since(laid: Laid, beat: Fraction, t: Fraction) -> float:
    """Seconds since the pass went by a beat."""
    one = laid.stage.pass_at(t)
    return float(t - one.moments(beat)) if one is not None else inf


def _fade(laid: Laid, seconds: float) -> float:
    """New things come in from half their strength: they may have to be read at once."""
    whole = laid.stage.look.seconds("page")
    return 0.5 + 0.5 * eased(2.5 * seconds / whole) if whole > 0 else 1.0


def on_page(laid: Laid, moment: Moment, t: Fraction) -> list[Shown]:
    """What each slot shows."""
    beat = moment.beat if moment.beat is not None else laid.systems[0].start
    now = laid.system_at(beat)
    return _single_row(laid, now, beat, t) if laid.rows == 1 else _rows(laid, now, t)


def _rows(laid: Laid, now: int, t: Fraction) -> list[Shown]:
    """A row that has been played gives its slot to the row that is due there."""
    found = []
    for slot in range(laid.rows):
        due = now + (slot - now) % laid.rows
        if due >= len(laid.systems):
            due -= laid.rows
        if not 0 <= due < len(laid.systems):
            continue
        fresh = due == now - 1 + laid.rows and now > 0 and due >= laid.rows
        opacity = _fade(laid, _since(laid, laid.systems[now].start, t)) if fresh else 1.0
        found.append(Shown(due, slot, opacity))
    return found


def _single_row(laid: Laid, now: int, beat: Fraction, t: Fraction) -> list[Shown]:
    turn = turn_of(laid, now)
    if turn is not None and beat >= turn.beat:
        opacity = _fade(laid, _since(laid, turn.beat, t))
        return [Shown(now, 0, left=turn.cut), Shown(now + 1, 0, opacity, right=turn.ahead)]
    opacity = _fade(laid, _since(laid, laid.systems[now].start, t)) if now else 1.0
    before = turn_of(laid, now - 1)
    if opacity >= 1.0 or before is None:
        return [Shown(now, 0, opacity)]
    return [Shown(now, 0, right=before.ahead), Shown(now, 0, opacity, left=before.ahead)]
