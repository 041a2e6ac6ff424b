"""Invented lead lines with the places they were played at, to see how the readings generalise.

    python -m tests.benchmarks.leadlines [--tracks N] [--seed S] [--habits PROFILE.yaml]

A made-up player walks over a scale with a hand that stays in a position most of the time, leans to the
middle of the neck, runs along one string now and then, shifts at rests and sometimes for no reason. Rules
of common practice, no source; the lines are random and no real passage. Restless players are nearer to
recorded ones (whose plain baselines score 0.45 to 0.49 by the issue), tidy ones to method books.
"""

import argparse
import random
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note
from pipeline.reasoning.habits import Habits, read_habits
from tests.benchmarks.strings import Track, report

SCALES = (
    (0, 3, 5, 7, 10),
    (0, 2, 4, 7, 9),
    (0, 2, 4, 5, 7, 9, 11),
    (0, 2, 3, 5, 7, 9, 10),
    (0, 3, 5, 6, 7, 10),
)
Spot = tuple[int, int]


@dataclass(frozen=True)
class Player:
    """How an invented player behaves. Shares are a note."""

    middle: float = 5.5
    wander: float = 2.5
    drift: float = 0.07
    along: float = 0.1
    whim: float = 0.5
    """How far choices stray from the easiest place; in frets."""
    opens: float = 3.0
    """How many frets out of the way an open string seems."""
    centre: int = 62
    """The pitch around which lines walk, above the hand position: string 1 or 2."""


TIDY = Player(drift=0.03, along=0.05, whim=0.2)
RESTLESS = Player()


def line(player: Player, seed: int, notes: int = 64) -> Track:
    """One line."""
    rng = random.Random(seed)
    walk = _Walk(rng, player)
    spots, times, now = list[Spot](), list[float](), 0.0
    beat = rng.uniform(0.12, 0.3)
    for _ in range(notes):
        rest = rng.random() < 0.05
        now += beat * (rng.choice((4, 6)) if rest else rng.choice((1, 1, 1, 1, 2)))
        times.append(now)
        spots.append(walk.next(rest))
    written = (
        Note(Fraction(round(t * 1000), 1000), Fraction(1, 10), walk.guitar.pitch(*spot))
        for t, spot in zip(times, spots, strict=True)
    )
    fragment = Fragment(
        f"line {seed}", walk.guitar, tuple(written), (Measure(Fraction(0), Fraction(1000)),), Fraction(60)
    )
    return Track(fragment.name, fragment, tuple(times), tuple(string for string, _ in spots))


class _Walk:
    """A hand walking over a scale."""

    def __init__(self, rng: random.Random, player: Player) -> None:
        self.rng, self.player, self.guitar = rng, player, Guitar()
        tonic, scale = rng.randrange(12), rng.choice(SCALES)
        self.pitches = [p for p in range(40, 86) if (p - tonic) % 12 in scale]
        self.hand = self.place()
        self.degree = self.pitches.index(min(self.pitches, key=lambda p: abs(p - player.centre - self.hand)))
        self.spot: Spot = (3, self.hand)

    def place(self) -> int:
        """A hand position that this player likes."""
        return min(15, max(1, round(self.rng.gauss(self.player.middle, self.player.wander))))

    def next(self, rest: bool) -> Spot:
        """The next place, the hand carried along."""
        rng, player = self.rng, self.player
        if rest and rng.random() < 0.5:
            self.hand = self.place()
        elif rng.random() < player.drift:
            self.hand = min(16, max(1, self.hand + rng.choice((-5, -3, -2, 2, 3, 5))))
        self.walk()
        pitch = self.pitches[self.degree]
        places = list(self.guitar.places(pitch))
        staying = rng.random() < player.along
        self.spot = min(places, key=lambda p: self.effort(p, staying) + rng.expovariate(1 / player.whim))
        self.follow()
        return self.spot

    def walk(self) -> None:
        """Take the line a step, seldom a leap, and keep it within what the hand can reach."""
        step = self.rng.choice((-1, -1, -1, 1, 1, 1, -2, 2, 0, -3, 3, -1, 1))
        centre = self.hand + self.player.centre
        low, high = centre - 15, centre + 9
        pitch = self.pitches[max(0, min(len(self.pitches) - 1, self.degree + step))]
        if pitch < low or pitch > high or self.rng.random() < 0.03 * abs(pitch - centre) / 6:
            step = -abs(step) if pitch > centre else abs(step)
        self.degree = max(0, min(len(self.pitches) - 1, self.degree + step))

    def effort(self, place: Spot, staying: bool) -> float:
        """Frets out of the way of the hand."""
        string, fret = place
        if fret == 0:
            return self.player.opens + (0 if self.hand <= 3 else 4)
        outside = max(0, self.hand - fret, fret - self.hand - 3)
        across = abs(string - self.spot[0])
        if self.guitar.pitch(*place) == self.guitar.pitch(*self.spot) and place != self.spot:
            outside += 3
        return outside + (3.0 if staying else 0.3) * across

    def follow(self) -> None:
        """Move the hand to where it must be."""
        fret = self.spot[1]
        if fret:
            self.hand = max(1, min(max(self.hand, fret - 3), fret))


def lines(player: Player, count: int, seed: int = 1, notes: int = 64) -> list[Track]:
    """Several lines, each in a key and place of its own."""
    return [line(player, seed * 1000 + i, notes) for i in range(count)]


def main(players: Sequence[tuple[str, Player]] = (("restless", RESTLESS), ("tidy", TIDY))) -> None:
    """Print the report for each kind of player."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tracks", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--habits")
    options = parser.parse_args()
    habits = read_habits(options.habits) if options.habits else Habits()
    for name, player in players:
        print(f"invented lead lines, {name} player")
        print("\n".join(report(lines(player, options.tracks, options.seed), habits, 3)[:-4]))


if __name__ == "__main__":
    main()
