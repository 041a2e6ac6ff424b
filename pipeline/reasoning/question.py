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
from pipeline.reasoning.lattice import Lattice, Times, lattice_of, spoken
from pipeline.reasoning.odds import fill_steps, spread

REACH = 32
"""How many moments on each side an answer is followed."""
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
def _moves(chain, width):  # type: ignore[no-untyped-def]
    """How shares pass from each moment to the next and back: two E x W x W tables, and the shares."""
    behind, onward, whole, offsets = spread(chain, width)
    count = len(chain.first)
    ahead, back = np.zeros((count, width, width)), np.zeros((count, width, width))
    terms = np.zeros((width, width))
    for moment in range(1, count):
        fill_steps(chain, moment, terms)
        for j in range(chain.size[moment - 1]):
            for k in range(chain.size[moment]):
                before, now = offsets[moment - 1] + j, offsets[moment] + k
                ahead[moment, j, k] = np.exp(onward[now] - terms[j, k] - onward[before])
                back[moment, k, j] = np.exp(behind[before] - terms[j, k] - behind[now])
    return ahead, back, np.exp(behind + onward - whole), offsets


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
def _follow(chain, table, moment, towards, shares, reach):  # type: ignore[no-untyped-def]
    """Doubt left in the moments on one side, once the shares of a moment are known."""
    bits, now = 0.0, shares
    at, way = moment, 1 if towards else -1
    while 0 <= at + way < len(chain.first) and abs(at + way - moment) <= reach:
        index = at + 1 if towards else at
        then = np.zeros_like(now)
        for j in range(chain.size[at]):
            if now[j] > 0.0:
                then += now[j] * table[index, j]
        at += way
        now = then
        bits += _entropy(chain, at, now)
    return bits


@jit
def _gains(chain, width, reach):  # type: ignore[no-untyped-def]
    ahead, back, shares, offsets = _moves(chain, width)
    count = len(chain.first)
    doubt, gains = np.zeros(count), np.zeros(count)
    for moment in range(count):
        doubt[moment] = _entropy(chain, moment, shares[offsets[moment] : offsets[moment + 1]])
    for moment in range(count):
        if doubt[moment] <= 0.0:
            continue
        near = doubt[max(0, moment - reach) : moment + reach + 1].sum()
        left = 0.0
        for string in range(1, MOST_STRINGS):
            told = np.zeros(width)
            for j in range(chain.size[moment]):
                if chain.shape[chain.first[moment] + j, LOW] == string:
                    told[j] = shares[offsets[moment] + j]
            chance = told.sum()
            if chance > 1e-9:
                told /= chance
                after = _follow(chain, ahead, moment, True, told, reach)
                left += chance * (after + _follow(chain, back, moment, False, told, reach))
        gains[moment] = near - left
    return gains, doubt


def gains_of(lattice: Lattice) -> tuple[Reals, Reals]:
    """For every moment the bits its string would settle, and the bits of doubt about it."""
    gains, doubt = _gains(lattice.chain, lattice.width, REACH)
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
