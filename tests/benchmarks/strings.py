"""How often a note is placed on the string it was played on, given pitches and onsets.

    python -m tests.benchmarks.strings [FILE.csv ...] [--habits PROFILE.yaml] [--quick]

A CSV has the columns track, onset (seconds), midi, string (1 is the highest) and fret; other columns are
left alone. Onsets within 35 ms are one chord. Beside the program's readings stand three plain baselines
and the published figures for the whole data set. The interval is a bootstrap over phrases of 16 notes.
"""

import argparse
import csv
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from statistics import fmean

from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import Note
from pipeline.reasoning.fingering import readings
from pipeline.reasoning.habits import Habits, read_habits
from pipeline.reasoning.question import questions

TOGETHER_S = 0.035
PHRASE = 16
REPEATS = 10
SHARES = (0, 5, 10, 20, 30, 50)
GIVEN = Path(__file__).resolve().parents[3] / "shared" / "data" / "strings" / "guitarset_comp.csv"
PUBLISHED = (
    "published, whole GuitarSet (comp and lead), strings given the notes:",
    "  72.79 %       TART, 2025, arXiv 2510.02597, authors' repository",
    "  75.9-76.6 %   an unreviewed dynamic-programming benchmark",
    "data: Q. Xi, R. Bittner, J. Pauwels, X. Ye, J. P. Bello, GuitarSet, ISMIR 2018 (CC BY 4.0)",
    "with so few notes a difference under about 10 points means nothing",
)
Strings = Sequence[int]
Guess = Callable[[Fragment], Strings]


@dataclass(frozen=True)
class Track:
    """One track: its notes with no place, the second of each, and the strings they were played on."""

    name: str
    fragment: Fragment
    times: tuple[float, ...]
    strings: tuple[int, ...]

    def part(self, first: int, last: int) -> "Track":
        """Notes `first` up to `last`."""
        notes = self.fragment.notes[first:last]
        fragment = self.fragment.with_notes(notes)
        return Track(self.name, fragment, self.times[first:last], self.strings[first:last])

    def phrases(self) -> list["Track"]:
        """The track in phrases of 16 notes; chords stay whole."""
        cuts, count = [0], 0
        for group in self.fragment.chords:
            count += len(group)
            if count >= PHRASE:
                cuts, count = [*cuts, group[-1] + 1], 0
        cuts = [*cuts, len(self.strings)] if cuts[-1] < len(self.strings) else cuts
        return [self.part(a, b) for a, b in pairwise(cuts)]


def read_tracks(path: Path) -> list[Track]:
    """The tracks of a file, in its order."""
    with path.open(newline="") as lines:
        rows = list(csv.DictReader(lines))
    names = dict.fromkeys(row["track"] for row in rows)
    return [_track(name, [row for row in rows if row["track"] == name]) for name in names]


def _track(name: str, rows: list[dict[str, str]]) -> Track:
    rows = sorted(rows, key=lambda row: (float(row["onset"]), int(row["midi"])))
    times, notes = list[float](), list[Note]()
    for row in rows:
        now = float(row["onset"])
        near = bool(times) and now - times[-1] < TOGETHER_S
        times.append(times[-1] if near else now)
        onset = Fraction(round(times[-1] * 10_000), 10_000)
        notes.append(Note(onset, Fraction(1, 10), int(row["midi"])))
    fragment = Fragment(name, Guitar(), tuple(notes), (Measure(Fraction(0), Fraction(10_000)),), Fraction(60))
    return Track(name, fragment, tuple(times), tuple(int(row["string"]) for row in rows))


def right(track: Track, strings: Strings) -> list[bool]:
    """For each note whether its string is the one it was played on."""
    return [a == b for a, b in zip(track.strings, strings, strict=True)]


def ambiguous(track: Track) -> list[bool]:
    """For each note whether the neck offers more than one string."""
    guitar = track.fragment.guitar
    return [len(list(guitar.places(note.pitch or 0))) > 1 for note in track.fragment.notes]


def given(track: Track, known: Iterable[int]) -> Fragment:
    """The fragment with the strings of some notes told."""
    told = set(known)
    notes = enumerate(track.fragment.notes)
    return track.fragment.with_notes(
        note.but(string=track.strings[i]) if i in told else note for i, note in notes
    )


def first_reading(track: Track, habits: Habits, known: Iterable[int] = ()) -> Strings:
    """The strings of the cheapest reading."""
    reading = readings(given(track, known), habits, track.times, k=1)[0]
    return [place.string for place in reading.places]


def asked(track: Track, habits: Habits, count: int) -> list[int]:
    """The notes the program asks about in turn, each answered before the next question."""
    known = list[int]()
    for _ in range(count):
        next_ = questions(given(track, known), habits, track.times, asked=known)
        known += [question.note for question in next_]
    return known


def slurred(track: Track) -> Fragment:
    """The fragment with slurs told: a note joined to the one before it where both were on one string,
    within 150 ms and four frets, as a player might hammer or pull it."""
    notes = list(track.fragment.notes)
    chords = track.fragment.chords
    for before, now in pairwise(chords):
        a, b = before[0], now[0]
        apart = abs((notes[a].pitch or 0) - (notes[b].pitch or 0))
        quick = track.times[b] - track.times[a] <= 0.15
        alone = len(before) == len(now) == 1 and track.strings[a] == track.strings[b]
        if alone and quick and 0 < apart <= 4:
            rising = (notes[b].pitch or 0) > (notes[a].pitch or 0)
            notes[b] = notes[b].but(attack="hammer" if rising else "pull")
    return track.fragment.with_notes(notes)


def lowest_fret(fragment: Fragment) -> Strings:
    """Baseline: every note at its lowest fret."""
    return [min(_places(fragment, i), key=lambda p: p[1])[0] for i in range(len(fragment.notes))]


def nearest(fragment: Fragment) -> Strings:
    """Baseline: every note nearest to the fret before it, the first at its lowest."""
    at, strings = 0, list[int]()
    for i in range(len(fragment.notes)):
        string, at = min(_places(fragment, i), key=lambda p: abs(p[1] - at) if i else p[1])
        strings.append(string)
    return strings


def shortest(fragment: Fragment) -> Strings:
    """Baseline: the path with the least distance in frets and strings."""
    costs: dict[tuple[int, int], tuple[float, tuple[int, ...]]] = {}
    for i in range(len(fragment.notes)):
        options = {}
        for place in _places(fragment, i):
            ways = [
                (cost + abs(place[1] - p[1]) + abs(place[0] - p[0]), path)
                for p, (cost, path) in costs.items()
            ]
            cost, path = min(ways) if ways else (0.0, ())
            options[place] = (cost, (*path, place[0]))
        costs = options
    return min(costs.values())[1] if costs else ()


def _places(fragment: Fragment, index: int) -> list[tuple[int, int]]:
    return list(fragment.guitar.places(fragment.notes[index].pitch or 0))


def interval(flags: Sequence[Sequence[bool]], draws: int = 2000) -> tuple[float, float]:
    """A 95 % bootstrap interval over phrases."""
    rng, means = random.Random(1), []
    for _ in range(draws):
        chosen = [flag for _ in flags for flag in rng.choice(flags)]
        means.append(fmean(chosen))
    means.sort()
    return means[round(draws * 0.025)], means[round(draws * 0.975) - 1]


def _phrased(tracks: Sequence[Track], answers: Sequence[Sequence[bool]]) -> list[list[bool]]:
    pieces = list[list[bool]]()
    for track, flags in zip(tracks, answers, strict=True):
        at = 0
        for phrase in track.phrases():
            pieces.append(list(flags[at : at + len(phrase.strings)]))
            at += len(phrase.strings)
    return pieces


def _row(name: str, tracks: Sequence[Track], answers: Sequence[Sequence[bool]]) -> str:
    every = [flag for flags in answers for flag in flags]
    open_ = [
        f
        for t, flags in zip(tracks, answers, strict=True)
        for f, a in zip(flags, ambiguous(t), strict=True)
        if a
    ]
    low, high = interval(_phrased(tracks, answers))
    each = "  ".join(f"{fmean(flags):.3f}" for flags in answers[:6])
    return (
        f"{name:24s} {fmean(every):.3f}  [{low:.3f}, {high:.3f}]  ambiguous {fmean(open_):.3f}  tracks {each}"
    )


def unaided(tracks: Sequence[Track], habits: Habits) -> list[str]:
    """The table without any help, baselines beside it."""
    baselines: dict[str, Guess] = {"lowest fret": lowest_fret, "nearest": nearest, "shortest path": shortest}
    rows = [_row(n, tracks, [right(t, guess(t.fragment)) for t in tracks]) for n, guess in baselines.items()]
    ours = _row("first reading", tracks, [right(t, first_reading(t, habits)) for t in tracks])
    return [*rows, ours]


def helped(tracks: Sequence[Track], habits: Habits, repeats: int) -> list[str]:
    """The curve over the share of strings known, ten seeded repeats, told notes counted; then anchors."""
    rows = []
    for share in SHARES:
        scores = [_told(tracks, habits, share, seed) for seed in range(repeats if share else 1)]
        rows.append(f"{share:3d} % of strings known      {_both(scores)}  (least {min(scores)[0]:.3f})")
    for every in (PHRASE, PHRASE // 2):
        known = [range(0, len(t.strings), every) for t in tracks]
        rows.append(f"an anchor every {every:2d} notes   {_both([_scored(tracks, habits, known)])}")
    chosen = [asked(t, habits, len(range(0, len(t.strings), PHRASE // 2))) for t in tracks]
    rows.append(f"as many, asked for by us   {_both([_scored(tracks, habits, chosen)])}")
    flags = [f for t in tracks for f in right(t, _strings(slurred(t), t, habits))]
    told = sum(note.attack != "pick" for t in tracks for note in slurred(t).notes)
    rows.append(f"slurs known ({told:3d} told)     {fmean(flags):.3f}")
    return rows


def _both(scores: Sequence[tuple[float, float]]) -> str:
    return f"{fmean(s[0] for s in scores):.3f}  (of notes not told {fmean(s[1] for s in scores):.3f})"


def _strings(fragment: Fragment, track: Track, habits: Habits) -> Strings:
    return [place.string for place in readings(fragment, habits, track.times, k=1)[0].places]


def _told(tracks: Sequence[Track], habits: Habits, share: int, seed: int) -> tuple[float, float]:
    rng = random.Random(seed)
    known = [rng.sample(range(len(t.strings)), round(len(t.strings) * share / 100)) for t in tracks]
    return _scored(tracks, habits, known)


def _scored(tracks: Sequence[Track], habits: Habits, known: Sequence[Iterable[int]]) -> tuple[float, float]:
    """Share right of all notes, and of those whose string was not told."""
    flags, open_ = list[bool](), list[bool]()
    for track, told in zip(tracks, known, strict=True):
        these = right(track, first_reading(track, habits, told))
        flags += these
        open_ += [flag for i, flag in enumerate(these) if i not in set(told)]
    return fmean(flags), fmean(open_) if open_ else 1.0


def best_of(tracks: Sequence[Track], habits: Habits, k: int = 3) -> str:
    """The best of the first readings of each phrase of 16 notes, judged alone."""
    firsts, bests, count = 0, 0, 0
    for phrase in (p for track in tracks for p in track.phrases()):
        found = readings(phrase.fragment, habits, phrase.times, k=k)
        scores = [sum(right(phrase, [p.string for p in reading.places])) for reading in found]
        firsts, bests, count = firsts + scores[0], bests + max(scores), count + len(phrase.strings)
    return f"phrases alone: first reading {firsts / count:.3f}, best of {k} {bests / count:.3f}"


def report(tracks: Sequence[Track], habits: Habits, repeats: int = REPEATS) -> list[str]:
    """Every figure, as lines of text."""
    notes = sum(len(t.strings) for t in tracks)
    head = f"{notes} notes, {len(tracks)} tracks; share of notes on the string they were played on"
    return [
        head,
        *unaided(tracks, habits),
        *helped(tracks, habits, repeats),
        best_of(tracks, habits),
        *PUBLISHED,
    ]


def main() -> None:
    """Print the report of every file."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="*", type=Path, default=[GIVEN])
    parser.add_argument("--habits", help="a habits profile")
    parser.add_argument("--quick", action="store_true", help="two repeats instead of ten")
    options = parser.parse_args()
    habits = read_habits(options.habits) if options.habits else Habits()
    for path in options.files:
        print(path.name)
        print("\n".join(report(read_tracks(path), habits, 2 if options.quick else REPEATS)))


if __name__ == "__main__":
    main()
