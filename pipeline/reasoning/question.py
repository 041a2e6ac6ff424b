"""Which note to ask about: the one whose string, if it were known, would settle most of the others.

Knowing one string changes the shares of every note around it. The gain of a note is the entropy (in bits,
summed over the notes in reach) that is expected to go when its string is told: the mutual information of
its string with theirs, exact on the chain.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.music.fragment import Fragment
from pipeline.reasoning.chain import LOW, jit
from pipeline.reasoning.clue import all_limits, clue_limits
from pipeline.reasoning.habits import Habits
from pipeline.reasoning.lattice import Lattice, lattice_of
from pipeline.reasoning.moments import Times, spoken
from pipeline.reasoning.odds import fill_steps, spread

REACH = 32
"""How many moments on each side an answer is followed."""
WINDOW = 64
"""Moments whose steps are kept at once, so that memory stays small."""
MOST_STRINGS = 10
Reals = NDArray[np.float64]


@dataclass(frozen=True)
class Question:
    """A note to ask about, the strings it may lie on, and the bits that the answer is expected to settle."""

    note: int
    strings: tuple[int, ...]
    gain: float
    words: str


@jit
def _moves(chain, behind, onward, width, low, high):  # type: ignore[no-untyped-def]
    """How shares pass from each moment of [low, high) to the next and back: two flat tables of steps in the
    order of the chain's own, and where those into each moment begin."""
    starts = np.zeros(high - low + 1, np.int64)
    for moment in range(low + 1, high):
        starts[moment - low + 1] = starts[moment - low] + chain.size[moment - 1] * chain.size[moment]
    ahead, back = np.zeros(starts[high - low]), np.zeros(starts[high - low])
    terms, offsets = np.zeros((width, width)), chain.offsets
    for moment in range(low + 1, high):
        fill_steps(chain, moment, terms)
        at = starts[moment - low]
        for j in range(chain.size[moment - 1]):
            for k in range(chain.size[moment]):
                before, now = offsets[moment - 1] + j, offsets[moment] + k
                ahead[at] = np.exp(onward[now] - terms[j, k] - onward[before])
                back[at] = np.exp(behind[before] - terms[j, k] - behind[now])
                at += 1
    return ahead, back, starts


@jit
def _entropy(chain, moment, shares):  # type: ignore[no-untyped-def]
    """Bits of doubt about the string of a moment (the thinnest of a chord)."""
    sums, bits = np.zeros(MOST_STRINGS), 0.0
    for j in range(chain.size[moment]):
        sums[chain.shape[chain.first[moment] + j, LOW]] += shares[j]
    for share in sums:
        if share > 0.0:
            bits -= share * np.log2(share)
    return bits


@jit
def _pass_on(chain, table, at, into, towards, now):  # type: ignore[no-untyped-def]
    """Shares after one step of a table (the step into moment `into`), towards the end or the start."""
    then = np.zeros(len(now))
    for j in range(chain.size[into - 1]):
        for k in range(chain.size[into]):
            if towards:
                then[k] += now[j] * table[at]
            else:
                then[j] += now[k] * table[at]
            at += 1
    return then


@jit
def _follow(chain, table, starts, low, high, moment, towards, shares):  # type: ignore[no-untyped-def]
    """Doubt left in the moments on one side, once the shares of a moment are known."""
    bits, now, reach = 0.0, shares, 0
    at = moment
    while reach < REACH:
        into = at + 1 if towards else at
        if into >= high or into <= low:
            break
        now = _pass_on(chain, table, starts[into - low], into, towards, now)
        at = into if towards else into - 1
        bits += _entropy(chain, at, now)
        reach += 1
    return bits


@jit
def _told(chain, moment, shares, string, width):  # type: ignore[no-untyped-def]
    """Shares of a moment once its string is known, and the chance of that string."""
    told, chance = np.zeros(width), 0.0
    for j in range(chain.size[moment]):
        if chain.shape[chain.first[moment] + j, LOW] == string:
            told[j] = shares[chain.offsets[moment] + j]
            chance += told[j]
    for j in range(chain.size[moment]):
        told[j] /= max(chance, 1e-300)
    return told, chance


@jit
def _left(chain, tables, low, high, moment, shares, width):  # type: ignore[no-untyped-def]
    """Doubt that is expected to be left around a moment once its string is known."""
    ahead, back, starts = tables
    left = 0.0
    for string in range(1, MOST_STRINGS):
        told, chance = _told(chain, moment, shares, string, width)
        if chance > 1e-9:
            for way in range(2):
                table = ahead if way == 0 else back
                left += chance * _follow(chain, table, starts, low, high, moment, way == 0, told)
    return left


@jit
def _gains(chain, width):  # type: ignore[no-untyped-def]
    behind, onward, whole = spread(chain, width)
    count, shares = len(chain.first), np.zeros(len(behind))
    doubt, gains, here = np.zeros(count), np.zeros(count), np.zeros(width)
    for row in range(len(behind)):
        shares[row] = np.exp(behind[row] + onward[row] - whole)
    for moment in range(count):
        for j in range(chain.size[moment]):
            here[j] = shares[chain.offsets[moment] + j]
        doubt[moment] = _entropy(chain, moment, here)
    for window in range(0, count, WINDOW):
        low, high = max(0, window - REACH), min(count, window + WINDOW + REACH)
        tables = _moves(chain, behind, onward, width, low, high)
        for moment in range(window, min(count, window + WINDOW)):
            if doubt[moment] > 0.0:
                near = 0.0
                for other in range(max(0, moment - REACH), min(count, moment + REACH + 1)):
                    near += doubt[other]
                gains[moment] = near - _left(chain, tables, low, high, moment, shares, width)
    return gains, doubt


def gains_of(lattice: Lattice) -> tuple[Reals, Reals]:
    """For every moment the bits its string would settle, and the bits of doubt about it."""
    gains, doubt = _gains(lattice.chain, lattice.width)
    return gains, doubt


def questions(
    fragment: Fragment,
    habits: Habits | None = None,
    times: Times | None = None,
    count: int = 1,
    asked: Iterable[int] = (),
) -> tuple[Question, ...]:
    """The notes to ask about next, the one that would settle most first; chords are not asked about.

    Notes in `asked` and notes whose string is open to no doubt are left out. Raises Faulty.
    """
    habits = habits or Habits()
    if not fragment.notes:
        return ()
    lattice = lattice_of(fragment, habits, all_limits(clue_limits(fragment, habits)), times)
    gains, doubt = gains_of(lattice)
    done = set(asked)
    single = {m: group[0] for m, group in enumerate(fragment.chords) if len(group) == 1}
    open_ = [m for m, note in single.items() if note not in done and doubt[m] > 1e-6]
    chosen = sorted(open_, key=lambda m: (-round(float(gains[m]), 6), m))[:count]
    return tuple(_question(lattice, m, single[m], float(gains[m])) for m in chosen)


def _question(lattice: Lattice, moment: int, note: int, gain: float) -> Question:
    strings = tuple(sorted({grip.held[0].string for grip in lattice.grips[lattice.block(moment)]}))
    choices = " or ".join(str(s) for s in strings)
    words = f"on which string is {spoken(lattice.fragment, note)}: {choices}?"
    return Question(note, strings, round(gain, 6), words)
